"""Every figure of a damping answer by hand, where test_damping.py does not hold it already."""

import math
from typing import Any

import pytest
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook_service.translate.rear import rear_answer
from translate.documents import car, whole_car, with_edits
from translate.test_damping import FITTED, GRAVITY, SHOCK, answer, fitted

STRAIGHT = [[1, 20], [3, 60], [5, 100], [10, 200]]
"""A linear shock of 20 lb s/in, whose every figure is known."""
LINEAR = {f"{SHOCK}__{way}__curve_in_per_s_lb": STRAIGHT for way in ("compression", "rebound")}


def told(tree: Tree, **asked: float) -> Any:
    """An answer whose every figure is expected: one that is left out fails where it is compared."""
    return answer(tree, **asked)


def test_both_slopes_and_both_damping_ratios() -> None:
    found = told(fitted(**(LINEAR | {f"{SHOCK}__rebound__curve_in_per_s_lb": [[1, 30], [3, 90], [5, 150], [10, 300]]})))
    corner, at = found.rf, found.rf.shock.at["5"]
    critical = 2 * math.sqrt(corner.wheel_rate_lb_per_in * (503 - 73) / GRAVITY)
    ratio = corner.shock_motion_ratio
    for way, slope in (("compression", 20), ("rebound", 30)):
        assert getattr(at, f"{way}_slope_lb_s_per_in") == pytest.approx(slope, rel=1e-6)
        assert getattr(at, f"wheel_{way}_lb_s_per_in") == pytest.approx(slope * ratio**2, rel=1e-6)
        assert getattr(at, f"{way}_damping_ratio") == pytest.approx(slope * ratio**2 / critical, rel=1e-5)
    assert corner.sprung_lb == 503 - 73


def test_the_cycle_of_a_linear_shock_is_pi_c_omega_x_squared() -> None:
    # A stroke of 1.5 in at 0.8 Hz: E = pi c omega X^2; its coefficient is its own.
    found = told(fitted(**LINEAR), stroke_in=1.5, frequency_hz=0.8)
    corner, cycle = found.rf, found.rf.shock.cycle
    omega, half = 2 * math.pi * 0.8, 0.75
    work = math.pi * 20 * omega * half**2
    assert (cycle.stroke_in, cycle.frequency_hz) == (1.5, 0.8)
    assert cycle.peak_in_per_s == pytest.approx(omega * half, rel=1e-6)
    assert cycle.work_in_lb == pytest.approx(work, rel=1e-6)
    assert cycle.coefficient_lb_s_per_in == pytest.approx(20, rel=1e-6)
    at_wheel = 20 * corner.shock_motion_ratio**2
    assert cycle.wheel_coefficient_lb_s_per_in == pytest.approx(at_wheel, rel=1e-5)
    critical = 2 * math.sqrt(corner.wheel_rate_lb_per_in * (503 - 73) / GRAVITY)
    assert cycle.damping_ratio == pytest.approx(at_wheel / critical, rel=1e-5)
    # Below 1 in/s, four times in a cycle: nothing there at the least, 20 lb held over its distance at the most.
    peak = omega * half
    slow, distance = 4 * _slow_work(peak, half), half * (1 - math.sqrt(1 - 1 / peak**2))
    assert cycle.least_in_lb == pytest.approx(work - slow, rel=1e-6)
    assert cycle.most_in_lb == pytest.approx(work - slow + 4 * 20 * distance, rel=1e-6)


def _slow_work(peak: float, half: float) -> float:
    """Work of 20 lb s/in from rest to 1 in/s in a quarter cycle: the integral of 20 V^2 sin^2 over the time."""
    edge = math.asin(1 / peak)
    return 20 * peak * half * (edge - math.sin(edge) * math.cos(edge)) / 2


def test_stacks_of_both_ways() -> None:
    stack = {f"{SHOCK}__compression__stack_in": [[1.1, 0.008], [1.1, 0.012]]}
    shock = told(fitted(**stack)).rf.shock
    assert shock.compression_stack_in == pytest.approx((0.008**3 + 0.012**3) ** (1 / 3), abs=1e-6)
    assert shock.rebound_stack_in is UNSET


def test_a_tire_stands_below_its_rollout() -> None:
    tires = {"setup__front__rf__tire__rollout_in": 87.0, "setup__front__rf__tire__loaded_radius_in": 13.5}
    assert told(fitted(**tires)).rf.static_tire_deflection_in == pytest.approx(87 / (2 * math.pi) - 13.5, abs=1e-6)


def test_a_bar_of_unequal_arms_and_slack() -> None:
    bar = {
        "outer_diameter_in": 1.25,
        "active_length_in": 34,
        "arm_left_in": 14,
        "arm_right_in": 11,
        "slack_in": 0.25,
        "hooked": False,
    }
    found = told(fitted(setup__front__bar=bar)).front_bar
    twist = math.pi * 11.5e6 * 1.25**4 / (32 * 34)
    assert found.twist_in_lb_per_rad == pytest.approx(twist, rel=1e-6)
    # Each end an inch apart from the other, half an inch each way: the twist is (1/14 + 1/11)/2, its force T/arm.
    turned = (1 / 14 + 1 / 11) / 2
    assert found.left_end_lb_per_in == pytest.approx(twist * turned / 14, rel=1e-6)
    assert found.right_end_lb_per_in == pytest.approx(twist * turned / 11, rel=1e-6)
    assert (found.slack_in, found.hooked) == (0.25, False)


def test_road_speeds() -> None:
    rear = {"setup__rear__lr__tire__rollout_in": 86.0, "setup__rear__rr__tire__rollout_in": 88.5}
    gears = {"setup__drivetrain": {"ring_pinion_ratio": 4.86, "spur_ratio": 1.25, "rpm_limit": 7800}}
    found = told(fitted(**rear, **gears)).gears
    # Turns of the axle a minute times 87.25 in, 1,056 in a minute to the mph.
    assert found.mph_per_1000_rpm == pytest.approx(1000 / 6.075 * 87.25 / 1056, rel=1e-6)
    assert found.limit_mph == pytest.approx(7800 / 6.075 * 87.25 / 1056, rel=1e-6)


def rear_sprung() -> Tree:
    """The car with its dirt axle, an upright spring and a linear shock outboard of each."""
    edits: dict[str, Any] = {}
    for name, y, rate, unsprung, tire in (("lr", 20.5, 225, 120, 750), ("rr", -21.5, 200, 130, 850)):
        root, place = f"setup__rear__{name}", f"survey__rear__{name}"
        edits |= {
            f"{root}__spring__rate_lb_per_in": rate,
            f"{root}__unsprung_lb": unsprung,
            f"{root}__tire__rate_lb_per_in": tire,
            f"{place}__spring": {"chassis_in": [-103, y, 28], "moving_in": [-103, y, 14], "sits_on": "axle"},
            f"{place}__shock": {"chassis_in": [-106, y + 4, 27], "moving_in": [-106, y + 6, 13], "sits_on": "axle"},
        }
        edits |= {f"{root}__shock__{way}__curve_in_per_s_lb": STRAIGHT for way in ("compression", "rebound")}
    return with_edits(whole_car(), **edits)


def test_the_rear_in_bump() -> None:
    tree = rear_sprung()
    now: Any = rear_answer(tree, origins={}).now
    ride = told(tree).rear_ride
    for name in ("lr", "rr"):
        assert getattr(told(tree), name).shock_motion_ratio == getattr(now, name).shock.bump_ratio > 0.5
    rate = 225 * now.lr.spring.bump_ratio**2 + 200 * now.rr.spring.bump_ratio**2
    damping = 20 * now.lr.shock.bump_ratio**2 + 20 * now.rr.shock.bump_ratio**2
    sprung = 718 - 120 + 629 - 130
    assert ride.rate_lb_per_in == pytest.approx(rate, rel=1e-5)
    assert ride.damping_lb_s_per_in == pytest.approx(damping, rel=1e-5)
    assert ride.sprung_lb == sprung
    series = 1 / (1 / rate + 1 / (750 + 850))
    assert ride.hz == pytest.approx(math.sqrt(series * GRAVITY / sprung) / (2 * math.pi), rel=1e-5)
    assert ride.damping_ratio == pytest.approx(damping / (2 * math.sqrt(rate * sprung / GRAVITY)), rel=1e-5)


def test_no_front_mounts_no_figures_at_the_wheel() -> None:
    bare = with_edits(car(), **{path: value for path, value in FITTED.items() if not path.startswith("survey")})
    at = told(bare).rf.shock.at["3"]
    assert at.wheel_compression_lb_s_per_in is UNSET
