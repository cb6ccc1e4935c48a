"""Velocities and rates of a pose against fine differences of positions, which the engine itself never uses."""

import numpy as np
import pytest

from golden.front_corners import corner
from studbook_service.engine.changes import Moves, apply
from studbook_service.engine.linkage import mount_length, solve_travel
from studbook_service.engine.steering import rack
from studbook_service.engine.wheel import motion, toe_in, toe_per_rack, wheel, wheel_rate

STEP_IN = 1e-3
TRAVELS = np.array([-2.5, 0.0, 1.0, 3.0])
NAMES = ("dirt lf", "dirt rf", "asphalt lf", "asphalt rf")


def slope(values: np.ndarray) -> np.ndarray:
    """Fourth-order difference over five positions along the last axis."""
    result: np.ndarray = (values[..., 0] - 8 * values[..., 1] + 8 * values[..., 3] - values[..., 4]) / (12 * STEP_IN)
    return result


def test_a_mount_of_one_corner_has_one_length() -> None:
    pose = solve_travel(corner("dirt rf"), travel_in=0.5)
    assert mount_length(pose).shape == ()
    assert motion(pose).ratio.shape == ()
    over = solve_travel(corner("dirt rf"), travel_in=[0.0, 0.5])
    assert mount_length(over).shape == motion(over).ratio.shape == (2,)


@pytest.mark.parametrize("name", NAMES)
def test_gains_are_slopes_of_the_curves(name: str) -> None:
    longer = apply(corner(name), Moves(upper_stud_in=0.5))
    around = TRAVELS[:, None] + STEP_IN * np.arange(-2, 3)
    curve, at = wheel(solve_travel(longer, travel_in=around)), wheel(solve_travel(longer, travel_in=TRAVELS))
    np.testing.assert_allclose(at.camber_gain_deg_per_in, slope(curve.camber_deg), atol=1e-8)
    np.testing.assert_allclose(at.bump_steer_deg_per_in, slope(curve.toe_deg), atol=1e-8)


@pytest.mark.parametrize("name", NAMES)
def test_point_velocities_are_slopes_of_positions(name: str) -> None:
    around = solve_travel(corner(name), travel_in=TRAVELS[:, None] + STEP_IN * np.arange(-2, 3))
    pose = solve_travel(corner(name), travel_in=TRAVELS)
    for point in ("lower_ball", "upper_ball", "tie_outer", "wheel_center"):
        velocity = pose.velocity(getattr(pose, point))
        np.testing.assert_allclose(velocity, slope(getattr(around, point)), atol=1e-9, err_msg=point)


@pytest.mark.parametrize("body", ["lower_arm", "upper_arm", "spindle"])
def test_motion_ratio_and_its_rate_are_slopes_of_the_spring(body: str) -> None:
    around = TRAVELS[:, None] + STEP_IN * np.arange(-2, 3)
    carried = corner("dirt rf", body)
    moving, curve = motion(solve_travel(carried, travel_in=TRAVELS)), motion(solve_travel(carried, travel_in=around))
    np.testing.assert_allclose(moving.ratio, -slope(curve.length_in), atol=1e-9)
    np.testing.assert_allclose(moving.ratio_rate_per_in, slope(curve.ratio), atol=1e-9)
    np.testing.assert_allclose(curve.length_in, mount_length(solve_travel(carried, travel_in=around)))


def test_wheel_rate_is_the_slope_of_the_wheel_force() -> None:
    around = STEP_IN * np.arange(-2, 3)
    moving = motion(solve_travel(corner("dirt rf"), travel_in=around))
    force = 425.0 * (moving.length_in[2] + 1.6 - moving.length_in)
    rate = wheel_rate(motion(solve_travel(corner("dirt rf"), travel_in=0.0)), rate_lb_per_in=425.0, force_lb=680.0)
    assert float(rate) == pytest.approx(float(slope(force * moving.ratio)), abs=1e-6)


@pytest.mark.parametrize("shift", [-1.0, 0.0, 2.0])
def test_toe_per_rack_is_the_slope_over_the_rack(shift: float) -> None:
    around = shift + STEP_IN * np.arange(-2, 3)
    curve = wheel(solve_travel(corner("asphalt lf"), travel_in=1.0, steer_in=rack(shift_in=around)))
    pose = solve_travel(corner("asphalt lf"), travel_in=1.0, steer_in=rack(shift_in=shift))
    assert float(toe_per_rack(pose)) == pytest.approx(float(slope(curve.toe_deg)), abs=1e-8)


def test_toe_in_inches_of_a_usual_toe_out() -> None:
    """−0.12 deg is about 0.055 in at 26 in: trigonometry."""
    assert float(toe_in(toe_deg=-0.12, diameter_in=26)) == pytest.approx(-26 * 0.12 * np.pi / 180, rel=1e-5)
