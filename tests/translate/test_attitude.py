"""A whole car on the ground: the engine's answers under the book's names, and what stops it."""

import datetime as dt
from typing import Any

import numpy as np
import pytest
from msgspec import UNSET

from present import present
from studbook.history.canonical import Tree
from studbook.wire.attitude import AttitudeAnswer
from studbook_service.demo import scenario
from studbook_service.engine.ground import ground
from studbook_service.translate.attitude import attitude_answer, attitude_tried
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.origins import origins
from studbook_service.translate.stances import ChassisAttitude
from translate.documents import HEIGHTS, whole_car, with_edits

LEVEL = ChassisAttitude(0.0, 0.0, 0.0)
WHEELS = ("lf", "rf", "lr", "rr")


def answer(tree: Tree, place: ChassisAttitude | None = None) -> AttitudeAnswer:
    return attitude_answer(tree, origins=origins([tree]), attitude=place)


@pytest.mark.parametrize("kind", ["dirt", "asphalt"])
def test_at_the_surveyed_height_nothing_moves(kind: str) -> None:
    found = answer(whole_car(kind), LEVEL)
    for name in WHEELS:
        wheel, patch = getattr(found.requested, name), found.survey_patches[name]
        assert wheel.travel_in == pytest.approx(-patch.height_in, abs=1e-4)
        assert wheel.patch_in[2] == pytest.approx(0, abs=1e-6)
        assert not patch.off
    # Roll centers by an independent constraint solver, see tests/golden.
    heights = (3.87, 11.132) if kind == "dirt" else (2.95, 10.312)
    centers = (
        present(found.requested).front_roll_center.height_in,
        present(found.requested).rear_roll_center.height_in,
    )
    assert centers == pytest.approx(heights, abs=6e-3)


def test_roll_leans_the_front_by_the_camber_gain_and_the_axle_not_at_all() -> None:
    found = answer(whole_car(), ChassisAttitude(0.0, 1.0, 0.0))
    # Right side down a degree: the right wheel goes up 33 in x sin 1 deg, gains 1.32 deg/in, and leans out a degree.
    expected = found.ride_height.rf.camber_deg - 1.323 * 33 * np.sin(np.radians(1)) + 1
    assert present(found.requested).rf.camber_deg == pytest.approx(expected, abs=0.05)
    assert present(found.requested).lr.camber_deg == pytest.approx(found.ride_height.lr.camber_deg, abs=1e-6)
    assert present(found.requested).rr.travel_in > 0 > present(found.requested).lr.travel_in


def test_heights_read_since_give_the_attitude_it_stands_at() -> None:
    under = ground(heave_in=-0.6, roll_deg=1.2, pitch_deg=0.7)
    edits = {}
    for name, (height, at) in HEIGHTS.items():
        point = under.point(np.array([*at, height], float))
        edits[f"measured__ride_height__{name}__height_in"] = float(point[2])
    stood = answer(with_edits(whole_car(), **edits)).ride_height
    assert (stood.heave_in, stood.roll_deg, stood.pitch_deg) == pytest.approx((-0.6, 1.2, 0.7), abs=2e-3)


def test_heights_that_no_chassis_has_are_refused() -> None:
    heights = {f"measured__ride_height__{name}__height_in": h for name, h in zip(WHEELS, (24, 24, 1, 1), strict=True)}
    with pytest.raises(CannotClose, match=r"measured\.ride_height: the heights lean the chassis 1\d deg"):
        answer(with_edits(whole_car(), **heights))


def test_without_heights_the_surveyed_one_is_assumed_and_said() -> None:
    found = answer(whole_car())
    assert any("surveyed height" in each for each in found.assumptions)
    assert found.requested is UNSET
    assert found.ride_height.heave_in == 0


def test_edits_are_compared_at_the_same_attitude() -> None:
    tree = whole_car()
    stud = with_edits(tree, setup__front__rf__upper_stud__length_in=1.7)
    found = attitude_tried([tree], edited=stud, attitude=ChassisAttitude(-0.5, 2.0, 0.0))
    moved = {each.name: each.difference for each in present(found.effect).figures}
    assert present(moved["requested.rf.camber_deg"]) < -0.3
    assert not any(".lf." in name for name in moved)
    assert attitude_tried([tree], edited=None, attitude=LEVEL).effect is UNSET


def test_a_bigger_tire_goes_up_into_the_chassis_held_where_it_is() -> None:
    tree = with_edits(whole_car(), setup__rear__rr__tire__loaded_radius_in=14.65)
    # The axle leans to the left tire: half an inch at one wheel is half an inch of its travel.
    assert present(answer(tree, LEVEL).requested).rr.travel_in == pytest.approx(0.5, abs=0.01)
    assert present(answer(tree, LEVEL).requested).lr.travel_in == pytest.approx(0, abs=0.01)


def test_camber_built_into_the_axle_is_added() -> None:
    plain, bent = whole_car(), with_edits(whole_car(), setup__rear__axle__camber_right_deg=-0.5)
    difference = answer(bent).ride_height.rr.camber_deg - answer(plain).ride_height.rr.camber_deg
    assert difference == pytest.approx(-0.5, abs=1e-6)


def test_a_droop_limit_is_told_from_ride_height() -> None:
    limit = {"setup__rear__lr__droop_limit__travel_in": 2, "setup__rear__lr__droop_limit__kind": "chain"}
    found = answer(with_edits(whole_car(), **limit), ChassisAttitude(1.0, 3.0, 0.0))
    assert len(found.limits) == 1
    assert found.limits[0].startswith("LR: ")
    assert "past its chain at 2.00 in" in found.limits[0]


def test_a_patch_off_the_ground_at_the_survey_is_flagged() -> None:
    lifted = with_edits(whole_car(), survey__rear__lr__loaded_radius_in=13.5)
    found = answer(lifted)
    assert found.survey_patches["lr"].off
    assert any("LR: at the survey its patch lies 0.051 in above" in each for each in found.assumptions)


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (ChassisAttitude(8.0, 15.0, -4.0), r"LF cannot follow the ground at \+8.00 in of heave.* runs out"),
        (ChassisAttitude(8.0, 0.0, 0.0), "rear axle cannot follow the ground.*left_upper runs out 93 % of the way"),
    ],
)
def test_a_wheel_that_cannot_follow_is_named(place: ChassisAttitude, said: str) -> None:
    with pytest.raises(CannotClose, match=said):
        answer(whole_car(), place)


def test_all_that_is_lacking_at_either_end_is_named() -> None:
    tree = with_edits(
        whole_car(), survey__front__lf__points__upper_ball_in=None, survey__rear__rr__wheel_center_in=None
    )
    with pytest.raises(FieldsMissing) as refused:
        answer(tree)
    fields = [field for each in refused.value.missing for field in each.fields]
    assert fields == ["survey.front.lf.points.upper_ball_in", "survey.rear.rr.wheel_center_in"]


@pytest.mark.parametrize("car", ["7", "12", "21"])
def test_the_demo_cars_stand(car: str) -> None:
    document: dict[str, Any] = scenario.base(car, today=dt.date(2026, 6, 1))
    found = answer(document, ChassisAttitude(-1.0, 2.5, 0.5))
    assert not any(patch.off for patch in found.survey_patches.values())
    assert present(found.requested).lf.camber_deg < found.ride_height.lf.camber_deg
    assert not found.missing
    assert present(present(found.requested).rf.load_lb) > present(found.ride_height.rf.load_lb)
