"""Random scheduling problems, and two other ways to solve them: every order in turn, and SciPy's `milp`.

The integer program is the time-indexed one: a binary for each task and time at which it may begin (A. A. B. Pritsker,
L. J. Watters, P. M. Wolfe, "Multiproject scheduling with limited resources: a zero-one programming approach",
Management Science 16(1), 1969; from memory), with the pairs kept apart as a row for each pair and time.
"""

import itertools
import random
from collections.abc import Iterator

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from studbook_service.work.bounds import SchedulingProblem, members
from studbook_service.work.schedule import Schedule


def random_problem(draw: random.Random, *, count: int, crew: int, longest: int = 9) -> SchedulingProblem:
    """Draw tasks: a fifth of the pairs in order, a quarter of the rest kept apart, some first, one alone in between."""
    before, apart = [0] * count, [0] * count
    alone = draw.randrange(count) if draw.random() < 0.3 else -1
    for task, other in itertools.combinations(range(count), 2):
        if alone in {task, other} or draw.random() < 0.2:
            before[other] |= 1 << task
        elif draw.random() < 0.25:
            apart[task] |= 1 << other
            apart[other] |= 1 << task
    some_first = draw.random() < 0.3
    return SchedulingProblem(
        duration=[draw.randint(1, longest) for _ in range(count)],
        people=[draw.randint(1, min(2, crew)) for _ in range(count)],
        crew=crew,
        before=before,
        apart=apart,
        first=sum(1 << task for task in range(count) if some_first and not before[task] and draw.random() < 0.3),
    )


def faults(problem: SchedulingProblem, schedule: Schedule) -> Iterator[str]:
    """Say what is wrong with a schedule: by its definition, task by task and time by time."""
    spans = [(begin, begin + length) for begin, length in zip(schedule.begin, problem.duration, strict=True)]
    for task, (begin, end) in enumerate(spans):
        if begin < 0:
            yield f"{task} begins at {begin}"
        yield from (f"{task} begins before {o} ends" for o in members(problem.before[task]) if spans[o][1] > begin)
        for other in members(problem.apart[task]):
            if spans[other][0] < end and begin < spans[other][1]:
                yield f"{task} overlaps {other}"
        if not problem.first >> task & 1:
            yield from (f"{task} begins before {first}" for first in members(problem.first) if spans[first][0] > begin)
        busy = sum(people for (b, e), people in zip(spans, problem.people, strict=True) if b <= begin < e)
        if busy > problem.crew:
            yield f"{busy} people at {begin}"
    if schedule.end != max((end for _, end in spans), default=0):
        yield f"ends at {schedule.end}"


def by_every_order(problem: SchedulingProblem) -> int:
    """Try every order, each task at the first time that it can be done: one of them is an optimum."""
    return min(end for order in itertools.permutations(range(len(problem.duration))) if (end := _put(problem, order)))


def _put(problem: SchedulingProblem, order: tuple[int, ...]) -> int | None:
    spans: dict[int, tuple[int, int]] = {}
    for task in order:
        waits_for = members(problem.before[task])
        firsts = () if problem.first >> task & 1 else members(problem.first)
        if any(other not in spans for other in (*waits_for, *firsts)):
            return None
        least = max([0, *(spans[other][1] for other in waits_for), *(spans[first][0] for first in firsts)])
        begins = sorted({least, *(end for _, end in spans.values() if end > least)})
        begin = next(at for at in begins if _free(problem, task, at, spans))
        spans[task] = begin, begin + problem.duration[task]
    return max(end for _, end in spans.values())


def _free(problem: SchedulingProblem, task: int, begin: int, spans: dict[int, tuple[int, int]]) -> bool:
    end = begin + problem.duration[task]
    beside = {other: span for other, span in spans.items() if span[0] < end and begin < span[1]}
    if any(problem.apart[task] >> other & 1 for other in beside):
        return False
    times = {begin, *(span[0] for span in beside.values() if span[0] > begin)}
    busy = (sum(problem.people[other] for other, (b, e) in beside.items() if b <= at < e) for at in times)
    return max(busy) + problem.people[task] <= problem.crew


def by_integer_program(problem: SchedulingProblem, *, horizon: int) -> int | None:
    """Solve as an integer program: the least end at or before the horizon, or None where there is none."""
    if max(problem.duration) > horizon:
        return None
    program = _Program(problem, horizon)
    cells = [
        (row, column, value) for row, (of_row, _, _) in enumerate(program.rows) for column, value in of_row.items()
    ]
    rows, columns, values = zip(*cells, strict=True)
    count = program.count + 1
    matrix = csr_matrix((values, (rows, columns)), shape=(len(program.rows), count))
    cost, most = np.zeros(count), np.ones(count)
    cost[-1], most[-1] = 1, horizon
    found = milp(
        cost,
        constraints=LinearConstraint(matrix, [row[1] for row in program.rows], [row[2] for row in program.rows]),
        integrality=np.ones(count),
        bounds=Bounds(np.zeros(count), most),
    )
    return None if found.x is None else round(found.fun)


class _Program:
    """The rows of the integer program: cells by column, least, greatest. The last column is the end of everything."""

    def __init__(self, problem: SchedulingProblem, horizon: int) -> None:
        self.problem = problem
        numbers = itertools.count()
        self.at = [{at: next(numbers) for at in range(horizon - length + 1)} for length in problem.duration]
        self.count = next(numbers)
        self.rows: list[tuple[dict[int, float], float, float]] = []
        for task in range(len(self.at)):
            self._once_and_in_order(task)
        for time in range(horizon):
            self._at_one_time(time)

    def _once_and_in_order(self, task: int) -> None:
        problem, begin = self.problem, self._begin(task)
        self.rows.append((dict.fromkeys(self.at[task].values(), 1.0), 1, 1))
        self.rows.append(({self.count: 1.0} | self._begin(task, -1), problem.duration[task], np.inf))
        firsts = () if problem.first >> task & 1 else members(problem.first)
        later_than = [*((other, problem.duration[other]) for other in members(problem.before[task]))]
        later_than += [(first, 0) for first in firsts]
        self.rows += [(begin | self._begin(other, -1), by, np.inf) for other, by in later_than]

    def _at_one_time(self, time: int) -> None:
        problem = self.problem
        running = [
            [column for at, column in begins.items() if at <= time < at + length]
            for begins, length in zip(self.at, problem.duration, strict=True)
        ]
        people = {column: float(count) for count, of in zip(problem.people, running, strict=True) for column in of}
        self.rows.append((people, 0, problem.crew))
        for task, others in enumerate(problem.apart):
            for other in members(others >> task << task):
                self.rows.append((dict.fromkeys([*running[task], *running[other]], 1.0), 0, 1))

    def _begin(self, task: int, sign: float = 1) -> dict[int, float]:
        return {column: sign * at for at, column in self.at[task].items()}
