"""The shortest schedule of a crew's tasks, found exactly by branch and bound, or the best one found and a bound."""

import math
import random
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from studbook_service.work.bounds import SchedulingProblem, lower_bound, members

SEARCH_STEPS: Final = 4_000
"""Steps that a search may take: what it finds must not depend on how fast a machine is."""

QUICK_SCHEDULES: Final = 30
"""Quick schedules of each kind made before a search."""


class Schedule(NamedTuple):
    """When each task begins.

    Attributes:
        begin: of each task, in steps of time from 0.
        end: when the last is done.
        bound: no schedule ends before this.
        search_steps: steps the search took.
    """

    begin: tuple[int, ...]
    end: int
    bound: int
    search_steps: int

    @property
    def optimal(self) -> bool:
        """Say whether it was proven that no schedule is shorter."""
        return self.bound >= self.end


def shortest(problem: SchedulingProblem, *, search_steps: int = SEARCH_STEPS, within: int | None = None) -> Schedule:
    """Find the schedule that ends first.

    A task that has the car to itself and stands in order with every other parts the schedule in two, each found by
    itself. In such a part tasks are placed one after the other in the order in which they begin, each as early as it
    can be; a partial schedule is left when a bound shows that it cannot lead to a shorter one, when a task left out
    could be done before the next begins, or when the same tasks were placed before with all of them done as early.

    Args:
        problem: the tasks.
        search_steps: steps that the search may take before it gives the best it has.
        within: stop as soon as this is met, or is shown to be out of reach.

    Returns:
        The schedule. Without an end of the steps, and without `within`, it is the shortest.

    Example:
        >>> tasks = SchedulingProblem(duration=(3, 2, 2), people=(1, 1, 1), crew=2, before=(0, 0, 0), apart=(0, 0, 0))
        >>> shortest(tasks).end
        4
    """
    searches = [_Search(problem, part) for part in problem.in_turn]
    steps = 0
    for search in searches:
        others = sum(other.time_known() for other in searches if other is not search)
        limit = None if within is None else within - others
        search.run(search_steps - steps, limit, stop_there=search is searches[-1])
        steps += search.search_steps
    begin, now = [0] * len(problem.duration), 0
    for search in searches:
        for task, at in zip(search.tasks, search.begin, strict=True):
            begin[task] = now + at * search.unit
        now += search.end * search.unit
    bound = sum(search.bound * search.unit for search in searches)
    return Schedule(tuple(begin), now, bound, steps)


def earliest(problem: SchedulingProblem, task: int, *, ends: Sequence[int], done: int, now: int) -> int:
    """Find when a task can begin, given others that all began at `now` or before.

    Example:
        >>> problem = SchedulingProblem(duration=(3, 2), people=(1, 1), crew=1, before=(0, 0), apart=(0, 0))
        >>> earliest(problem, 1, ends=(3, 0), done=0b01, now=0)
        3
    """
    begin = now
    for other in members(done & (problem.before[task] | problem.apart[task])):
        begin = max(begin, ends[other])
    running = sorted((ends[other], problem.people[other]) for other in members(done) if ends[other] > begin)
    busy = sum(people for _, people in running)
    for end, people in running:
        if busy + problem.people[task] <= problem.crew:
            break
        begin = end
        busy -= people
    return begin


class _Search:
    """One search among some of a problem's tasks: the best schedule so far, and the states seen.

    Attributes:
        tasks: their numbers in the whole problem.
        unit: steps of time that all their durations are multiples of: every end is one too, so bounds are rounded up.
        least: no schedule ends before this, from the beginning.
        bound: the same, as the search has raised it.
    """

    def __init__(self, whole: SchedulingProblem, tasks: int) -> None:
        self.tasks = members(tasks)
        self.unit = math.gcd(*(whole.duration[task] for task in self.tasks))
        self.problem = problem = whole.only(tasks, unit=self.unit)
        count = len(self.tasks)
        self.all = (1 << count) - 1
        self.least = self.bound = lower_bound(problem, ends=[0] * count, done=0, now=0)
        self.begins, self.ends = [0] * count, [0] * count
        self.begin, self.end = self._placed(problem.tail)
        self.search_steps = self.steps_most = self.useless = self.enough = 0
        self.finished = False
        self.seen: dict[int, list[tuple[int, ...]]] = {}

    def time_known(self) -> int:
        """Give what this part takes as far as is known, in steps of the whole problem."""
        return (self.end if self.finished else self.least) * self.unit

    def run(self, search_steps: int, limit: int | None, *, stop_there: bool) -> None:
        """Look for a shorter schedule than the first.

        Args:
            search_steps: steps to take at most.
            limit: a longer schedule is of no use, in steps of the whole problem.
            stop_there: a schedule within the limit is good enough.
        """
        self.finished, self.steps_most = True, search_steps
        most = self.end if limit is None else limit // self.unit
        self.enough = max(self.least, most) if limit is not None and stop_there else self.least
        self.useless = self.end if limit is None else min(self.end, most + 1)
        if self.least >= self.useless:
            return
        for urgency in _urgencies(self.problem):
            if self.end <= self.enough:
                return
            self._keep(*self._placed(urgency))
        self.bound = max(self.least, min(self._go_on(0, 0), self.end))

    def _keep(self, begin: tuple[int, ...], end: int) -> None:
        if end < self.end:
            self.begin, self.end = begin, end
            self.useless = min(self.useless, end)

    def _placed(self, urgency: Sequence[float]) -> tuple[tuple[int, ...], int]:
        """Place always the most urgent task of those that can begin first."""
        count = len(self.problem.duration)
        ends, begins, done, now = [0] * count, [0] * count, 0, 0
        while done != self.all:
            choices = self._choices(ends, done, now)
            now, task = min(choices, key=lambda choice: (choice[0], -urgency[choice[1]], choice[1]))
            begins[task], ends[task] = now, now + self.problem.duration[task]
            done |= 1 << task
        return tuple(begins), max(ends)

    def _choices(self, ends: Sequence[int], done: int, now: int) -> list[tuple[int, int]]:
        """List when which tasks may begin next."""
        problem, waiting = self.problem, self.problem.first & ~done
        return [
            (earliest(problem, task, ends=ends, done=done, now=now), task)
            for task in members((waiting or self.all) & ~done)
            if not problem.before[task] & ~done
        ]

    def _go_on(self, done: int, now: int) -> int:
        """Look at all that may follow a partial schedule.

        Returns:
            What none of the schedules that were not looked at can end before.
        """
        if done == self.all:
            self._keep(tuple(self.begins), max(self.ends))
            return self.end
        problem, unseen = self.problem, self.end
        choices = self._choices(self.ends, done, now)
        soonest = min(begin + problem.duration[task] for begin, task in choices)
        for begin, task in sorted(choices, key=lambda choice: (choice[0], -problem.tail[choice[1]])):
            if self.end <= self.enough:
                break
            if begin >= soonest:
                continue
            self.begins[task], self.ends[task] = begin, begin + problem.duration[task]
            after = done | 1 << task
            bound = lower_bound(problem, ends=self.ends, done=after, now=begin)
            if bound >= self.useless or self.search_steps >= self.steps_most:
                unseen = min(unseen, bound)
            elif not self._beaten(after, begin):
                self.search_steps += 1
                unseen = min(unseen, self._go_on(after, begin))
        return unseen

    def _beaten(self, done: int, now: int) -> bool:
        """Say whether the same tasks were placed before, all of them done as early; remember this place if not."""
        state = (now, *(max(self.ends[task], now) for task in members(done)))
        known = self.seen.setdefault(done, [])
        if any(all(theirs <= ours for theirs, ours in zip(other, state, strict=True)) for other in known):
            return True
        known.append(state)
        return False


def _urgencies(problem: SchedulingProblem) -> Iterator[Sequence[float]]:
    """Rate tasks by what follows them, or by what they keep waiting; as they are, then with random changes."""
    waiting = [sum(problem.duration[other] for other in members(others)) for others in problem.never_together]
    random_ = random.Random(1)  # noqa: S311 - nothing secret: it gives the same numbers every time
    yield waiting
    for _ in range(QUICK_SCHEDULES):
        for urgency in (problem.tail, waiting):
            yield [each * (0.5 + random_.random()) for each in urgency]
