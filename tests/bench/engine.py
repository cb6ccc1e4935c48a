"""How fast the engine is: a plain script, never a timed test.

`python tests/bench/engine.py`. The bare limit of a corner solve is SciPy's general solver on the same distances in the
same run.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from golden.agreement import worst
from golden.front_corners import corner
from golden.independent_solvers import Distances, Joints, random_points
from studbook_service.engine.centers import force_roll_center, instant_center, roll_center
from studbook_service.engine.changes import Moves, apply, shims
from studbook_service.engine.corner import FrontLinkage, corner_from_survey, stack
from studbook_service.engine.linkage import solve_spring_length, solve_travel
from studbook_service.engine.restore import FREE, Restored, Targets, restore
from studbook_service.engine.spread import lean_spread, survey_spread
from studbook_service.engine.wheel import WheelAlignment, motion, wheel

if TYPE_CHECKING:
    from collections.abc import Callable

Row = tuple[str, str, str, str]
TRAVELS = np.linspace(-3.0, 4.0, 29)
SURVEYED = 12  # where the travels pass 0


def best(work: Callable[[], object], times: int) -> float:
    """Shortest wall time of some runs, s."""
    taken = []
    for _ in range(times):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return min(taken)


def scipy_solves_per_second() -> float:
    """Corner solves a second by SciPy's Levenberg-Marquardt, warm-started from travel to travel."""
    survey = random_points(np.random.default_rng(1), side=-1)
    travels = np.tile(np.concatenate([np.linspace(0, 4, 29), np.linspace(4, -3, 29), np.linspace(-3, 0, 29)]), 4)

    def run() -> None:
        other = Distances(survey)
        for travel in travels:
            other.solve(float(travel), 0.0)

    return len(travels) / best(run, 3)


def solves() -> list[Row]:
    """One design over many travels, and many designs over some travels, against SciPy."""
    limit = scipy_solves_per_second()
    rng = np.random.default_rng(2)
    one = corner_from_survey(**random_points(rng, side=-1))
    travels = rng.uniform(-3, 4, 1_000_000)
    single = len(travels) / best(lambda: solve_travel(one, travel_in=travels), 3)
    many = designs(50_000).expand(1)
    batch = 350_000 / best(lambda: solve_travel(replace(many), travel_in=np.linspace(-3, 4, 7)), 3)
    return [
        ("corner solves, one design", f"{single:,.0f}/s", f"SciPy {limit:,.0f}/s", f"{single / limit:,.0f}×"),
        ("corner solves, 50,000 designs × 7", f"{batch:,.0f}/s", f"SciPy {limit:,.0f}/s", f"{batch / limit:,.0f}×"),
    ]


def designs(count: int) -> FrontLinkage:
    """The dirt car's right front with studs, shims and rods of every kind."""
    rng = np.random.default_rng(3)
    moves = Moves(
        upper_stud_in=rng.choice([0, 0.1, 0.5, 1.0], count),
        lower_stud_in=rng.choice([0, 0.1, 0.5, 1.0], count),
        tie_rod_in=rng.uniform(-0.1, 0.1, count),
    )
    return apply(corner("dirt rf"), moves + shims(side=-1, front_in=rng.uniform(-0.25, 0.25, count)))


def search() -> list[Row]:
    """A stand-in for the search of studs: everything a candidate is judged by, at seven travels."""
    many = designs(50_000).expand(1)
    left = wheel(solve_travel(corner("dirt lf"), travel_in=np.linspace(-3, 4, 7)))

    def run() -> None:
        right = wheel(solve_travel(replace(many), travel_in=np.linspace(-3, 4, 7)))
        roll_center(left=left, right=right)

    taken = best(run, 3)
    return [("50,000 designs × 7 travels, wheel and roll center", f"{taken:.2f} s", "1 s", f"{1 / taken:.1f}×")]


def effects(before: FrontLinkage, moves: Moves) -> tuple[WheelAlignment, Restored]:
    """All that one change does to both front corners: curves, centers, held springs, restored."""
    after = apply(before, moves)
    pose = solve_travel(stack([before, after]).expand(1), travel_in=TRAVELS)
    at = wheel(pose)
    springs = motion(pose)
    instant_center(pose, at, view="front")
    instant_center(pose, at, view="side")
    left, right = (at.take((slice(None), side)) for side in (0, 1))
    roll_center(left=left, right=right)
    force_roll_center(left=left, right=right, left_share=0.25, right_share=0.75)
    wheel(solve_spring_length(after, length_in=springs.length_in[0, :, SURVEYED]))
    start = at.take((0, slice(None), SURVEYED))
    bump = start.bump_steer_deg_per_in
    restored = restore(
        after,
        targets=Targets(
            camber_deg=start.camber_deg,
            caster_deg=start.caster_deg,
            toe_deg=start.toe_deg,
            bump_steer_deg_per_in=np.stack([np.full_like(bump, FREE), bump]),
        ),
        adjustments=[
            shims(side=before.side, front_in=1, rear_in=1),
            shims(side=before.side, front_in=1, rear_in=-1),
            Moves(tie_rod_in=1),
            Moves(outer_spacer_in=1),
        ],
    )
    return at, restored


def spreads(after: FrontLinkage) -> None:
    """How sure the effects are: a leaning stud axis, a tape read to a sixteenth."""

    def outcomes(trial: FrontLinkage) -> dict[str, np.ndarray]:
        found = wheel(solve_travel(trial, travel_in=0.0))
        return {"camber": found.camber_deg, "gain": found.camber_gain_deg_per_in, "bump": found.bump_steer_deg_per_in}

    lean_spread(after, joint="upper", outcomes=outcomes)
    survey_spread(after, outcomes=outcomes)


def one_change() -> list[Row]:
    """The effects of a longer upper stud, both corners, 29 travels."""
    both = stack([corner("dirt lf"), corner("dirt rf")])
    moves = Moves(upper_stud_in=np.array([0.0, 0.5]))
    alone = best(lambda: effects(replace(both), moves), 50)

    def with_spreads() -> None:
        effects(replace(both), moves)
        spreads(apply(both, moves))

    sure = best(with_spreads, 50)
    what = "effects of one change, both corners, 29 travels"
    return [
        (f"{what}, restored", f"{1e3 * alone:.2f} ms", "5 ms", f"{5e-3 / alone:.1f}×"),
        ("the same with spreads of axis and survey", f"{1e3 * sure:.2f} ms", "5 ms", f"{5e-3 / sure:.1f}×"),
    ]


def agreement() -> list[Row]:
    """Largest differences from the two independent solvers, 200 corners, all travels, five racks."""
    found = []
    for name, solver in (("SciPy", Distances), ("Pinocchio", Joints)):
        compared, apart, turned = worst(
            solver, corners=200, travels=(*TRAVELS[12:], *TRAVELS[12::-1]), racks=(0.0, 1.25, 2.5, -1.25, -2.5)
        )
        within = f"{1e-6 / max(apart, turned):,.0f}×"
        found.append(
            (f"differences from {name}, {compared:,} poses", f"{apart:.0e} in {turned:.0e} deg", "1e-06", within)
        )
    return found


def rows() -> list[Row]:
    """What, ours, the bare limit or target, and the ratio."""
    return [*solves(), *search(), *one_change(), *agreement()]


def main() -> None:
    """Prints the rows."""
    for what, ours, limit, ratio in rows():
        print(f"{what:60} {ours:>20} {limit:>16} {ratio:>10}")


if __name__ == "__main__":
    main()
