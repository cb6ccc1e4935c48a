"""Joint friction against published seat models, an independent solver's rates, and energy balance."""

from typing import Any

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.spatial.transform import Rotation

from golden.front_corners import corner
from golden.joints_and_parts import HYSTERESIS, MANUAL_TORQUE, N_M_PER_IN_LB, SEATS, STATICS
from studbook_service.engine.corner import FrontLinkage, corner_from_survey, stack
from studbook_service.engine.joints import (
    JOINTS,
    cycle_loss,
    dead_band,
    joint_rates,
    steering_torque,
    tightness,
    wheel_friction,
)
from studbook_service.engine.linkage import Pose, solve_travel
from studbook_service.engine.spindle import joint_loads
from studbook_service.engine.torques import (
    SEAT_FACTORS,
    doubtful_torque,
    load_torque,
    pull_scale_torque,
    spin_torque,
)


def hysteresis_corner() -> FrontLinkage:
    return corner_from_survey(
        side=1,
        **HYSTERESIS["points"],
        camber_deg=HYSTERESIS["camber_deg"],
        toe_deg=HYSTERESIS["toe_deg"],
        loaded_radius_in=HYSTERESIS["loaded_radius_in"],
    )


def test_rates_and_friction_of_independent_solvers() -> None:
    pose = solve_travel(hysteresis_corner(), travel_in=0)
    rates = joint_rates(pose)
    for name, rate in HYSTERESIS["rates"].items():
        assert float(rates[name].whole) == pytest.approx(rate, abs=1e-6)
    friction = wheel_friction(pose, preload_in_lb=HYSTERESIS["torque_in_lb"])
    assert float(friction.total_lb) == pytest.approx(HYSTERESIS["friction_lb"], abs=1e-4)
    assert float(dead_band(friction_lb=friction.total_lb, wheel_rate_lb_per_in=1)) == pytest.approx(
        2 * HYSTERESIS["friction_lb"], abs=2e-4
    )


@pytest.mark.parametrize("name", STATICS)
def test_rates_on_the_invented_cars(name: str) -> None:
    rates = joint_rates(solve_travel(corner(name), travel_in=0))
    assert float(rates["upper_ball"].whole) == pytest.approx(STATICS[name]["upper"], abs=6e-5)
    assert float(rates["lower_ball"].whole) == pytest.approx(STATICS[name]["lower"], abs=6e-5)


def frame(first: Any, second: Any, third: Any) -> Any:
    """A right-handed frame through three points, as a rotation per position; from positions alone."""
    x = second - first
    x = x / np.linalg.norm(x, axis=0)
    z = np.cross(x, third - first, axis=0)
    z = z / np.linalg.norm(z, axis=0)
    return Rotation.from_matrix(np.moveaxis(np.stack([x, np.cross(z, x, axis=0), z], axis=1), -1, 0))


def turned(pose: Pose) -> dict[str, Any]:
    """How far each joint turns from position to position, rad, by finite rotations."""
    pivots = np.broadcast_to(0.0, (3, pose.travel_in.size))

    def arm(which: str) -> Any:
        front, rear = (getattr(pose.corner, f"{which}_{end}")[:, None] + pivots for end in ("front", "rear"))
        return frame(front, rear, getattr(pose, f"{which}_ball"))

    bodies = {
        "spindle": frame(pose.lower_ball, pose.upper_ball, pose.tie_outer),
        "upper": arm("upper"),
        "lower": arm("lower"),
    }
    relative = {
        "upper_ball": bodies["spindle"].inv() * bodies["upper"],
        "lower_ball": bodies["spindle"].inv() * bodies["lower"],
        "upper_pivot": bodies["upper"],
        "lower_pivot": bodies["lower"],
    }
    return {name: (turn[1:] * turn[:-1].inv()).magnitude() for name, turn in relative.items()}


@pytest.mark.parametrize("name", STATICS)
def test_work_lost_round_a_travel_cycle_is_the_loops_area(name: str) -> None:
    travel = np.linspace(-2, 3, 801)
    pose = solve_travel(corner(name), travel_in=travel)
    torques = {"upper_ball": 7.0, "lower_ball": 48.0, "upper_pivot": 20.0, "lower_pivot": 30.0}
    friction = wheel_friction(pose, preload_in_lb=torques).total_lb
    loss = float(cycle_loss(travel_in=travel, friction_lb=friction))
    # By what the joints turned, there and back, from positions alone.
    by_turning = 2 * sum(torque * float(np.sum(turned(pose)[joint])) for joint, torque in torques.items())
    assert loss == pytest.approx(by_turning, rel=1e-5)
    # By the area between the curves of wheel force going up and coming down (shoelace).
    spring = 500 + 170 * travel
    x, y = np.concatenate([travel, travel[::-1]]), np.concatenate([spring - friction, (spring + friction)[::-1]])
    area = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))
    assert loss == pytest.approx(area, rel=1e-12)


def test_preload_in_the_shop_is_not_friction_on_the_track() -> None:
    # An invented dirt car, right front; by an independent solver, rounded as it printed them.
    for force, torque in ((1450, 81), (1700, 95), (550, 31)):
        got = load_torque(friction_coefficient=0.08, ball_radius_in=0.55, force_lb=force)
        assert float(got) == pytest.approx(torque, abs=0.6)
    pose = solve_travel(corner("dirt rf"), travel_in=0)
    cost = tightness(
        pose,
        tight_in_lb={"upper_ball": 50, "lower_ball": 50},
        free_in_lb={"upper_ball": 5, "lower_ball": 5},
        wheel_rate_lb_per_in=177.2,
    )
    assert [round(float(x), 3) for x in cost] == [5.275, 0.527, 0.06, 0.006]


def test_four_tight_joints_are_two_corners() -> None:
    pose = solve_travel(stack([corner("dirt lf"), corner("dirt rf")]), travel_in=0)
    cost = tightness(
        pose,
        tight_in_lb=dict.fromkeys(("upper_ball", "lower_ball"), 50.0),
        free_in_lb=dict.fromkeys(("upper_ball", "lower_ball"), 0.0),
        wheel_rate_lb_per_in=[159.4, 177.2],
    )
    assert cost.tight_lb.shape == (2,)
    assert np.all(cost.free_lb == 0)


def test_load_part_is_titled_and_kept_apart() -> None:
    pose = solve_travel(corner("dirt rf"), travel_in=0)
    loads = joint_loads(pose, patch_lb=(0, 0, 430))
    size = float(np.linalg.norm(loads.lower_ball_lb))
    assert size == pytest.approx(550, abs=0.6)  # as printed by an independent solver
    torque = load_torque(friction_coefficient=0.08, ball_radius_in=0.55, force_lb=size)
    both = wheel_friction(
        pose, preload_in_lb={"lower_ball": 48, "tie_outer": 5}, load_in_lb={"lower_ball": torque, "tie_outer": 1}
    )
    alone = wheel_friction(pose, preload_in_lb={"lower_ball": 48})
    assert (both.title, alone.title) == ("preload and load parts", "preload part only")
    assert float(both.preload_lb) == float(alone.total_lb)
    assert float(both.load_lb) == pytest.approx(float(torque) * STATICS["dirt rf"]["lower"], rel=3e-3)
    assert float(both.tie_rod_lb) == pytest.approx(6 * float(joint_rates(pose)["tie_outer"].whole))


@pytest.mark.parametrize("motion", ["spin", "tilt"])
@pytest.mark.parametrize("pressure", ["cosine", "uniform"])
def test_seat_factors_by_integration(motion: str, pressure: str) -> None:
    def lever(polar: float, around: float) -> float:
        across = np.sin(polar) * np.cos(around) if motion == "tilt" else np.cos(polar)
        return float(np.sqrt(max(1 - across**2, 0.0)))

    def weight(polar: float) -> float:
        return float(np.cos(polar)) if pressure == "cosine" else 1.0

    torque, _ = dblquad(lambda p, a: weight(p) * lever(p, a) * np.sin(p), 0, 2 * np.pi, 0, np.pi / 2, epsabs=1e-7)
    force, _ = dblquad(lambda p, _: weight(p) * np.cos(p) * np.sin(p), 0, 2 * np.pi, 0, np.pi / 2)
    assert SEAT_FACTORS[motion, pressure] == pytest.approx(torque / force, abs=1e-6)


@pytest.mark.parametrize("model", SEATS)
def test_seat_torques(model: tuple[str, str]) -> None:
    torque = load_torque(friction_coefficient=0.1, ball_radius_in=0.75, force_lb=800, factor=SEAT_FACTORS[model])
    assert SEAT_FACTORS[model] == pytest.approx(SEATS[model]["factor"], abs=1e-7)
    assert float(torque) == pytest.approx(SEATS[model]["torque_in_lb"], rel=1e-7)


def test_a_manuals_torque_band() -> None:
    for metric, printed in zip(MANUAL_TORQUE["n_m"], MANUAL_TORQUE["in_lb_printed"], strict=True):
        pull = metric / N_M_PER_IN_LB / 6
        assert float(pull_scale_torque(pull_lb=pull, lever_in=6)) == pytest.approx(printed, abs=0.5)


def test_spin_and_tilt() -> None:
    rates = joint_rates(solve_travel(corner("asphalt lf"), travel_in=[-2, 0, 3]))
    for turning in rates.values():
        np.testing.assert_allclose(turning.spin**2 + turning.tilt**2, turning.whole**2, rtol=1e-9)
    assert np.all(rates["upper_ball"].tilt > 10 * rates["upper_ball"].spin)  # travel tilts a ball
    pose = solve_travel(corner("asphalt lf"), travel_in=0)
    one, two = (
        float(wheel_friction(pose, preload_in_lb={"upper_ball": 10}, tilt_over_spin=factor).total_lb)
        for factor in (1, 2)
    )
    assert two == pytest.approx(2 * one, rel=1e-3)
    # Steering spins it: along the line of the balls, which is the stud's axis here, wholly.
    torque = steering_torque(pose, torque_in_lb={"upper_ball": 7, "lower_ball": 9}, tilt_over_spin=2)
    assert float(torque) == pytest.approx(16)
    assert float(spin_torque(torque_in_lb=10, turned_about="stud_axis", tilt_over_spin=2)) == 10


def test_what_does_not_close_is_nan_beside_what_does() -> None:
    pose = solve_travel(corner("dirt rf"), travel_in=[0, 40])
    friction = wheel_friction(pose, preload_in_lb=dict.fromkeys(JOINTS, 10.0)).total_lb
    assert np.isfinite(friction).tolist() == [True, False]
    load = load_torque(friction_coefficient=0.1, ball_radius_in=0.5, force_lb=[500, np.nan])
    both = wheel_friction(pose, preload_in_lb={}, load_in_lb={"lower_ball": load})
    assert np.isfinite(dead_band(friction_lb=both.total_lb, wheel_rate_lb_per_in=[170, np.nan])).tolist() == [
        True,
        False,
    ]


def test_bad_arguments_are_refused() -> None:
    pose = solve_travel(corner("dirt rf"), travel_in=0)
    with pytest.raises(ValueError, match=r"preload_in_lb upper_ball is -1 in lb; it must be at least 0 in lb"):
        wheel_friction(pose, preload_in_lb={"upper_ball": -1})
    with pytest.raises(ValueError, match="at most 300 in lb"):
        wheel_friction(pose, preload_in_lb={"upper_ball": 576})
    with pytest.raises(ValueError, match="'hinge'"):
        wheel_friction(pose, preload_in_lb={"hinge": 1})
    with pytest.raises(ValueError, match="load_in_lb upper_ball"):
        wheel_friction(pose, preload_in_lb={}, load_in_lb={"upper_ball": -1})
    with pytest.raises(ValueError, match="one of upper_ball, lower_ball"):
        steering_torque(pose, torque_in_lb={"tie_outer": 1})
    with pytest.raises(ValueError, match="wheel_rate_lb_per_in is -1 lb per in"):
        dead_band(friction_lb=5, wheel_rate_lb_per_in=-1)
    with pytest.raises(ValueError, match="travel_in"):
        cycle_loss(travel_in=[0, 0], friction_lb=[1, 1])
    with pytest.raises(ValueError, match="force_lb is -5 lb"):
        load_torque(friction_coefficient=0.1, ball_radius_in=0.5, force_lb=-5)
    with pytest.raises(ValueError, match="friction_coefficient is 8"):
        load_torque(friction_coefficient=8, ball_radius_in=0.5, force_lb=5)
    with pytest.raises(ValueError, match="turned_about"):
        spin_torque(torque_in_lb=1, turned_about="nut")  # type: ignore[arg-type] # the wrong word is the point
    assert doubtful_torque([6, 8 * 12]).tolist() == [False, True]  # in·lb taken for ft·lb, or in·oz
