"""Every move of a front corner and of a rear axle, against two libraries that share none of the engine's formulas."""

import json
from typing import Any

import numpy as np
import pytest

from golden import moves as golden
from golden.agreement import worst_of_moves
from golden.front_corners import corner
from golden.independent_axles import AxleDistances, AxleJoints, random_axle, random_refits
from golden.independent_solvers import Distances, Joints
from studbook_service.engine.axle_pose import AxlePose, solve_axle
from studbook_service.engine.axle_readings import axle_readings
from studbook_service.engine.changes import MOVES, Moves, apply
from studbook_service.engine.corner import corner_from_survey
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.rear_axle import rear_axle_from_survey
from studbook_service.engine.rear_centers import rear_wheels
from studbook_service.engine.rear_springs import rear_motion
from studbook_service.engine.wheel import wheel

WANTED: dict[str, Any] = json.loads(golden.FILE.read_text())
CLOSE = 1e-6  # in and deg
FRONT_CASES = [(name, move) for name, moves in WANTED["front"].items() for move in moves]
REAR_CASES = [(name, move) for name, moves in WANTED["rear"].items() for move in moves]


def test_no_move_is_left_out() -> None:
    assert tuple(golden.FRONT) == MOVES
    for name, moves in WANTED["front"].items():
        assert set(moves) == {"surveyed", "all", *MOVES}, name
        told = {json.dumps(figures) for figures in moves.values()}
        assert len(told) == len(moves), "two moves that do the same pin neither"
    for name, moves in WANTED["rear"].items():
        told = {json.dumps(figures) for figures in moves.values()}
        assert len(told) == len(moves), name


def test_the_expected_values_are_those_of_their_generator() -> None:
    close(golden.expected()["front"], WANTED["front"], 3e-8)
    close(golden.expected()["rear"], WANTED["rear"], 3e-8)


def close(found: Any, wanted: Any, tolerance: float, at: str = "") -> None:
    if isinstance(wanted, dict):
        assert found.keys() == wanted.keys(), at
        for key, value in wanted.items():
            close(found[key], value, tolerance, f"{at} {key}")
    else:
        np.testing.assert_allclose(found, wanted, atol=tolerance, rtol=0, err_msg=at)


def front_amounts(name: str, move: str) -> dict[str, Any]:
    amounts = golden.front_moves(golden.CORNERS[name])
    return amounts if move == "all" else {each: amount for each, amount in amounts.items() if each == move}


@pytest.mark.parametrize(("name", "move"), FRONT_CASES)
def test_a_move_of_a_corner(name: str, move: str) -> None:
    survey, amounts, wanted = golden.corner_survey(name), front_amounts(name, move), WANTED["front"][name][move]
    at = wheel(solve_travel(apply(corner_from_survey(**survey), Moves(**amounts)), travel_in=golden.TRAVEL_IN))
    found = {each: getattr(at, each.replace("patch_in", "patch")) for each in wanted}
    close(found, wanted, CLOSE)
    points, spin = Joints(survey, **amounts).solve(golden.TRAVEL_IN, 0.0)
    radius = survey["loaded_radius_in"] + amounts.get("loaded_radius_in", 0.0)
    close(golden.corner_figures(survey, points, spin, radius), wanted, CLOSE)


@pytest.mark.parametrize("solver", [Distances, Joints])
def test_moves_agree_on_random_corners(solver: type[Distances | Joints]) -> None:
    """Every move alone on a left and a right corner, then several at once, over travel and rack."""
    compared, apart_in, turned_deg = worst_of_moves(solver, together=16)
    assert compared == (2 * len(MOVES) + 16) * 6
    assert apart_in < CLOSE
    assert turned_deg < CLOSE


@pytest.mark.parametrize(("name", "move"), REAR_CASES)
def test_a_move_of_an_axle(name: str, move: str) -> None:
    given, refits, spring = golden.moved_axle(name, golden.REAR[name].get(move, {}))
    axle = rear_axle_from_survey(**given)
    for rod, refit in refits.items():
        axle = axle.refit(rod, **refit._asdict())
    wanted = WANTED["rear"][name][move]
    pose = solve_axle(axle, bump_in=golden.BUMP_IN, roll_deg=golden.ROLL_DEG)
    close(axle_figures(pose, spring), wanted, CLOSE)
    ends, left, right = AxleJoints(given, refits).solve(golden.BUMP_IN, np.radians(golden.ROLL_DEG))
    np.testing.assert_allclose(pose.wheels, np.stack([left, right], axis=1), atol=CLOSE)
    for rod, end in zip(axle.names, ends, strict=True):
        np.testing.assert_allclose(pose.rod_ends(rod)[1], end, atol=CLOSE)


def axle_figures(pose: AxlePose, spring: dict[str, Any]) -> dict[str, Any]:
    at, wheels, moving = axle_readings(pose), rear_wheels(pose), rear_motion(pose, **spring)
    plain = ("lead_change_in", "travel_in", "lateral_shift_in", "steer_deg", "pinion_deg", "birdcage_indexing_deg")
    return {
        **{each: getattr(at, each) for each in plain},
        "spring_length_in": moving.length_in,
        "spring_bump_ratio": -moving.per_bump,
        "patch_in": [wheels.left.patch, wheels.right.patch],
    }


@pytest.mark.parametrize("solver", [AxleDistances, AxleJoints])
@pytest.mark.parametrize("name", ["dirt", "asphalt"])
def test_moves_agree_on_random_axles(name: str, solver: type[AxleDistances | AxleJoints]) -> None:
    """Each rod's length and ends alone, then every rod at once."""
    rng = np.random.default_rng(33)
    for refits in random_refits(rng, name):
        given = random_axle(rng, name)
        axle = rear_axle_from_survey(**given)
        for rod, refit in refits.items():
            axle = axle.refit(rod, **refit._asdict())
        pose = solve_axle(axle, bump_in=[-1.0, 1.5], roll_deg=[2.0, -3.0])
        assert pose.closed.all()
        other = solver(given, refits)
        for index, (bump, roll) in enumerate(((-1.0, 2.0), (1.5, -3.0))):
            ends, left, right = other.solve(bump, np.radians(roll))
            np.testing.assert_allclose(pose.wheels[..., index], np.stack([left, right], axis=1), atol=CLOSE)
            for rod, end in zip(axle.names, ends, strict=True):
                np.testing.assert_allclose(pose.rod_ends(rod)[1][:, index], end, atol=CLOSE)


def test_the_length_of_an_upper_arm_is_from_its_shaft_to_its_ball() -> None:
    """A quarter inch moves the ball a quarter inch straight away from the shaft, and the foot on it not at all.

    An invented right front: both legs lengthened alike would give +1.263 deg of camber instead of +1.119.
    """
    rf = corner("dirt rf")
    pose = solve_travel(apply(rf, Moves(upper_arm_in=0.25)), travel_in=0.0)
    shaft = (rf.upper_front - rf.upper_rear) / np.linalg.norm(rf.upper_front - rf.upper_rear)
    feet, radii = [], []
    for ball in (rf.upper_ball, pose.upper_ball):
        feet.append((ball - rf.upper_rear) @ shaft)
        radii.append(np.linalg.norm(ball - rf.upper_rear - feet[-1] * shaft))
    assert feet[1] == pytest.approx(feet[0], abs=1e-9)
    assert radii[1] - radii[0] == pytest.approx(0.25, abs=1e-9)
    assert float(wheel(pose).camber_deg) - -4.0 == pytest.approx(1.119, abs=6e-4)
