"""Wheel loads on the scales, against published and hand-worked cases and an energy written out in full."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from golden.free_bodies import held_loads, random_car, scale_loads
from golden.wheel_loads import (
    CORNER_WEIGHTS,
    DIRT_REAR,
    DIRT_STUD,
    WEIGHT_JACKING,
    dirt_car,
)
from studbook_service.engine.axle_springs import AxleSprings, beam_axle, independent_wheels, upright_springs
from studbook_service.engine.car import FourWheelCar, car, percentages
from studbook_service.engine.loads import Ballast, ChassisChange, at_attitude, on_scales, rescaled, sensitivity
from studbook_service.engine.one_sided import bar, bump_stop, droop_limit, wheel_row
from studbook_service.engine.vectors import Array

RIGID_LB_PER_IN = 1e10
SQUARE: dict[str, Any] = {"x_in": (0, 0, -104, -104), "y_in": (32, -32, 32, -32), "loads_lb": (600, 600, 600, 600)}
EACH = independent_wheels(left_lb_per_in=200, right_lb_per_in=200)


def square(**given: Any) -> FourWheelCar:
    """A car alike on all four wheels."""
    plain = {"front": EACH, "rear": EACH, "tires_lb_per_in": [RIGID_LB_PER_IN] * 4}
    return car(**{**SQUARE, **plain, **given})


def test_percentages_of_corner_weights() -> None:
    shares = percentages(CORNER_WEIGHTS["loads_lb"])
    assert float(shares.left_percent) == pytest.approx(CORNER_WEIGHTS["left_percent"], rel=1e-14)
    assert float(shares.rear_percent) == pytest.approx(100 - CORNER_WEIGHTS["front_percent"], rel=1e-14)
    assert float(shares.cross_percent) == pytest.approx(CORNER_WEIGHTS["cross_percent"], rel=1e-14)
    assert float(shares.bite_lb) == CORNER_WEIGHTS["bite_lb"]


def test_weight_jacking_on_unequal_tracks() -> None:
    left_front, right_front, left_rear, right_rear = WEIGHT_JACKING["rates_lb_per_in"]
    front, rear = np.array(WEIGHT_JACKING["tracks_in"]) / 2
    jacked = car(
        x_in=(0, 0, -108, -108),
        y_in=(front, -front, rear, -rear),
        loads_lb=(790, 640, 700, 670),
        front=independent_wheels(left_lb_per_in=left_front, right_lb_per_in=right_front),
        rear=independent_wheels(left_lb_per_in=left_rear, right_lb_per_in=right_rear),
        tires_lb_per_in=[1e12] * 4,
    )
    after = on_scales(jacked, ChassisChange(perch_in=[WEIGHT_JACKING["left_front_in"], 0, 0, 0]))
    assert after.change_lb == pytest.approx(WEIGHT_JACKING["change_lb"], abs=1e-7)


def test_four_wheel_rates_of_200_give_50_lb_an_inch() -> None:
    # common practice, by symmetry: 1 in at one wheel is carried by four springs in series
    assert on_scales(square(), ChassisChange(perch_in=[0, 0, 1, 0])).change_lb == pytest.approx(
        [-50, 50, 50, -50], abs=1e-6
    )


def test_a_bar_by_the_closed_formula() -> None:
    # lambda = s A^-1 (K d + g p) / (s C s), A the wheel rates with bars, C = A^-1 and the tires: trade's own formula
    given = dirt_car(front_lb_per_in=(159.4, 177.2), tire_lb_per_in=900)
    barred = replace(given, bars=(bar(axle="front", rate_lb_per_in=360, preload_in=0.2, hooked_when_scaled=False),))
    moved = np.array([0.1, -0.3, 0.2, 0.4])
    equilibria = np.stack([np.ones(4), *given.at_in])
    null = np.linalg.svd(equilibria)[2][3]
    twist = np.array([-1.0, 1, 0, 0])
    with_bar = given.rates_lb_per_in + 360 * np.outer(twist, twist)
    flexible = np.linalg.inv(with_bar)
    wheels = given.rates_lb_per_in @ moved + 360 * 0.2 * twist
    amount = null @ flexible @ wheels / (null @ (flexible + np.eye(4) / 900) @ null)
    assert on_scales(barred, ChassisChange(perch_in=moved)).change_lb == pytest.approx(amount * null, abs=1e-8)
    assert on_scales(barred, ChassisChange(perch_in=moved, hooked=["rear"])).change_lb == pytest.approx(
        on_scales(given, ChassisChange(perch_in=moved)).change_lb, abs=1e-8
    )


def test_unhooking_a_preloaded_bar_loses_its_preload() -> None:
    barred = square(bars=[bar(axle="front", rate_lb_per_in=300, preload_in=0.5)])
    assert on_scales(barred).change_lb == pytest.approx([0] * 4, abs=1e-8)
    loose = on_scales(barred, ChassisChange(hooked=()))
    # 150 lb leaves each front spring, which shares the warp with the rear: half is lost at each
    assert loose.change_lb == pytest.approx([75, -75, -75, 75], abs=1e-5)


def test_a_two_way_bar_keeps_the_force_it_has_when_the_car_is_scaled_again() -> None:
    """A car raised at its right front twists the bar: hand, 4 wheels of 200 lb/in on rigid tires, bar 300 lb/in."""
    barred = square(bars=[bar(axle="front", rate_lb_per_in=300, preload_in=0.5)])
    change = ChassisChange(perch_in=[0, 1, 0, 0])
    there = on_scales(barred, change)
    again = rescaled(barred, change)
    twist = float(there.travel_in[1] - there.travel_in[0])
    assert twist < -0.1  # the raised corner's wheel is further down
    assert float(again.bars[0].preload_in) == pytest.approx(0.5 + twist, abs=1e-9)
    # Unhooked it loses what it had then, whichever way the car came there.
    one, other = on_scales(barred, change._replace(hooked=())), on_scales(again, ChassisChange(hooked=()))
    assert other.loads_lb == pytest.approx(one.loads_lb, abs=1e-6)


def test_a_beam_axle_is_not_two_wheel_rates() -> None:
    springs = beam_axle(
        per_wheel=upright_springs(spring_y_in=(20.5, -21.5), wheel_y_in=(31.0, -33.5)), spring_lb_per_in=(225, 200)
    )
    rates = springs.rates_lb_per_in
    assert float(rates.sum()) == pytest.approx(DIRT_REAR["heave_lb_per_in"], rel=1e-12)
    arms = np.array([31.0, -33.5])

    def roll_stiffness(k: Array) -> float:
        free_heave = arms @ k @ arms - (np.ones(2) @ k @ arms) ** 2 / k.sum()
        return float(np.radians(free_heave))

    assert roll_stiffness(rates) == pytest.approx(DIRT_REAR["roll_in_lb_per_deg"], abs=1)
    assert roll_stiffness(np.diag([225.0, 200.0])) == pytest.approx(DIRT_REAR["as_wheel_rates_in_lb_per_deg"], abs=5)
    wide = dirt_car(front_lb_per_in=(244.5, 274.6), tire_lb_per_in=RIGID_LB_PER_IN)
    by_perch = on_scales(wide, ChassisChange(perch_in=wide.per_perch[:, 2])).change_lb
    assert by_perch[2] == pytest.approx(DIRT_REAR["left_perch_lb_per_in"], abs=0.3)


def test_a_lower_stud_before_anyone_turns_a_perch() -> None:
    given = dirt_car(front_lb_per_in=(244.5, 274.6), tire_lb_per_in=RIGID_LB_PER_IN)
    after = on_scales(given, ChassisChange(stud_in=[0, DIRT_STUD["stud_in"], 0, 0]))
    shares = percentages(after.loads_lb)
    assert after.rise_in == pytest.approx(DIRT_STUD["rise_in"], abs=0.006)
    assert after.change_lb == pytest.approx(DIRT_STUD["change_lb"], abs=0.6)
    assert float(shares.cross_percent) == pytest.approx(DIRT_STUD["cross_percent"], abs=0.05)
    assert float(shares.bite_lb) == pytest.approx(DIRT_STUD["bite_lb"], abs=0.6)
    both = on_scales(given, ChassisChange(stud_in=[-0.52, -0.52, 0, 0]))
    assert both.rise_in[:2] == pytest.approx([-0.52, -0.52], abs=0.01)
    assert np.abs(both.change_lb).max() < 1


def test_least_energy_written_out_in_full() -> None:
    rng = np.random.default_rng(20)
    seen = np.zeros(2, bool)
    for _ in range(25):
        given = random_car(rng)
        perch, stud, radius = rng.uniform(-0.7, 0.7, 4), rng.uniform(-0.5, 0.5, 4), rng.uniform(-0.4, 0.4, 4)
        loads, chassis = scale_loads(given, perch=perch, stud=stud, radius=radius)
        after = on_scales(given.engine(), ChassisChange(perch_in=perch, stud_in=stud, radius_in=radius))
        assert after.loads_lb == pytest.approx(loads, abs=0.05)
        assert after.rise_in == pytest.approx(chassis, abs=5e-4)
        seen |= after.engaged
    assert seen.all()  # both the stop and the chain came in somewhere


def test_an_answer_is_the_same_in_a_batch() -> None:
    given = random_car(np.random.default_rng(3)).engine()
    perch = np.random.default_rng(4).uniform(-1.5, 1.5, (4, 5, 3))
    many = on_scales(given, ChassisChange(perch_in=perch))
    assert many.loads_lb.shape == (4, 5, 3)
    one = on_scales(given, ChassisChange(perch_in=perch[:, 2, 1]))
    assert many.loads_lb[:, 2, 1] == pytest.approx(one.loads_lb, abs=1e-7)
    assert many.engaged[:, 2, 1].tolist() == one.engaged.tolist()


def test_gas_is_a_perch_change() -> None:
    # 75 psi on a 0.625 in rod pushes 23 lb at the shaft; at a rate of 200 lb/in that is 0.115 in of perch
    gas = on_scales(square(), ChassisChange(spring_lb=[0, 23, 0, 0]))
    assert gas.change_lb == pytest.approx(
        on_scales(square(), ChassisChange(perch_in=[0, 0.115, 0, 0])).change_lb, abs=1e-6
    )


def test_ballast_goes_where_it_is_put() -> None:
    after = on_scales(square(), ChassisChange(ballast=[Ballast(40, -52, 16), Ballast(-40, -52, -16)]))
    assert after.change_lb.sum() == pytest.approx(0, abs=1e-7)
    assert after.change_lb @ np.array(SQUARE["y_in"]) == pytest.approx(40 * 32, abs=1e-6)
    heavier = on_scales(square(), ChassisChange(ballast=[Ballast(100, -78, 0)]))
    assert heavier.change_lb == pytest.approx([12.5, 12.5, 37.5, 37.5], abs=1e-6)


def test_ride_heights_are_found_where_they_are_measured() -> None:
    after = on_scales(square(), ChassisChange(radius_in=[1, 0, 1, 0]))
    assert after.rise_at(x_in=[-14, -14], y_in=[16, -16]) == pytest.approx([0.75, 0.25], abs=1e-9)


def test_a_stop_carries_from_its_gap_on_and_a_chain_holds() -> None:
    stopped = square(
        stops=[
            bump_stop(
                name="rf bump", per_wheel=wheel_row("rf"), gap_in=0.5, travel_in=[0, 0.2, 0.4], force_lb=[0, 40, 200]
            ),
            droop_limit(name="lr chain", wheel="lr", travel_in=0.25),
        ]
    )
    little = on_scales(stopped, ChassisChange(ballast=[Ballast(60, 0, -32)]))
    assert not little.engaged.any()
    much = on_scales(stopped, ChassisChange(ballast=[Ballast(400, 0, -32), Ballast(-400, -104, 32)]))
    assert much.engaged.tolist() == [True, True]
    assert much.travel_in[2] == pytest.approx(-0.25, abs=1e-3)
    assert much.beyond.tolist() == [bool(much.travel_in[1] > 0.9), False]
    assert not much.lifted.any()


def test_slack_keeps_a_bar_out_and_then_lets_it_in_one_way() -> None:
    free = square(bars=[bar(axle="front", rate_lb_per_in=300, slack_in=0.4)])
    one_way, other = ChassisChange(perch_in=[0, -1.5, 0, 0]), ChassisChange(perch_in=[-1.5, 0, 0, 0])
    plain = square()
    assert on_scales(free, other).change_lb == pytest.approx(on_scales(plain, other).change_lb, abs=1e-6)
    acting = on_scales(free, one_way)
    assert acting.names == ("front bar",)
    assert acting.engaged.all()
    assert not on_scales(free, ChassisChange(perch_in=[0, -0.3, 0, 0])).engaged.any()


def test_a_bar_that_carries_leaves_its_load_when_unhooked() -> None:
    free = square(bars=[bar(axle="front", rate_lb_per_in=300, slack_in=0.2)])
    leaned = rescaled(free, ChassisChange(perch_in=[0, -2, 0, 0]))
    assert leaned.bars[0].slack_in < 0
    unhooked = on_scales(leaned, ChassisChange(hooked=()))
    assert unhooked.loads_lb == pytest.approx(
        on_scales(square(), ChassisChange(perch_in=[0, -2, 0, 0])).loads_lb, abs=1e-5
    )


def test_a_wheel_off_the_scales() -> None:
    after = on_scales(square(loads_lb=(300, 700, 700, 600)), ChassisChange(perch_in=[-8, 0, 0, 0]))
    assert after.lifted.tolist() == [True, False, False, False]
    assert after.loads_lb == pytest.approx([0, 1000, 1000, 300], abs=1e-5)


def test_a_changed_car_may_be_scaled_again() -> None:
    given = random_car(np.random.default_rng(9)).engine()
    first, second = (
        ChassisChange(perch_in=[0.3, -0.5, 0.2, 0.4]),
        ChassisChange(perch_in=[0.4, -0.6, -0.5, 0.1], stud_in=[0.2, 0, 0, 0]),
    )
    both = ChassisChange(perch_in=np.add(first.perch_in, second.perch_in), stud_in=second.stud_in)
    again = on_scales(rescaled(given, first), second)
    assert again.loads_lb == pytest.approx(on_scales(given, both).loads_lb, abs=1e-6)


def test_sensitivity_is_the_slope() -> None:
    given = random_car(np.random.default_rng(11)).engine()
    slopes = sensitivity(given, ChassisChange(stud_in=[0.1, -0.2, 0, 0]))
    step = 1e-4
    for perch in range(4):
        moved = [
            on_scales(given, ChassisChange(stud_in=[0.1, -0.2, 0, 0], perch_in=sign * step * np.eye(4)[perch]))
            for sign in (1, -1)
        ]
        change = (moved[0].loads_lb - moved[1].loads_lb) / (2 * step)
        assert slopes.loads_lb_per_in[:, perch] == pytest.approx(change, abs=1e-3)
        rises = (moved[0].rise_in - moved[1].rise_in) / (2 * step)
        assert slopes.rise_in_per_in[:, perch] == pytest.approx(rises, abs=1e-6)


def test_held_at_an_attitude_with_the_energy_written_out_in_full() -> None:
    rng = np.random.default_rng(21)
    engaged, lifted = np.zeros(2, bool), np.zeros(4, bool)
    for _ in range(30):
        given = random_car(rng)
        perch, stud = rng.uniform(-0.7, 0.7, 4), rng.uniform(-0.5, 0.5, 4)
        heave, roll, pitch = rng.uniform(-2, 4), *np.radians(rng.uniform((-6, -1.5), (6, 1.5)))
        loads, wheels = held_loads(given, attitude=(heave, roll, pitch), perch=perch, stud=stud)
        at = at_attitude(
            given.engine(),
            ChassisChange(perch_in=perch, stud_in=stud),
            heave_in=heave,
            roll_deg=np.degrees(roll),
            pitch_deg=np.degrees(pitch),
        )
        assert at.closed
        assert at.loads_lb == pytest.approx(loads, abs=0.05)
        assert at.u[3:] == pytest.approx(wheels, abs=5e-4)
        engaged |= at.engaged
        lifted |= at.lifted
    assert engaged.all()
    assert lifted.any()


def test_held_where_it_rests_a_car_has_its_own_loads() -> None:
    rng = np.random.default_rng(22)
    for _ in range(10):
        given = random_car(rng).engine()
        change = ChassisChange(perch_in=rng.uniform(-1.5, 1.5, 4), radius_in=rng.uniform(-0.3, 0.3, 4), hooked=["rear"])
        resting = on_scales(given, change)
        same = at_attitude(
            given, change, heave_in=resting.heave_in, roll_deg=resting.roll_deg, pitch_deg=resting.pitch_deg
        )
        assert same.loads_lb == pytest.approx(resting.loads_lb, abs=1e-5)
        assert same.travel_in == pytest.approx(resting.travel_in, abs=1e-7)
        still = at_attitude(given, heave_in=0, roll_deg=0, pitch_deg=0)
        assert still.change_lb == pytest.approx(np.zeros(4), abs=1e-9)


def test_a_wheel_held_alone_is_a_spring_in_series_with_its_tire() -> None:
    # hand: two springs of 200 and 800 lb/in in series are 160 lb/in; roll of a radian is 32 in at the wheel
    soft = square(tires_lb_per_in=[800] * 4)
    roll = np.array([[0.0, 0.4], [-0.2, 1.0]])
    at = at_attitude(soft, heave_in=[0.5, -0.5], roll_deg=roll, pitch_deg=0.0)
    rises = np.array([0.5, -0.5]) + np.radians(roll) * 32
    assert at.loads_lb.shape == (4, 2, 2)
    assert at.change_lb[0] == pytest.approx(-160 * rises, abs=1e-9)
    assert at.travel_in[0] == pytest.approx(-0.8 * rises, abs=1e-9)
    assert at.change_lb.sum(axis=0) == pytest.approx(-640 * np.array([[0.5, -0.5]] * 2), abs=1e-8)


def test_a_wheel_held_off_the_ground_hangs_on_its_spring() -> None:
    soft = square(tires_lb_per_in=[800] * 4, stops=[droop_limit(name="lr chain", wheel="lr", travel_in=2)])
    at = at_attitude(soft, heave_in=4.5, roll_deg=0, pitch_deg=0)
    assert at.lifted.all()
    assert at.loads_lb == pytest.approx([0] * 4, abs=1e-9)
    # 600 lb out of springs of 200 lb/in is 3 in of droop; the chain ends it at 2 in
    assert at.travel_in == pytest.approx([-3, -3, -2, -3], abs=1e-3)
    assert at.engaged.tolist() == [True]


def _crossed() -> AxleSprings:
    return beam_axle(
        per_wheel=upright_springs(spring_y_in=(-20, 20), wheel_y_in=(32, -32)), spring_lb_per_in=(200, 200)
    )


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: square(y_in=(-32, 32, 32, -32)), "y_in has the front left"),
        (lambda: square(y_in=(32, 32, 32, -32)), "y_in has the front left"),
        (lambda: square(x_in=(-104, -104, 0, 0)), "x_in"),
        (lambda: square(x_in=(0, 0, 10, -104)), "x_in"),
        (lambda: square(x_in=(0, 0, -104, 10)), "x_in"),
        (lambda: square(x_in=(-110, 0, -104, -104)), "x_in"),
        (lambda: square(x_in=(0, -110, -104, -104)), "x_in"),
        (lambda: square(tires_lb_per_in=(0, 1, 1, 1)), "tires_lb_per_in is 0 lb per in"),
        (lambda: square(loads_lb=(-1, 1, 1, 1)), "loads_lb is -1 lb"),
        (lambda: square(loads_lb=(1, 1, 1)), "loads_lb must have shape"),
        (lambda: independent_wheels(left_lb_per_in=-200, right_lb_per_in=200), "left_lb_per_in is -200"),
        (_crossed, "spring_y_in has the left"),
        (lambda: beam_axle(per_wheel=[[-0.5, -0.5], [-0.5, -0.5]], spring_lb_per_in=(200, 200)), "determinant"),
        (lambda: beam_axle(per_wheel=[[0.7, 0.3], [0.3, 0.7]], spring_lb_per_in=(200, 200)), "shorten in bump"),
        (lambda: bar(axle="front", rate_lb_per_in=-1), "rate_lb_per_in is -1"),
        (lambda: bar(axle="front", rate_lb_per_in=1, preload_in=1, slack_in=1), "no preload"),
        (
            lambda: bump_stop(name="a", per_wheel=wheel_row("rf"), gap_in=1, travel_in=[0, 1, 1], force_lb=[0, 1, 2]),
            "not single-valued",
        ),
        (
            lambda: bump_stop(name="a", per_wheel=wheel_row("rf"), gap_in=1, travel_in=[0, 1, 2], force_lb=[0, 9, 2]),
            "must not fall",
        ),
        (lambda: droop_limit(name="a", wheel="lr", travel_in=-1), "travel_in is -1 in"),
        (lambda: on_scales(square(), ChassisChange(perch_in=[np.nan, 0, 0, 0])), "perch_in is nan in"),
        (lambda: on_scales(square(), ChassisChange(perch_in=[1, 2])), "perch_in must have shape"),
        (lambda: at_attitude(square(), heave_in=np.inf, roll_deg=0, pitch_deg=0), "heave_in is inf in"),
        (lambda: at_attitude(square(), heave_in=0, roll_deg=50, pitch_deg=0), "roll_deg is 50 deg"),
        (lambda: percentages([0, 0, 0, 0]), "sum of loads_lb is 0 lb"),
    ],
)
def test_bad_arguments_are_refused_by_name(call: Callable[[], object], names: str) -> None:
    with pytest.raises(ValueError, match=names):
        call()
