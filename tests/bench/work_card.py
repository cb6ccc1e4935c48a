"""How fast a work card is, and that its schedules are the shortest: a plain script, never a timed test.

`python tests/bench/work_card.py`. Compared in the same run with SciPy's `milp` on the same random problems.
"""

from __future__ import annotations

import random
import sys
from functools import partial
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import TYPE_CHECKING, TypeVar

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))


from studbook.wire.work import WorkRequest
from studbook_service.work.card import work_card
from studbook_service.work.schedule import shortest
from work.scheduling import by_integer_program, faults, random_problem
from work.sheets import demo_sheets

if TYPE_CHECKING:
    from collections.abc import Callable

T = TypeVar("T")
Row = tuple[str, str, str, str]
PROBLEMS, TASKS = 60, 14


def rows() -> list[Row]:
    """Measure."""
    return [_against_milp(crew) for crew in (2, 3, 4)] + [_cards(crew) for crew in (2, 4)]


def _against_milp(crew: int) -> Row:
    shake = random.Random(crew)  # noqa: S311 - the same problems every time
    ours, theirs, proven = [], [], 0
    for _ in range(PROBLEMS):
        problem = random_problem(shake, count=TASKS, crew=crew, longest=5)
        found, taken = _timed(partial(shortest, problem))
        ours.append(taken)
        end, taken = _timed(partial(by_integer_program, problem, horizon=found.end))
        theirs.append(taken)
        proven += found.optimal
        if list(faults(problem, found)) or (found.optimal and end != found.end):
            raise AssertionError(f"{found.end} against {end}: {problem}")
    what = f"schedule of {TASKS} tasks, crew of {crew}, {proven} of {PROBLEMS} proven; milp agrees on every end"
    ratio = f"{sum(theirs) / sum(ours):.0f} times as fast, in all"
    return what, f"{median(ours) * 1e3:.1f} ms", f"{median(theirs) * 1e3:.0f} ms (milp)", ratio


def _cards(crew: int) -> Row:
    pairs = [
        (one, other) for sheets in demo_sheets().values() for one in sheets for other in sheets if one is not other
    ]
    requests = [WorkRequest(crew=crew, minutes=minutes) for minutes in (25, 60)] + [WorkRequest(crew=crew)]
    times, proven = [], 0
    for pair in pairs:
        for wanted in requests:
            card, taken = _timed(partial(work_card, *pair, request=wanted))
            times.append(taken)
            proven += card.optimal
    what = f"card between any two of the demo's sheets, crew of {crew}, {proven} of {len(times)} proven"
    return what, f"{median(times) * 1e3:.1f} ms", f"{max(times) * 1e3:.0f} ms (the slowest)", "-"


def _timed(work: Callable[[], T]) -> tuple[T, float]:
    start = perf_counter()
    found = work()
    return found, perf_counter() - start


if __name__ == "__main__":
    for row in rows():
        print(" | ".join(row))
