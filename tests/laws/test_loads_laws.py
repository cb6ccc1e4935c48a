"""Laws of wheel loads that hold for every car, change and corner."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from golden.free_bodies import RandomCar, random_car
from studbook_service.engine.car import percentages
from studbook_service.engine.cornering import Thrust, cornering_state
from studbook_service.engine.loads import Ballast, ChassisChange, on_scales, rescaled
from studbook_service.engine.perches import find_perches
from studbook_service.engine.track import InPlane

LAW = settings(max_examples=25)
SWAPPED = [1, 0, 3, 2]

cars = st.integers(0, 2**32 - 1).map(lambda seed: random_car(np.random.default_rng(seed)))
amounts = st.lists(st.floats(-1, 1), min_size=4, max_size=4)


def mirrored(car: RandomCar) -> RandomCar:
    """The same car seen in a mirror; a stop or chain stays on its side, so both are out of reach."""
    swap: Any = {name: getattr(car, name)[SWAPPED] for name in ("x", "loads", "tires", "unsprung", "unsprung_height")}
    return replace(
        car,
        **swap,
        y=-car.y[SWAPPED],
        front=car.front[::-1],
        rear=car.rear[::-1],
        rear_y=-car.rear_y[::-1],
        bar_preload=-car.bar_preload,
        slopes=-car.slopes[::-1],
        shift=-car.shift,
        drive_slopes=car.drive_slopes[::-1],
    )


@LAW
@given(cars, amounts, amounts, st.floats(-300, 300), st.floats(-110, 5), st.floats(-35, 35))
def test_loads_sum_to_the_weight_and_so_do_their_moments(
    car: RandomCar, perch: list[float], stud: list[float], weight: float, x: float, y: float
) -> None:
    after = on_scales(car.engine(), ChassisChange(perch_in=perch, stud_in=stud, ballast=[Ballast(weight, x, y)]))
    assert bool(after.closed)
    assert after.change_lb.sum() == pytest.approx(weight, abs=1e-6)
    assert after.change_lb @ car.x == pytest.approx(weight * x, abs=1e-4)
    assert after.change_lb @ car.y == pytest.approx(weight * y, abs=1e-4)


@LAW
@given(cars, amounts)
def test_a_perch_out_and_back_is_nothing(car: RandomCar, perch: list[float]) -> None:
    there = rescaled(car.engine(), ChassisChange(perch_in=perch))
    back = on_scales(there, ChassisChange(perch_in=-np.array(perch)))
    assert back.loads_lb == pytest.approx(car.loads, abs=1e-6)
    assert there.loads_lb.min() >= 0


@LAW
@given(cars, amounts, amounts, st.floats(0.1, 0.9))
def test_a_mirrored_car_has_mirrored_answers(
    car: RandomCar, perch: list[float], stud: list[float], lateral: float
) -> None:
    free = replace(car, stop_gap=50.0, chain_in=50.0)
    other = mirrored(free)
    one = on_scales(free.engine(), ChassisChange(perch_in=perch, stud_in=stud))
    two = on_scales(other.engine(), ChassisChange(perch_in=np.array(perch)[SWAPPED], stud_in=np.array(stud)[SWAPPED]))
    assert two.loads_lb == pytest.approx(one.loads_lb[SWAPPED], abs=1e-6)
    assert two.roll_deg == pytest.approx(-one.roll_deg, abs=1e-8)
    left = cornering_state(
        free.engine(), track=InPlane(lateral, 1.1), masses=free.masses(), links=free.links(), thrust=Thrust(300, 0.4, 6)
    )
    right = cornering_state(
        other.engine(),
        track=InPlane(-lateral, 1.1),
        masses=other.masses(),
        links=other.links(),
        thrust=Thrust(300, 0.6, -6),
    )
    assert right.loads_lb == pytest.approx(left.loads_lb[SWAPPED], abs=1e-5)
    assert right.side_lb == pytest.approx(-left.side_lb[SWAPPED], abs=1e-5)
    assert right.travel_in == pytest.approx(left.travel_in[SWAPPED], abs=1e-7)


@LAW
@given(cars, st.floats(-0.6, 1.2), st.floats(0.9, 1.4), st.floats(-300, 900), st.floats(-5, 15))
def test_loads_in_a_corner_sum_to_the_forces_applied(
    car: RandomCar, lateral: float, normal: float, drive: float, yaw: float
) -> None:
    turning = cornering_state(
        car.engine(),
        track=InPlane(lateral, normal),
        masses=car.masses(),
        links=car.links(),
        thrust=Thrust(drive, 0.5, yaw),
    )
    assert bool(turning.closed)
    total = car.loads.sum()
    assert turning.loads_lb.sum() == pytest.approx(total * normal, abs=1e-6)
    assert (turning.loads_lb - car.loads * normal) @ car.x == pytest.approx(-drive * car.cg_height, abs=1e-3)
    path = turning.side_lb.sum() * np.cos(np.radians(yaw)) + drive * np.sin(np.radians(yaw))
    assert path == pytest.approx(total * lateral, abs=1e-6)
    assert (turning.loads_lb >= 0).all()
    assert turning.lifted.tolist() == (turning.loads_lb == 0).tolist()


@LAW
@given(cars)
def test_standing_still_nothing_moves(car: RandomCar) -> None:
    still = cornering_state(car.engine(), track=InPlane(0, 1), masses=car.masses(), links=car.links())
    assert still.change_lb == pytest.approx([0] * 4, abs=1e-9)
    assert still.travel_in == pytest.approx([0] * 4, abs=1e-9)


@LAW
@given(cars, st.floats(-2, 2))
def test_four_perches_reach_a_cross_weight_with_the_heights_held(car: RandomCar, more: float) -> None:
    target = float(percentages(car.loads).cross_percent) + more
    found = find_perches(car.engine(), cross_percent=target, pitch_in=[1 / 16] * 4)
    assert bool(found.reached)
    assert np.abs(found.state.rise_in).max() < 1e-8
