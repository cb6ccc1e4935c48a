"""What no schedule can beat: the longest chain, the crew's work, and tasks of which no two go together."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, reduce
from operator import or_
from typing import Final

CLIQUES_MOST: Final = 24
"""More sets of tasks of which no two go together are not used; each costs time at every step of a search."""


@dataclass(frozen=True, kw_only=True)
class SchedulingProblem:
    """Tasks that a crew has to do. A set of tasks is a whole number: task `i` is its bit `1 << i`.

    Attributes:
        duration: of each task, in whole steps of time, at least 1.
        people: that each takes, at least 1 and at most `crew`.
        crew: people there are.
        before: for each task the set of those that must be done before it begins, all of lower number.
        apart: for each task the set of those that it may not overlap.
        first: the set of tasks before which no other begins (others may go on beside them).

    Raises:
        ValueError: a task waits for one of a higher number, or takes more people than there are.

    Example:
        >>> SchedulingProblem(duration=(3, 2), people=(1, 1), crew=2, before=(0, 0b01), apart=(0, 0)).tail
        (5, 2)
    """

    duration: Sequence[int]
    people: Sequence[int]
    crew: int
    before: Sequence[int]
    apart: Sequence[int]
    first: int = 0

    def __post_init__(self) -> None:
        for task, wanted in enumerate(self.before):
            if wanted >> task:
                raise ValueError(f"task {task} waits for one that does not come before it")
            if self.people[task] > self.crew:
                raise ValueError(f"task {task} takes {self.people[task]} people of {self.crew}")

    @cached_property
    def in_turn(self) -> tuple[int, ...]:
        """Sets of tasks of which one is wholly done before the next begins.

        A task that nothing can go beside, and before or after which every other must be done, is such a set by itself.
        """
        everything = (1 << len(self.duration)) - 1
        found, left = [], everything
        for task, earlier in enumerate(self.all_before):
            later = _union(1 << other for other, theirs in enumerate(self.all_before) if theirs >> task & 1)
            if earlier | later | 1 << task == everything and not everything & ~(self.never_together[task] | 1 << task):
                found += [earlier & left, 1 << task]
                left = later
        return tuple(part for part in (*found, left) if part)

    def only(self, tasks: int, *, unit: int = 1) -> "SchedulingProblem":
        """Give the same with some of the tasks, in the same order, and time in so many steps of its own."""
        kept = members(tasks)

        def within(wanted: int) -> int:
            return _union(1 << place for place, task in enumerate(kept) if wanted >> task & 1)

        return SchedulingProblem(
            duration=[self.duration[task] // unit for task in kept],
            people=[self.people[task] for task in kept],
            crew=self.crew,
            before=[within(self.before[task]) for task in kept],
            apart=[within(self.apart[task]) for task in kept],
            first=within(self.first),
        )

    @cached_property
    def waits_for(self) -> tuple[tuple[int, ...], ...]:
        """For each task those it waits for, without those that they wait for themselves."""
        return tuple(
            members(wanted & ~_union(self.all_before[earlier] for earlier in members(wanted))) for wanted in self.before
        )

    @cached_property
    def all_before(self) -> tuple[int, ...]:
        """For each task the set of those it waits for, and that they wait for, and so on."""
        found: list[int] = []
        for wanted in self.before:
            found.append(wanted | _union(found[earlier] for earlier in members(wanted)))
        return tuple(found)

    @cached_property
    def tail(self) -> tuple[int, ...]:
        """For each task the least time from its beginning to the end of everything."""
        tail = list(self.duration)
        for task in reversed(range(len(tail))):
            for earlier in self.waits_for[task]:
                tail[earlier] = max(tail[earlier], self.duration[earlier] + tail[task])
        return tuple(tail)

    @cached_property
    def never_together(self) -> tuple[int, ...]:
        """For each task the set of those that cannot overlap it for whatever reason: order, place, or people."""
        count = len(self.duration)
        found = [
            self.all_before[task]
            | self.apart[task]
            | _union(1 << other for other in range(count) if self.people[task] + self.people[other] > self.crew)
            for task in range(count)
        ]
        return tuple(
            (mine | _union(1 << other for other in range(count) if found[other] >> task & 1)) & ~(1 << task)
            for task, mine in enumerate(found)
        )

    @cached_property
    def cliques(self) -> tuple[int, ...]:
        """Sets of tasks of which no two can overlap, those that take longest first."""
        found = {self._clique(task) for task in range(len(self.duration))}
        longest = sorted(found, key=lambda clique: (-sum(self.duration[task] for task in members(clique)), clique))
        return tuple(longest[:CLIQUES_MOST])

    @cached_property
    def work(self) -> tuple[int, ...]:
        """People times time of each task; a task that nothing can go beside takes the whole crew."""
        everything = (1 << len(self.duration)) - 1
        return tuple(
            length * (self.crew if self.never_together[task] | 1 << task == everything else self.people[task])
            for task, length in enumerate(self.duration)
        )

    def _clique(self, task: int) -> int:
        """Grow a set from one task, the longest that still fits first."""
        found, possible = 1 << task, self.never_together[task]
        while possible:
            longest = max(members(possible), key=lambda each: (self.duration[each], -each))
            found |= 1 << longest
            possible &= self.never_together[longest]
        return found


@lru_cache(maxsize=1 << 16)  # a search needs the same sets over and over
def members(tasks: int) -> tuple[int, ...]:
    """List the tasks of a set.

    Example:
        >>> members(0b1010)
        (1, 3)
    """
    return tuple(task for task in range(tasks.bit_length()) if tasks >> task & 1)


def lower_bound(problem: SchedulingProblem, *, ends: Sequence[int], done: int, now: int) -> int:
    """Give a time before which no completion of a partial schedule ends.

    Args:
        problem: the tasks.
        ends: when each task that was placed ends; of the others nothing is read.
        done: the set of tasks that were placed.
        now: nothing more begins before this.

    Returns:
        The greatest of three bounds: chains of tasks; people times time over the crew; sets of which no two overlap.

    Example:
        >>> tasks = SchedulingProblem(duration=(3, 2), people=(1, 1), crew=1, before=(0, 0), apart=(0, 0))
        >>> lower_bound(tasks, ends=(0, 0), done=0, now=0)
        5
    """
    duration, tail, waits_for = problem.duration, problem.tail, problem.waits_for
    placed, left = members(done), members(~done & (1 << len(duration)) - 1)
    bound = max([ends[task] for task in placed], default=now)
    work = sum([problem.people[task] * (ends[task] - now) for task in placed if ends[task] > now])
    until, begin = list(ends), [now] * len(duration)
    for task in left:
        for earlier in waits_for[task]:
            begin[task] = max(begin[task], until[earlier])
        until[task] = begin[task] + duration[task]
        bound = max(bound, begin[task] + tail[task])
        work += problem.work[task]
    bound = max(bound, now - (-work // problem.crew))
    for clique in problem.cliques:
        tasks = members(clique & ~done)
        if tasks:
            at = max([min([begin[task] for task in tasks]), *[ends[task] for task in members(clique & done)]])
            after = min([tail[task] - duration[task] for task in tasks])
            bound = max(bound, at + sum([duration[task] for task in tasks]) + after)
    return bound


def _union(sets: Iterable[int]) -> int:
    return reduce(or_, sets, 0)
