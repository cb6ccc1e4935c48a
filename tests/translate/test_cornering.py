"""A document's car in a corner, and perch turns that reach a cross weight."""

import datetime as dt
from typing import Any

import pytest
from msgspec import UNSET

from golden.wheel_loads import BANK
from present import present
from studbook.history.canonical import Tree
from studbook.wire.loads import Cornering, CorneringAnswer, PerchesAnswer, PerchSearch
from studbook_service.demo import scenario
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.cornering import cornering_answer
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.perch_turns import perches_answer
from studbook_service.translate.stances import ChassisAttitude
from translate.documents import with_edits

TODAY = dt.date(2026, 5, 2)
WHEELS = ("lf", "rf", "lr", "rr")
REVISION = "0f3a9c"


def car(slug: str = "7") -> Tree:
    return scenario.base(slug, today=TODAY)


def turned(tree: Tree, **wanted: Any) -> CorneringAnswer:
    return cornering_answer(tree, origins={}, wanted=Cornering(revision=REVISION, **wanted))


def weight(tree: Tree) -> float:
    return float(sum(tree["measured"]["scales"][f"{name}_lb"] for name in WHEELS))


@pytest.mark.parametrize("slug", ["7", "12", "21"])
def test_loads_sum_to_what_the_track_must_give(slug: str) -> None:
    answer = turned(car(slug), speed_mph=BANK["speed_mph"], radius_ft=BANK["radius_ft"], banking_deg=BANK["bank_deg"])
    assert answer.lateral_g == pytest.approx(BANK["lateral_g"], abs=1e-6)
    assert answer.normal_g == pytest.approx(BANK["normal_g"], abs=1e-6)
    wheels = [answer.wheels[name] for name in WHEELS]
    assert sum(each.load_lb for each in wheels) == pytest.approx(weight(car(slug)) * BANK["normal_g"], rel=1e-6)
    assert sum(each.side_lb for each in wheels) == pytest.approx(weight(car(slug)) * BANK["lateral_g"], rel=1e-6)
    assert answer.normal_lb == pytest.approx(weight(car(slug)) * BANK["normal_g"], rel=1e-6)
    for each in wheels:
        parts = each.geometric_lb + each.unsprung_lb + each.elastic_lb
        assert each.load_lb - each.static_lb == pytest.approx(each.change_lb, abs=1e-5)
        assert parts == pytest.approx(each.change_lb, abs=1e-4)


def test_a_lap_time_needs_the_corners_part_of_its_speed() -> None:
    at_speed = turned(car(), speed_mph=45, radius_ft=250)
    lap = turned(car(), time_s=18.0, distance_ft=1320, corner_speed_ratio=0.9, radius_ft=250)
    assert lap.speed_mph == pytest.approx(45)
    assert lap.wheels["rf"].load_lb == pytest.approx(at_speed.wheels["rf"].load_lb, abs=1e-6)


def test_thrust_up_the_links_lifts_the_chassis_at_the_rear() -> None:
    coasting = turned(car(), speed_mph=45, radius_ft=250)
    driven = turned(car(), speed_mph=45, radius_ft=250, drive_force_lb=600, yaw_deg=8)
    assert driven.wheels["lr"].travel_in < coasting.wheels["lr"].travel_in - 0.5
    assert driven.wheels["lr"].drive_lb + driven.wheels["rr"].drive_lb == pytest.approx(600)
    left = turned(car(), speed_mph=45, radius_ft=250, drive_force_lb=600, drive_left_percent=70)
    assert (left.wheels["lr"].drive_lb, left.wheels["rr"].drive_lb) == pytest.approx((420, 180))


def test_camber_to_the_track_is_the_attitudes() -> None:
    tree = car()
    answer = turned(tree, speed_mph=55, radius_ft=300, banking_deg=6)
    place = ChassisAttitude(answer.heave_in, answer.roll_deg, answer.pitch_deg)
    asked = attitude_answer(tree, origins={}, attitude=place).requested
    for name in WHEELS:
        # Held at the attitude, springs alone press the tires; in the corner the links carry a part past them.
        assert answer.wheels[name].camber_deg == pytest.approx(getattr(asked, name).camber_deg, abs=0.45)
        assert answer.wheels[name].travel_in == pytest.approx(
            getattr(asked, name).travel_in, abs=abs(answer.wheels[name].change_lb) / 700 + 0.05
        )
    assert answer.wheels["rf"].camber_change_deg == pytest.approx(present(answer.wheels["rf"].camber_deg) + 4, abs=1e-4)


def test_a_stop_and_a_chain_are_named() -> None:
    banked = turned(car("21"), speed_mph=75, radius_ft=300, banking_deg=14)
    assert "RF bump stop" in banked.engaged
    hiked = turned(with_edits(car(), setup__rear__lr__droop_limit__travel_in=1), speed_mph=55, radius_ft=300)
    assert "LR chain" in hiked.engaged
    assert not hiked.wheels["lr"].lifted


def test_a_corner_that_cannot_be_driven() -> None:
    with pytest.raises(CannotClose, match="turns over"):
        turned(car(), speed_mph=150, radius_ft=200)
    with pytest.raises(FieldsMissing) as caught:
        turned(with_edits(car(), setup__rear__lr__unsprung_lb=None), speed_mph=50, radius_ft=300)
    assert caught.value.missing[0].fields == ["setup.rear.lr.unsprung_lb"]


def perches(tree: Tree, **wanted: Any) -> PerchesAnswer:
    return perches_answer(tree, origins=origins([tree]), wanted=PerchSearch(revision=REVISION, **wanted))


def test_turned_as_told_the_car_weighs_as_told() -> None:
    before = car()
    answer = perches(before, cross_percent=51.5, perches=["lr", "rr"], step_turns=0.5)
    edits = {
        f"setup__rear__{name}__spring__perch__thread_showing_in": answer.perches[name].thread_showing_in
        for name in ("lr", "rr")
    }
    after = with_edits(before, **edits)
    turned_loads = loads_answer(after, origins=origins([after, before]))
    assert present(turned_loads.now).cross_percent == pytest.approx(answer.rounded.weights.cross_percent, abs=1e-4)
    assert present(turned_loads.now).cross_percent == pytest.approx(51.5, abs=0.2)
    assert answer.exact.weights.cross_percent == pytest.approx(51.5, abs=1e-5)
    assert answer.wanted_percent == 51.5
    for name in ("lr", "rr"):
        perch, thread = answer.perches[name], before["setup"]["rear"][name]["spring"]["perch"]
        assert perch.along_spring_in == pytest.approx(perch.turns * thread["in_per_turn"], abs=1e-6)
        shows = thread["thread_showing_in"] + perch.along_spring_in
        assert perch.thread_showing_in == pytest.approx(shows, abs=1e-6)
        assert abs(perch.turns - perch.exact_turns) <= 0.25
        assert ("in (tighten" in perch.text) is (perch.turns > 0)
    assert answer.heights == "least disturbed"
    assert "LR " in answer.headline
    assert "51." in answer.headline


def test_four_perches_hold_the_heights() -> None:
    answer = perches(car("21"), cross_percent=52)
    assert answer.heights == "held"
    assert answer.reached
    assert max(abs(getattr(answer.exact.rise, f"{name}_in")) for name in WHEELS) < 1e-6
    rising = [answer.perches[name].exact_turns > 0 for name in WHEELS]
    assert rising == [True, False, False, True]


def test_limits_and_what_a_perch_lacks() -> None:
    assert not perches(car(), cross_percent=52, most_bite_lb=100).within_limits
    assert perches(car(), cross_percent=52, least_bite_lb=100).within_limits
    left = perches(car(), cross_percent=52).rounded.weights.left_percent
    for limits, within in (
        ({"least_left_percent": left + 0.1}, False),
        ({"least_left_percent": left - 0.1}, True),
        ({"most_left_percent": left - 0.1}, False),
        ({"most_left_percent": left + 0.1}, True),
    ):
        assert perches(car(), cross_percent=52, **limits).within_limits is within
    with pytest.raises(FieldsMissing) as caught:
        perches(with_edits(car(), setup__front__lf__spring__perch__in_per_turn=None), cross_percent=51)
    assert caught.value.missing[0].fields == ["setup.front.lf.spring.perch.in_per_turn"]
    tree = with_edits(car(), setup__front__lf__spring__perch__in_per_turn=None)
    assert perches(tree, cross_percent=50.5, perches=["rf"]).perches.keys() == {"rf"}
    assert perches(tree, cross_percent=50.5, perches=["rf"]).perches["rf"].thread_showing_in is not UNSET
