"""Instant and roll centers against planar cases with hand answers; sources in tests/golden/planar_cases.py."""

import numpy as np
import pytest

from golden.planar_cases import ANTI_DIVE, ASYMMETRIC, PARALLEL_HORIZONTAL, PARALLEL_INCLINED, PLANAR, Case
from studbook_service.engine.centers import (
    anti_dive_percent,
    force_roll_center,
    instant_center,
    n_line_height,
    n_line_slope,
    roll_center,
)
from studbook_service.engine.corner import corner_from_survey
from studbook_service.engine.linkage import Pose, solve_travel
from studbook_service.engine.vectors import numbers
from studbook_service.engine.wheel import WheelAlignment, wheel

RADIUS_IN = 13.0


def planar(case: Case, side: int, travel: float = 0.0) -> Pose:
    """The planar case as a corner: inner axes along x, and a tie rod that doubles the lower arm and never steers."""

    def at(x: float, key: str) -> tuple[float, float, float]:
        y, z = case[key]
        return x, side * y, z

    survey = corner_from_survey(
        side=side,
        upper_front=at(6.0, "upper_inner"),
        upper_rear=at(-6.0, "upper_inner"),
        upper_ball=at(0.0, "upper_outer"),
        lower_front=at(6.0, "lower_inner"),
        lower_rear=at(-6.0, "lower_inner"),
        lower_ball=at(0.0, "lower_outer"),
        tie_inner=at(5.0, "lower_inner"),
        tie_outer=at(5.0, "lower_outer"),
        wheel_center=(0.0, side * case["patch_y"], RADIUS_IN),
        camber_deg=0.0,
        toe_deg=0.0,
        loaded_radius_in=RADIUS_IN,
    )
    return solve_travel(survey, travel_in=travel)


def inclined(degrees: float) -> Case:
    """Parallel arms, both rising inboard."""
    rise = np.tan(np.radians(degrees))
    return {
        "lower_inner": (12.0, 6.0 + 16.0 * rise), "lower_outer": (28.0, 6.0),
        "upper_inner": (14.0, 16.0 + 12.0 * rise), "upper_outer": (26.0, 16.0), "patch_y": 31.0,
    }  # fmt: skip


@pytest.mark.parametrize("side", [1, -1])
def test_planar_case(side: int) -> None:
    pose = planar(PLANAR, side)
    at = wheel(pose)
    view = instant_center(pose, at, view="front")
    assert float(side * view.across_in) == pytest.approx(PLANAR["instant_center"][0], abs=1e-9)
    assert float(view.height_in) == pytest.approx(PLANAR["instant_center"][1], abs=1e-9)
    assert float(view.swing_arm_in) == pytest.approx(PLANAR["swing_arm_in"], abs=1e-9)
    assert float(n_line_height(at)) == pytest.approx(PLANAR["roll_center_height"], abs=1e-9)
    gain = at.camber_gain_deg_per_in / at.patch_velocity[2]
    assert float(gain) == pytest.approx(PLANAR["camber_deg_per_in_of_patch_travel"], abs=1e-9)
    sideways = side * at.patch_velocity[1] / at.patch_velocity[2]
    assert float(sideways) == pytest.approx(PLANAR["patch_dy_dz"], abs=1e-7)
    center = roll_center(left=wheel(planar(PLANAR, 1)), right=wheel(planar(PLANAR, -1)))
    assert float(center.y_in) == pytest.approx(0.0, abs=1e-9)
    assert float(center.height_in) == pytest.approx(PLANAR["roll_center_height"], abs=1e-9)


@pytest.mark.parametrize(
    ("case", "height"),
    [
        (PARALLEL_HORIZONTAL, PARALLEL_HORIZONTAL["roll_center_height"]),
        (inclined(PARALLEL_INCLINED["up_inboard_deg"]), PARALLEL_INCLINED["roll_center_height"]),
    ],
)
def test_parallel_arms(case: Case, height: float) -> None:
    pose = planar(case, 1)
    at = wheel(pose)
    view = instant_center(pose, at, view="front")
    assert np.isnan(view.across_in)
    assert np.isinf(view.swing_arm_in)
    assert abs(float(view.determinant)) < 1e-9
    assert float(at.camber_gain_deg_per_in) == pytest.approx(0.0, abs=1e-12)
    assert float(n_line_height(at)) == pytest.approx(height, abs=1e-9)


def test_parallel_horizontal_arms_have_no_roll_center() -> None:
    left, right = (wheel(planar(PARALLEL_HORIZONTAL, side)) for side in (1, -1))
    center = roll_center(left=left, right=right)
    assert not center.exists
    assert abs(float(center.determinant)) < 1e-9
    assert np.isnan(center.y_in)
    assert np.isnan(center.height_in)
    assert float(force_roll_center(left=left, right=right, left_share=1, right_share=1)) == pytest.approx(0, abs=1e-9)


def line(side: int, y: float, slope: float, z: float = 0.0, side_slope: float = 0.0) -> WheelAlignment:
    """A wheel known only by its patch and n-lines."""
    zero = numbers(0.0)
    return WheelAlignment(
        side=numbers(side), camber_deg=zero, toe_deg=zero, caster_deg=zero, kingpin_deg=zero, scrub_in=zero,
        trail_in=zero, patch=numbers([0.0, y, z]), patch_velocity=numbers([-side_slope, -slope, 1.0]),
        camber_gain_deg_per_in=zero, bump_steer_deg_per_in=zero,
    )  # fmt: skip


def test_asymmetric_car_has_two_roll_centers() -> None:
    (y_left, y_right), (left_force, right_force) = ASYMMETRIC["patch_y"], ASYMMETRIC["side_force_lb"]
    (ic_left_y, ic_left_z), (ic_right_y, ic_right_z) = (
        ASYMMETRIC["instant_center_left"],
        ASYMMETRIC["instant_center_right"],
    )
    left = line(1, y_left, ic_left_z / (ic_left_y - y_left))
    right = line(-1, y_right, ic_right_z / (ic_right_y - y_right))
    assert float(n_line_slope(left)) == pytest.approx(ASYMMETRIC["slopes"][0], abs=1e-12)
    assert float(n_line_slope(right)) == pytest.approx(ASYMMETRIC["slopes"][1], abs=1e-12)
    center = roll_center(left=left, right=right)
    assert (float(center.y_in), float(center.height_in)) == pytest.approx(ASYMMETRIC["kinematic"], abs=1e-9)
    by_force = force_roll_center(left=left, right=right, left_share=left_force, right_share=right_force)
    assert float(by_force) == pytest.approx(ASYMMETRIC["by_force_at_center"], abs=1e-9)


def test_height_is_square_to_the_line_of_the_patches() -> None:
    """The whole front leant by 4 deg about the origin keeps its roll-center height: a rotation changes no distance."""
    level = roll_center(left=line(1, 31, -0.1), right=line(-1, -33, 0.12))
    turn = np.radians(4.0)

    def leant(side: int, y: float, slope: float) -> WheelAlignment:
        return line(side, y * np.cos(turn), np.tan(np.arctan(slope) + turn), z=y * np.sin(turn))

    other = roll_center(left=leant(1, 31, -0.1), right=leant(-1, -33, 0.12))
    assert float(other.height_in) == pytest.approx(float(level.height_in), abs=1e-12)


def test_anti_dive_of_the_published_example() -> None:
    at = line(1, 31, 0.0, side_slope=-np.tan(np.radians(ANTI_DIVE["angle_deg"])))
    percent = anti_dive_percent(
        at,
        front_brake_share=ANTI_DIVE["share"],
        wheelbase_in=ANTI_DIVE["wheelbase_mm"] / 25.4,
        cg_height_in=ANTI_DIVE["cg_height_mm"] / 25.4,
    )
    assert float(percent) == pytest.approx(ANTI_DIVE["percent"], abs=0.01)  # as printed, to 0.1 deg


def test_side_view_meets_where_the_axes_planes_do() -> None:
    """Both inner axes fall to the rear by hand-set slopes; the cut at the wheel center is checked by its two planes."""
    survey = corner_from_survey(
        side=1,
        upper_front=(6, 12, 16.5), upper_rear=(-6, 12, 15.5), upper_ball=(0, 26, 18),
        lower_front=(6, 10, 6.5), lower_rear=(-6, 10, 7.5), lower_ball=(0, 28, 7),
        tie_inner=(7, 10, 7), tie_outer=(7, 27.5, 8), wheel_center=(0, 31, 13),
        camber_deg=0, toe_deg=0, loaded_radius_in=13,
    )  # fmt: skip
    pose = solve_travel(survey, travel_in=0.0)
    view = instant_center(pose, wheel(pose), view="side")
    place = np.array([view.across_in, pose.wheel_center[1], view.height_in])
    for front, rear, ball in (
        (survey.upper_front, survey.upper_rear, pose.upper_ball),
        (survey.lower_front, survey.lower_rear, pose.lower_ball),
    ):
        assert float(np.cross(front - ball, rear - ball) @ (place - ball)) == pytest.approx(0.0, abs=1e-9)
    assert float(view.swing_arm_in) == pytest.approx(float(pose.wheel_center[0] - view.across_in))
