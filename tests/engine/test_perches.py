"""Perch turns and the search for a cross weight."""

from typing import Any

import numpy as np
import pytest
from scipy.linalg import null_space

from golden.free_bodies import random_car
from golden.wheel_loads import dirt_car
from studbook_service.engine.car import percentages
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.loads import Ballast, ChassisChange, on_scales
from studbook_service.engine.one_sided import WheelName
from studbook_service.engine.perches import find_perches, perch_displacement, perch_turns, rounded_turns
from studbook_service.engine.vectors import Array

PITCH = [1 / 16] * 4
DIRT = dirt_car(front_lb_per_in=(159.4, 177.2), tire_lb_per_in=850)


def test_a_turn_divides_by_the_motion_ratio() -> None:
    # one turn of 1/16 in at a ratio of 0.646: 0.097 in of height (invented car, another solver)
    assert perch_displacement(DIRT, turns=[0, 1, 0, 0], pitch_in=PITCH)[1] == pytest.approx(0.097, abs=5e-4)


def test_a_beam_perch_holds_the_other_springs_length() -> None:
    moved = perch_displacement(DIRT, turns=[0, 0, 16, 0], pitch_in=PITCH)
    lengths = np.interp([20.5, -21.5], [-33.5, 31.0], moved[[3, 2]])
    assert lengths == pytest.approx([1, 0], abs=1e-12)


def test_turns_out_and_back() -> None:
    turns = np.random.default_rng(1).uniform(-5, 5, (4, 7))
    there = perch_displacement(DIRT, turns=turns, pitch_in=PITCH)
    assert perch_turns(DIRT, perch_in=there, pitch_in=PITCH) == pytest.approx(turns, abs=1e-12)


def test_all_four_perches_hold_the_heights() -> None:
    found = find_perches(DIRT, cross_percent=[49, 50.5, 52], pitch_in=PITCH)
    assert found.reached.all()
    assert percentages(found.state.loads_lb).cross_percent == pytest.approx([49, 50.5, 52], abs=1e-8)
    assert np.abs(found.state.rise_in).max() < 1e-9


def test_after_a_stud_four_perches_put_cross_and_heights_back() -> None:
    stud = ChassisChange(stud_in=[0, -0.52, 0, 0])
    found = find_perches(DIRT, cross_percent=percentages(DIRT.loads_lb).cross_percent, pitch_in=PITCH, change=stud)
    # the right front perch alone undoes it: 0.52 in at the wheel, 5.4 turns (invented car, another solver)
    assert found.turns == pytest.approx([0, 5.4, 0, 0], abs=0.03)


@pytest.mark.parametrize("may_turn", [("rf",), ("lr", "rr"), ("lf", "rf", "lr")])
def test_the_heights_are_disturbed_least(may_turn: tuple[WheelName, ...]) -> None:
    found = find_perches(DIRT, cross_percent=51.5, pitch_in=PITCH, may_turn=may_turn)
    assert bool(found.reached)
    free = np.isin(["lf", "rf", "lr", "rr"], may_turn)
    assert np.all(found.turns[~free] == 0)

    def with_turns(turns: Array) -> CarState:
        return on_scales(DIRT, ChassisChange(perch_in=perch_displacement(DIRT, turns=turns, pitch_in=PITCH)))

    slope = np.array([float(percentages(with_turns(each).loads_lb).cross_percent) for each in np.eye(4)[free]])
    along = null_space([slope - float(percentages(DIRT.loads_lb).cross_percent)])
    least = float(np.sum(found.state.rise_in**2))
    rng = np.random.default_rng(6)
    for _ in range(20 * along.shape[1]):
        turns = found.turns.copy()
        turns[free] += along @ rng.normal(scale=0.2, size=along.shape[1])
        other = with_turns(turns)
        assert float(percentages(other.loads_lb).cross_percent) == pytest.approx(51.5, abs=1e-8)
        assert float(np.sum(other.rise_in**2)) > least


def test_a_stop_in_the_way_is_found_through() -> None:
    given = random_car(np.random.default_rng(2)).engine()
    found = find_perches(given, cross_percent=52, pitch_in=PITCH, may_turn=["rf"])
    assert bool(found.reached)


def test_what_cannot_be_reached_is_nan_and_spoils_no_other() -> None:
    with_ballast = ChassisChange(ballast=[Ballast(np.array([0.0, 0.0, 5000.0]), -200.0, 200.0)])
    found = find_perches(DIRT, cross_percent=[51, 99.5, 51], pitch_in=PITCH, change=with_ballast)
    assert found.reached.tolist() == [True, False, False]
    assert np.isnan(found.turns).all(axis=0).tolist() == [False, True, True]
    alone = find_perches(DIRT, cross_percent=51, pitch_in=PITCH)
    assert found.turns[:, 0] == pytest.approx(alone.turns, abs=1e-8)


def test_limits_are_reported_not_forced() -> None:
    found = find_perches(DIRT, cross_percent=[50.1, 56], pitch_in=PITCH, bite_limits_lb=(0, 150))
    assert found.within_limits.tolist() == [True, False]


def test_rounding_is_a_later_step_with_its_own_cross() -> None:
    exact = find_perches(DIRT, cross_percent=51, pitch_in=PITCH, may_turn=["lr", "rr"])
    for step in (1, 0.5, 0.25, 1 / 6):
        turns = rounded_turns(exact.turns, step=step)
        assert np.abs(turns - exact.turns).max() <= step / 2 + 1e-12
        after = on_scales(DIRT, ChassisChange(perch_in=perch_displacement(DIRT, turns=turns, pitch_in=PITCH)))
        assert float(percentages(after.loads_lb).cross_percent) == pytest.approx(51, abs=0.12 * step + 0.05)


@pytest.mark.parametrize(
    ("given", "names"),
    [
        ({"cross_percent": 120}, "cross_percent is 120 percent"),
        ({"pitch_in": [0, 1, 1, 1]}, "pitch_in is 0 in per turn"),
        ({"may_turn": []}, "may_turn names no perch"),
        ({"may_turn": ["front"]}, "may_turn must be one of"),
    ],
)
def test_bad_arguments_are_refused_by_name(given: dict[str, Any], names: str) -> None:
    with pytest.raises(ValueError, match=names):
        find_perches(DIRT, **{"cross_percent": 50, "pitch_in": PITCH, **given})
