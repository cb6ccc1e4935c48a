"""The search of parts against plain loops over `solve_travel` with SciPy's root finder for the rod.

Lengths, shims and limits are invented, in the range of common practice.
"""

import itertools
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from golden.front_corners import corner
from studbook_service.engine.changes import Moves, apply, shims
from studbook_service.engine.corner import FrontLinkage
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.search import CANNOT_CLOSE, Goal, PartChoice, Window, rod_to_toe, search
from studbook_service.engine.trade_offs import ranked, trade_offs
from studbook_service.engine.wheel import WheelAlignment, wheel

UPPERS, LOWERS = (0.0, 0.1, 0.5), (0.0, 0.5)
FRONTS = REARS = (0.0, -0.125, 0.125)
SPACERS = (0.0, 0.1875)
FLAT = 1 / 54
TRAVELS, AIMS = (-2.0, 0.0, 3.0), (-1.6, -4.1, -9.0)
CASTER, BUMP, HEIGHT = Window(4.6, 5.7), Window(-0.08, 0.08, 0.0), Window(3.4, 4.4, 3.9)
GOAL = Goal(
    travel_in=TRAVELS,
    camber_deg=AIMS,
    toe_deg=-0.12,
    windows={"caster_deg": CASTER, "bump_steer_deg_per_in": BUMP, "height_in": HEIGHT},
)


def choices() -> list[PartChoice]:
    pairs = list(itertools.product(UPPERS, LOWERS))
    return [
        PartChoice(
            moves=Moves(upper_stud_in=[upper for upper, _ in pairs], lower_stud_in=[lower for _, lower in pairs]),
            changed=[(upper != 0) + (lower != 0) for upper, lower in pairs],
        ),
        PartChoice(moves=shims(side=-1, front_in=FRONTS), changed=[0, 1, 1]),
        PartChoice(moves=shims(side=-1, front_in=0 * np.array(REARS), rear_in=REARS), changed=[0, 1, 1]),
        PartChoice(moves=Moves(outer_spacer_in=SPACERS), changed=[0, 1]),
    ]


class Judged(NamedTuple):
    """A combination by the plain way: what excludes it, or what it is off."""

    excluded: str | None
    rod_in: float = 0.0
    changed: int = 0
    off: tuple[float, ...] = ()


def at(design: FrontLinkage, travel: float) -> WheelAlignment:
    return wheel(solve_travel(design, travel_in=travel))


def rod_by_scipy(design: FrontLinkage) -> float:
    def off(rod: float) -> float:
        return float(at(apply(design, Moves(tie_rod_in=rod)), 0.0).toe_deg) - GOAL.toe_deg

    return float(brentq(off, -0.5, 0.5, xtol=1e-12))


def by_hand() -> Iterator[Judged]:
    """Judge one combination after another."""
    left = at(corner("dirt lf"), 0.0)
    slope_left = float(-left.patch_velocity[1] / left.patch_velocity[2])
    for upper, lower, front, rear, spacer in itertools.product(UPPERS, LOWERS, FRONTS, REARS, SPACERS):
        design = apply(
            corner("dirt rf"),
            shims(side=-1, front_in=front, rear_in=rear)
            + Moves(upper_stud_in=upper, lower_stud_in=lower, outer_spacer_in=spacer),
        )
        rod = round(rod_by_scipy(design) / FLAT) * FLAT
        design = apply(design, Moves(tie_rod_in=rod))
        right, step = at(design, 0.0), 1e-4
        bump = float(at(design, step).toe_deg - at(design, -step).toe_deg) / (2 * step)
        slope = float(-right.patch_velocity[1] / right.patch_velocity[2])
        # Both n-lines z = z_patch + slope (y - y_patch), crossed by hand; height square to the line of the patches.
        (_, y1, z1), (_, y2, z2) = left.patch, right.patch
        y = (z2 - slope * y2 - z1 + slope_left * y1) / (slope_left - slope)
        ground = z1 + (z2 - z1) * (y - y1) / (y2 - y1)
        height = (z1 + slope_left * (y - y1) - ground) / np.hypot(1, (z2 - z1) / (y2 - y1))
        readings: dict[str, tuple[float, Window]] = {
            "caster_deg": (float(right.caster_deg), CASTER),
            "bump_steer_deg_per_in": (bump, BUMP),
        }
        readings["height_in"] = (height, HEIGHT)
        outside = [name for name, (value, window) in readings.items() if not window.low <= value <= window.high]
        if outside:
            yield Judged(outside[0])
            continue
        cambers = [float(at(design, travel).camber_deg) for travel in TRAVELS]
        camber = float(np.sqrt(np.mean(np.square(np.subtract(cambers, AIMS)))))
        changed = sum(part != 0 for part in (upper, lower, front, rear, spacer, rod))
        yield Judged(None, rod, changed, (camber, abs(bump), abs(height - 3.9)))


def test_a_small_inventory_by_plain_loops() -> None:
    other = at(corner("dirt lf"), 0.0)
    found = search(corner("dirt rf"), choices=choices(), goal=GOAL, other=other, rod_step_in=FLAT)
    plain = list(by_hand())
    assert found.tried == found.total == len(plain) == 108
    fit = [number for number, each in enumerate(plain) if each.excluded is None]
    assert 10 < len(fit) < 98
    assert found.index.tolist() == fit
    assert found.excluded == {
        name: sum(each.excluded == name for each in plain) for name in (CANNOT_CLOSE, *GOAL.windows)
    }
    np.testing.assert_allclose(found.rod_in, [plain[number].rod_in for number in fit], atol=1e-12)
    assert found.changed.tolist() == [plain[number].changed for number in fit]
    for row, name in enumerate(("camber_deg", "bump_steer_deg_per_in", "height_in")):
        np.testing.assert_allclose(found.off[name], [plain[number].off[row] for number in fit], atol=1e-6)


def test_what_is_given_back_reads_as_it_was_judged() -> None:
    found = search(corner("dirt rf"), choices=choices(), goal=GOAL, other=at(corner("dirt lf"), 0.0))
    places = [0, 5, len(found.index) - 1]
    designs = found.designs(places)
    over = wheel(solve_travel(designs.expand(1), travel_in=TRAVELS))
    off = np.sqrt(np.mean((over.camber_deg - AIMS) ** 2, axis=1))
    np.testing.assert_allclose(off, found.off["camber_deg"][places], atol=1e-12)
    np.testing.assert_allclose(wheel(solve_travel(designs, travel_in=0.0)).toe_deg, -0.12, atol=1e-9)
    assert found.options([0]).ravel().tolist() == [0, 0, 0, 0]


def test_combinations_that_cannot_close_are_counted_and_no_more() -> None:
    """Travels beyond what some of the linkages reach, against the full solution with its bisection."""
    wide = Goal(travel_in=(-11.3, 0.0, 8.9), camber_deg=(0.0, 0.0, 0.0), toe_deg=-0.12)
    found = search(corner("dirt rf"), choices=choices(), goal=wide)
    designs = [
        apply(
            corner("dirt rf"),
            shims(side=-1, front_in=front, rear_in=rear)
            + Moves(upper_stud_in=upper, lower_stud_in=lower, outer_spacer_in=spacer),
        )
        for upper, lower, front, rear, spacer in itertools.product(UPPERS, LOWERS, FRONTS, REARS, SPACERS)
    ]
    rods = [rod_by_scipy(design) for design in designs]
    closed = [
        bool(solve_travel(apply(design, Moves(tie_rod_in=rod)), travel_in=wide.travel_in).closed.all())
        for design, rod in zip(designs, rods, strict=True)
    ]
    assert 0 < sum(closed) < len(closed)
    assert found.index.tolist() == [number for number, whole in enumerate(closed) if whole]
    assert found.excluded == {CANNOT_CLOSE: closed.count(False)}


def test_out_of_reach_is_found_alike_with_and_without_a_diagnosis() -> None:
    rng = np.random.default_rng(4)
    moves = Moves(
        upper_stud_in=rng.uniform(-1, 2, 500),
        lower_stud_in=rng.uniform(-1, 2, 500),
        tie_rod_in=rng.uniform(-3, 3, 500),
    )
    designs = apply(corner("dirt rf"), moves).expand(1)
    travels = np.linspace(-12, 9, 7)
    diagnosed = solve_travel(designs, travel_in=travels)
    quick = solve_travel(designs, travel_in=travels, diagnose=False)
    assert 0.1 < diagnosed.closed.mean() < 0.95
    np.testing.assert_array_equal(quick.closed, diagnosed.closed)
    np.testing.assert_array_equal(quick.spin, diagnosed.spin)


def test_the_rod_that_cannot_reach_is_nan() -> None:
    apart = apply(corner("dirt rf"), Moves(upper_arm_in=[0.0, 40.0]))
    rods = rod_to_toe(apart, toe_deg=0.0)
    assert np.isfinite(rods).tolist() == [True, False]


def test_a_stopped_search_counts_what_it_tried() -> None:
    stop = iter([False, True])
    many = PartChoice(moves=Moves(upper_stud_in=np.linspace(0, 0.5, 3000)), changed=np.arange(3000) > 0)
    goal = Goal(travel_in=[0.0], camber_deg=[-4.0], toe_deg=-0.12)
    found = search(corner("dirt rf"), choices=[many], goal=goal, enough=lambda: next(stop))
    assert found.total == 3000
    assert 0 < found.tried < 3000
    assert found.index.size == found.tried
    none = search(corner("dirt rf"), choices=[many], goal=goal, enough=lambda: True)
    assert (none.tried, none.index.size, none.off["camber_deg"].size) == (0, 0, 0)


@pytest.mark.parametrize(
    ("goal", "kit", "named"),
    [
        (Goal(travel_in=[0, 1], camber_deg=[0], toe_deg=0), None, "travel_in and camber_deg"),
        (Goal(travel_in=[], camber_deg=[], toe_deg=0), None, "travel_in and camber_deg"),
        (Goal(travel_in=[0], camber_deg=[0], toe_deg=0, windows={"trail_in": Window()}), None, "trail_in"),
        (Goal(travel_in=[0], camber_deg=[0], toe_deg=0), [PartChoice(moves=Moves(), changed=[])], "option"),
    ],
)
def test_bad_arguments_are_refused(goal: Goal, kit: list[PartChoice] | None, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        search(corner("dirt rf"), choices=kit or choices(), goal=goal)


@given(st.lists(st.tuples(*[st.integers(0, 4)] * 3), min_size=1, max_size=60), st.integers(1, 60))
def test_trade_offs_are_those_that_nothing_beats(rows: list[tuple[int, int, int]], most: int) -> None:
    cost = np.array(rows, dtype=float).T
    whole = trade_offs(cost, most=len(rows))
    beaten = [
        any(all(a <= b for a, b in zip(other, one, strict=True)) and other != one for other in rows) for one in rows
    ]
    assert {rows[place] for place in whole} == {one for one, lost in zip(rows, beaten, strict=True) if not lost}
    assert len({rows[place] for place in whole}) == len(whole)
    assert [place for place in ranked(cost) if place in whole] == whole
    some = trade_offs(cost, most=most)
    assert some[:most] == whole[:most]
    assert set(some) <= set(whole)
    for row in cost:
        assert row[some].min() == row.min()
