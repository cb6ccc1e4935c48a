"""Answers on four invented corners that an independent solver gave before this engine existed.

Corners and answers: tests/golden/front_corners.json; the further figures here come from the same solver, rounded as it
printed them.
"""

from dataclasses import replace

import numpy as np
import pytest

from golden.front_corners import FRONT_CORNERS, corner
from studbook_service.engine.centers import (
    anti_dive_percent,
    force_roll_center,
    instant_center,
    n_line_height,
    n_line_slope,
    roll_center,
)
from studbook_service.engine.changes import Moves, apply, shims
from studbook_service.engine.linkage import mount_length, solve_angle, solve_spring_length, solve_travel
from studbook_service.engine.restore import Restored, Targets, restore
from studbook_service.engine.steering import rack
from studbook_service.engine.wheel import WheelAlignment, motion, toe_per_rack, wheel, wheel_rate

NAMES = tuple(FRONT_CORNERS["corners"])


def surveyed(name: str) -> WheelAlignment:
    return wheel(solve_travel(corner(name), travel_in=0.0))


@pytest.mark.parametrize("name", NAMES)
def test_static_answers(name: str) -> None:
    want, at = FRONT_CORNERS["corners"][name]["answers"], surveyed(name)
    assert float(at.camber_gain_deg_per_in) == pytest.approx(want["camber_gain_deg_per_in"], abs=6e-4)
    assert float(at.bump_steer_deg_per_in) == pytest.approx(
        want["bump_steer_deg_per_in"], abs=6e-5 + 5e-4 * ("lf" in name)
    )
    assert float(at.caster_deg) == pytest.approx(want["caster_deg"], abs=6e-3)
    assert float(at.kingpin_deg) == pytest.approx(want["kpi_deg"], abs=6e-3)
    assert float(at.scrub_in) == pytest.approx(want["scrub_in"], abs=6e-3)
    assert float(at.trail_in) == pytest.approx(want["trail_in"], abs=6e-3)
    assert float(n_line_slope(at)) == pytest.approx(want["n_line_slope"], abs=6e-5)
    assert abs(float(at.patch[2])) < 1e-3


@pytest.mark.parametrize("name", NAMES)
def test_curves(name: str) -> None:
    travel, camber, toe, caster = np.transpose(FRONT_CORNERS["corners"][name]["answers"]["travel_camber_toe_caster"])
    at = wheel(solve_travel(corner(name), travel_in=travel))
    np.testing.assert_allclose(at.camber_deg, camber, atol=6e-4)
    np.testing.assert_allclose(at.toe_deg, toe, atol=6e-4)
    np.testing.assert_allclose(at.caster_deg, caster, atol=6e-4)


@pytest.mark.parametrize("name", NAMES)
def test_springs(name: str) -> None:
    given = FRONT_CORNERS["corners"][name]
    moving = motion(solve_travel(corner(name), travel_in=[0.0, 2.0]))
    want = [given["answers"]["motion_ratio"], given["answers"]["motion_ratio_at_2in"]]
    np.testing.assert_allclose(moving.ratio, want, atol=6e-5 + 5e-4 * (name == "asphalt lf"))
    bare = wheel_rate(moving, rate_lb_per_in=given["spring"]["rate_lb_per_in"], force_lb=0.0)
    assert float(bare[0]) == pytest.approx(given["answers"]["spring_rate_at_wheel_lb_per_in"], abs=0.1)


@pytest.mark.parametrize("car", ["dirt", "asphalt"])
def test_roll_centers(car: str) -> None:
    want, left, right = FRONT_CORNERS["roll_center"][car], surveyed(f"{car} lf"), surveyed(f"{car} rf")
    center = roll_center(left=left, right=right)
    assert float(center.y_in) == pytest.approx(want["y_in"], abs=6e-3)
    assert float(center.height_in) == pytest.approx(want["height_in"], abs=6e-3)
    assert float(n_line_height(left)) == pytest.approx(want["n_line_at_y0_left_in"], abs=7e-3)
    assert float(n_line_height(right)) == pytest.approx(want["n_line_at_y0_right_in"], abs=7e-3)
    by_force = force_roll_center(left=left, right=right, left_share=25, right_share=75)
    assert float(by_force) == pytest.approx(want["force_based_at_y0_rf75_in"], abs=7e-3)


@pytest.mark.parametrize(
    ("name", "toe"), [("dirt lf", -14.9), ("dirt rf", 14.8), ("asphalt lf", -14.4), ("asphalt rf", 14.6)]
)
def test_rack(name: str, toe: float) -> None:
    steered = wheel(solve_travel(corner(name), travel_in=0.0, steer_in=rack(shift_in=1.5)))
    assert float(steered.toe_deg) == pytest.approx(toe, abs=0.06)
    if name == "dirt rf":
        assert float(toe_per_rack(solve_travel(corner(name), travel_in=0.0))) == pytest.approx(9.8, abs=0.05)


def test_swing_arm_is_the_camber_gain_of_the_patch() -> None:
    """44.3 in; 1.323 deg per in of wheel, 1.0225 in of patch per in of wheel: 1.294 = 1/44.3 rad."""
    at = surveyed("dirt rf")
    view = instant_center(solve_travel(corner("dirt rf"), travel_in=0.0), at, view="front")
    assert float(view.swing_arm_in) == pytest.approx(44.3, abs=0.06)
    assert float(at.patch_velocity[2]) == pytest.approx(1.0225, abs=1e-3)
    per_patch = -float(at.camber_gain_deg_per_in / at.patch_velocity[2])
    assert per_patch == pytest.approx(np.degrees(1 / 44.3), abs=2e-3)


def test_upper_axis_falling_to_the_rear_opposes_the_dive() -> None:
    """v_x/v_z = +0.127 with the upper axis made to fall to the rear; anti-dive is + when it opposes the dive."""
    rf = corner("dirt rf")
    front, rear = rf.upper_front.copy(), rf.upper_rear.copy()
    front[2], rear[2] = front[2] + 0.8, rear[2] - 0.8
    at = wheel(solve_travel(replace(rf, upper_front=front, upper_rear=rear), travel_in=0.0))
    flat = wheel(solve_travel(rf, travel_in=0.0))

    def anti_dive(which: WheelAlignment) -> float:
        return float(anti_dive_percent(which, front_brake_share=0.52, wheelbase_in=103, cg_height_in=18.5))

    assert float(at.patch_velocity[0] / at.patch_velocity[2]) > float(flat.patch_velocity[0] / flat.patch_velocity[2])
    assert anti_dive(at) > anti_dive(flat)
    assert anti_dive(at) > 0


def held(name: str, moves: Moves, body: str | None = None) -> tuple[float, float, float]:
    """Wheel travel and changes of camber and toe with the spring at its length."""
    before = solve_travel(corner(name, body), travel_in=0.0)
    after = solve_spring_length(apply(corner(name, body), moves), length_in=mount_length(before))
    old, new = wheel(before), wheel(after)
    return float(after.travel_in), float(new.camber_deg - old.camber_deg), float(new.toe_deg - old.toe_deg)


@pytest.mark.parametrize(
    ("name", "moves", "camber", "toe"),
    [
        ("dirt rf", Moves(upper_stud_in=0.5), -0.42, -0.13),
        ("dirt rf", Moves(upper_stud_in=1.0), -0.94, -0.28),
        ("dirt rf", Moves(lower_stud_in=0.5), -0.38, -0.60),
        ("dirt lf", Moves(upper_stud_in=0.5), -0.04, -0.01),
        ("dirt rf", shims(side=-1, front_in=-0.125, rear_in=-0.125), -0.60, -0.18),
    ],
)
def test_change_with_springs_held(name: str, moves: Moves, camber: float, toe: float) -> None:
    _, by_camber, by_toe = held(name, moves)
    assert by_camber == pytest.approx(camber, abs=6e-3)
    assert by_toe == pytest.approx(toe, abs=6e-3)


def test_lower_stud_turns_camber_round_when_the_height_is_restored() -> None:
    rf = corner("dirt rf")
    dropped, _, _ = held("dirt rf", Moves(lower_stud_in=0.5))
    assert dropped == pytest.approx(0.52, abs=6e-3)
    restored = wheel(solve_travel(apply(rf, Moves(lower_stud_in=0.5)), travel_in=0.0))
    assert float(restored.camber_deg) - -4.0 == pytest.approx(0.38, abs=6e-3)


def test_spring_on_the_upper_arm_reverses_which_stud_moves_the_wheel() -> None:
    assert held("dirt rf", Moves(upper_stud_in=0.5), "upper_arm")[0] == pytest.approx(-0.54, abs=6e-3)
    assert abs(held("dirt rf", Moves(lower_stud_in=0.5), "upper_arm")[0]) == pytest.approx(0.05, abs=6e-3)
    assert abs(held("dirt rf", Moves(upper_stud_in=0.5), "spindle")[0]) > 0.05
    assert abs(held("dirt rf", Moves(lower_stud_in=0.5), "spindle")[0]) > 0.05


def put_right(name: str, moves: Moves, *, bump_steer: bool = False) -> Restored:
    """Camber by equal upper shims and toe by the rod, the perch left alone; bump steer by a spacer where wanted."""
    before = corner(name)
    pose = solve_travel(before, travel_in=0.0)
    was = wheel(pose)
    kit = [shims(side=before.side, front_in=1, rear_in=1), Moves(tie_rod_in=1), Moves(outer_spacer_in=1)]
    return restore(
        apply(before, moves),
        targets=Targets(
            camber_deg=was.camber_deg,
            toe_deg=was.toe_deg,
            bump_steer_deg_per_in=was.bump_steer_deg_per_in if bump_steer else None,
        ),
        adjustments=kit if bump_steer else kit[:2],
        spring_length_in=mount_length(pose),
    )


@pytest.mark.parametrize(
    ("name", "moves", "shim", "gain", "bump", "height", "y"),
    [
        ("dirt rf", Moves(upper_stud_in=0.5), 0.09, -1.495, -0.086, 4.06, -9.2),
        ("dirt rf", Moves(upper_stud_in=1.0), 0.22, -1.659, -0.142, 4.22, -10.8),
        ("dirt rf", Moves(lower_stud_in=0.5), 0.09, -1.511, 0.075, 3.91, -10.1),
        ("dirt lf", Moves(upper_stud_in=0.5), 0.01, -0.940, -0.068, 4.32, -4.3),
    ],
)
def test_stud_then_restored(
    name: str, moves: Moves, shim: float, gain: float, bump: float, height: float, y: float
) -> None:
    right = put_right(name, moves)
    at, other = wheel(right.pose), surveyed("dirt lf" if name.endswith("rf") else "dirt rf")
    center = roll_center(left=other, right=at) if name.endswith("rf") else roll_center(left=at, right=other)
    assert right.converged
    assert float(right.amounts[0]) == pytest.approx(shim, abs=6e-3)
    assert float(at.camber_gain_deg_per_in) == pytest.approx(gain, abs=6e-4)
    assert float(at.bump_steer_deg_per_in) == pytest.approx(bump, abs=6e-4)
    assert float(center.y_in) == pytest.approx(y, abs=0.06)
    # The solver that made the table measured from the mean height of the patches; here it is square to their line.
    (_, y1, z1), (_, y2, z2) = at.patch, other.patch
    lean = float((z1 - z2) / (y1 - y2))
    over_mean = float(center.height_in) * np.hypot(1, lean) + lean * (float(center.y_in) - float(y1 + y2) / 2)
    assert over_mean == pytest.approx(height, abs=6e-3)


def test_left_lower_stud_then_restored() -> None:
    at = wheel(put_right("dirt lf", Moves(lower_stud_in=0.5)).pose)
    assert float(at.bump_steer_deg_per_in) == pytest.approx(0.135, abs=6e-4)


@pytest.mark.parametrize(
    ("name", "moves", "spacer"),
    [
        ("dirt rf", Moves(upper_stud_in=0.5), 0.19),
        ("dirt rf", Moves(lower_stud_in=0.5), -0.31),
        ("dirt lf", Moves(upper_stud_in=0.5), 0.12),
        ("dirt lf", Moves(lower_stud_in=0.5), -0.38),
    ],
)
def test_spacer_that_brings_bump_steer_back(name: str, moves: Moves, spacer: float) -> None:
    right = put_right(name, moves, bump_steer=True)
    was, now = surveyed(name), wheel(right.pose)
    assert right.converged
    assert float(right.amounts[2]) == pytest.approx(spacer, abs=7e-3)
    assert float(now.bump_steer_deg_per_in) == pytest.approx(float(was.bump_steer_deg_per_in), abs=1e-9)


def test_unequal_shims_move_caster() -> None:
    moved = apply(corner("dirt rf"), shims(side=-1, front_in=-1 / 16, rear_in=1 / 16))
    caster = wheel(solve_angle(moved, angle_rad=0.0)).caster_deg
    assert float(caster - surveyed("dirt rf").caster_deg) == pytest.approx(-0.58, abs=6e-3)


def test_wheel_spacer_moves_the_patch_out() -> None:
    """Scrub 4.43 → 5.44 with 1 in; the wheel center goes out along the axis, so 0.07 in up at −4 deg of camber."""
    moved = wheel(solve_angle(apply(corner("dirt rf"), Moves(wheel_offset_in=1.0)), angle_rad=0.0))
    assert float(surveyed("dirt rf").scrub_in) == pytest.approx(4.43, abs=6e-3)
    assert float(moved.scrub_in) == pytest.approx(5.44, abs=6e-3)
    assert abs(float(moved.patch[2])) == pytest.approx(0.07, abs=6e-3)


def test_an_inch_lower_changes_gain_and_roll_center() -> None:
    low = wheel(solve_travel(corner("dirt rf"), travel_in=1.0))
    center = roll_center(left=surveyed("dirt lf"), right=low)
    assert float(low.camber_gain_deg_per_in) == pytest.approx(-1.53, abs=6e-3)
    assert float(center.height_in) == pytest.approx(3.53, abs=0.2)
