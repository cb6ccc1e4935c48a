"""How fast beam axles and attitudes are solved: a plain script, never a timed test.

`python tests/bench/rear_axle.py`. The bare limit is SciPy's general solver on the same rods in the same run.
"""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))


from golden.front_corners import corner
from golden.independent_axles import AxleDistances, CornerOnGround, GroundUnder
from golden.independent_solvers import random_points
from golden.rear_axles import rear_axle, survey
from studbook_service.engine.attitude import car_stance
from studbook_service.engine.axle_pose import solve_axle
from studbook_service.engine.corner import corner_from_survey

if TYPE_CHECKING:
    from collections.abc import Callable

Row = tuple[str, str, str, str]
PLACES = 200_000
THEIRS = 120


def best(work: Callable[[], object], times: int = 3) -> float:
    """Shortest wall time of some runs, s."""
    taken = []
    for _ in range(times):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return min(taken)


def axles() -> list[Row]:
    """Places of one axle a second, of both kinds, against SciPy warm-started from place to place."""
    found = []
    turns = np.linspace(0, 2 * np.pi, THEIRS)
    for name in ("dirt", "asphalt"):

        def theirs(name: str = name) -> None:
            other = AxleDistances(survey(name))
            for turn in turns:
                other.solve(2 * float(np.sin(turn)), np.radians(4) * float(np.sin(2 * turn)))

        limit = THEIRS / best(theirs)
        rng = np.random.default_rng(4)
        bumps, rolls, axle = rng.uniform(-3, 3, PLACES), rng.uniform(-5, 5, PLACES), rear_axle(name)
        ours = PLACES / best(partial(solve_axle, axle, bump_in=bumps, roll_deg=rolls))
        found.append(row(f"rear axle solves, {name} car", ours, limit))
    return found


def attitudes() -> list[Row]:
    """Whole cars on the ground a second, and one alone."""
    rng = np.random.default_rng(5)
    surveys = [random_points(rng, side) for side in (1, -1)]
    turns = np.linspace(0, 2 * np.pi, THEIRS)

    def theirs() -> None:
        fronts, other = [CornerOnGround(each) for each in surveys], AxleDistances(survey("dirt"))
        for turn in turns:
            under = GroundUnder(-0.5 + float(np.sin(turn)), 2 + 2 * float(np.sin(2 * turn)), 0.5)
            for front, each in zip(fronts, surveys, strict=True):
                front.on_ground(under, np.zeros(3), each["loaded_radius_in"])
            other.on_ground(under)

    limit = THEIRS / best(theirs)
    left, right = (corner_from_survey(**each) for each in surveys)
    heaves, rolls, pitches = rng.uniform(-1.5, 0.5, PLACES), rng.uniform(0, 4, PLACES), rng.uniform(-1, 1, PLACES)

    def ours() -> None:
        car_stance(left=left, right=right, axle=rear_axle("dirt"), heave_in=heaves, roll_deg=rolls, pitch_deg=pitches)

    def one() -> None:
        car_stance(
            left=corner("dirt lf"),
            right=corner("dirt rf"),
            axle=rear_axle("dirt"),
            heave_in=-0.5,
            roll_deg=2.0,
            pitch_deg=0.3,
        )

    return [
        row("attitudes, four wheels and both roll centers", PLACES / best(ours), limit),
        row("attitudes, one at a time", 1 / best(one, 30), limit),
    ]


def row(what: str, ours: float, limit: float) -> Row:
    """A row of the report from two rates."""
    return what, f"{ours:,.0f}/s", f"SciPy {limit:,.0f}/s", f"{ours / limit:,.0f}×"


def rows() -> list[Row]:
    """What, ours, the bare limit, and the ratio."""
    return [*axles(), *attitudes()]


def main() -> None:
    """Prints the rows."""
    for what, ours, limit, ratio in rows():
        print(f"{what:52} {ours:>16} {limit:>16} {ratio:>10}")


if __name__ == "__main__":
    main()
