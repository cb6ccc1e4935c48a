"""How a document's rear axle stands and moves, against an independent solver's answers on the same invented axles."""

import datetime as dt
import math
from typing import Any

import msgspec
import numpy as np
import pytest
from msgspec import UNSET

from present import present
from studbook.history.canonical import Tree
from studbook.wire.figures import numbers
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook_service.demo import scenario
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.rear import rear_answer
from translate.documents import HEIGHTS, REAR, whole_car, with_edits

BAR = "rear__rods__lateral_bar"


def answer(tree: Tree, over: BumpRolls | None = None) -> RearAnswer:
    return rear_answer(tree, origins={}, over=over)


@pytest.mark.parametrize("kind", ["dirt", "asphalt"])
def test_an_axle_at_its_surveyed_height(kind: str) -> None:
    golden = REAR[kind]["answers"]
    now = answer(whole_car(kind)).now
    assert now.roll_center.height_in == pytest.approx(golden["roll_center_height_in"], abs=1.2e-3)
    assert now.roll_center.y_in == pytest.approx(golden["roll_center_y_in"], abs=1e-3)
    assert now.lateral_bars["lateral_bar"].center_plane_in == pytest.approx(golden["bar_crossing_height_in"], abs=6e-3)
    assert now.axle_steer_deg_per_deg == pytest.approx(golden["steer_per_roll_deg_per_deg"], abs=6e-4)
    assert now.axle_steer_deg_per_in == pytest.approx(golden["steer_per_bump_deg_per_in"], abs=6e-4)
    assert now.pinion_deg_per_in == pytest.approx(golden["pinion_per_bump_deg_per_in"], abs=6e-4)
    assert [now.lr.squat_ratio, now.rr.squat_ratio] == pytest.approx(golden["anti_squat_slopes"], abs=1e-3)
    assert [now.axle_steer_deg, now.pinion_change_deg, now.lr.lead_change_in, now.rr.travel_in] == [0, 0, 0, 0]


def test_the_hiked_dirt_axle_is_a_row_of_the_table() -> None:
    golden = REAR["dirt"]["hiked"]
    table = present(answer(whole_car(), BumpRolls()).table)
    row = list(zip(table.bump_in, table.roll_deg, strict=True)).index((golden["bump_in"], golden["roll_deg"]))
    assert table.left_travel_in[row] == pytest.approx(golden["left_travel_in"], abs=0.02)
    assert table.left_lead_change_in[row] == pytest.approx(golden["left_lead_change_in"], abs=6e-3)
    assert table.axle_steer_deg[row] == pytest.approx(golden["steer_deg"], abs=0.05)
    assert table.pinion_change_deg[row] == pytest.approx(golden["pinion_deg"], abs=0.06)


def test_a_rod_in_another_hole_is_the_axle_surveyed_with_it_there() -> None:
    moved = [-100.2, 15.5, 14.7]
    surveyed = answer(with_edits(whole_car(), **{f"survey__{BAR}__chassis_in": moved}))
    length = math.dist(moved, REAR["dirt"]["rods"]["lateral_bar"]["carrier"])
    fitted = answer(with_edits(whole_car(), **{f"setup__{BAR}__chassis_in": moved, f"setup__{BAR}__length_in": length}))
    then, now = numbers(surveyed.now), numbers(fitted.now)
    assert now.keys() == then.keys()
    for name, (value, _) in then.items():
        assert now[name][0] == pytest.approx(value, rel=1e-6, abs=2e-6), name
    before = answer(whole_car()).now.roll_center
    assert present(fitted.now.roll_center.height_in) > present(before.height_in) + 0.1


def test_a_longer_lateral_bar_pushes_the_axle_over() -> None:
    # The dirt car's bar runs from the left frame to the middle of the axle: longer pushes to the right.
    bar = REAR["dirt"]["rods"]["lateral_bar"]
    length = math.dist(bar["chassis"], bar["carrier"])
    now = answer(with_edits(whole_car(), **{f"setup__{BAR}__length_in": length + 0.25})).now
    assert now.lateral_shift_in == pytest.approx(-0.25, abs=0.03)
    same = answer(with_edits(whole_car(), **{f"survey__{BAR}__length_in": 20.8, f"setup__{BAR}__length_in": 20.8})).now
    assert same.lateral_shift_in == 0


def test_a_wheel_spacer_widens_the_track_and_moves_nothing_else() -> None:
    plain = with_edits(whole_car(), survey__rear__lr__wheel_spacer_in=0, setup__rear__lr__wheel__spacer_in=0)
    wider = answer(with_edits(plain, setup__rear__lr__wheel__spacer_in=1)).now
    before = answer(plain).now
    assert wider.roll_center.height_in != before.roll_center.height_in
    assert wider.axle_steer_deg_per_deg == pytest.approx(before.axle_steer_deg_per_deg, abs=0.01)
    assert (wider.bump_in, wider.roll_deg, wider.lr.lead_change_in) == (0, 0, 0)


def test_ride_heights_say_where_it_stands() -> None:
    low = {f"measured__ride_height__{name}__height_in": height - 1 for name, (height, _) in HEIGHTS.items()}
    now = answer(with_edits(whole_car(), **low)).now
    assert now.bump_in == pytest.approx(1)
    assert now.roll_deg == pytest.approx(0, abs=1e-6)
    over = answer(with_edits(whole_car(), **low), BumpRolls(low_in=-1, high_in=0, roll_low_deg=0, roll_high_deg=0))
    at_survey = present(over.table).bump_in.index(-1)
    assert present(over.table).axle_steer_deg[at_survey] == pytest.approx(0, abs=1e-6)


def test_percentages_by_hand_and_by_what_carries_the_caliper() -> None:
    # 100 x share x slope x wheelbase / cg height (Barton and Fieldhouse, eq. 3.69): share 1 in drive, 48 % in braking.
    braked = with_edits(whole_car(), setup__brakes__rear_caliper_on="axle")
    lr = answer(braked).now.lr
    assert lr.anti_squat_percent == pytest.approx(100 * lr.squat_ratio * 103.4 / 18.5, abs=1e-3)
    assert lr.anti_lift_percent == pytest.approx(0.48 * present(lr.anti_squat_percent), abs=1e-3)
    caged = answer(with_edits(whole_car(), setup__brakes__rear_caliper_on="birdcage")).now.lr
    assert present(caged.anti_lift_percent) < 0 < present(lr.anti_lift_percent)
    floating = answer(with_edits(whole_car(), setup__brakes__rear_caliper_on="floater"))
    assert floating.now.lr.anti_lift_percent is UNSET
    assert any("floater" in each for each in floating.assumptions)


def test_a_spring_on_a_birdcage_against_the_change_of_its_length() -> None:
    mounts: dict[str, Any] = {
        "chassis_in": [-103, 18.2, 28.4],
        "moving_in": [-105.6, 20.5, 11.2],
        "sits_on": "birdcage",
    }
    tree = with_edits(whole_car(), **{f"survey__rear__lr__spring__{leaf}": value for leaf, value in mounts.items()})
    motion = present(answer(tree).now.lr.spring)
    assert motion.length_in == pytest.approx(math.dist(mounts["chassis_in"], mounts["moving_in"]), abs=1e-6)
    lengths = []
    for rise in (-0.01, 0.01):
        heights = {f"measured__ride_height__{name}__height_in": h - rise for name, (h, _) in HEIGHTS.items()}
        lengths.append(present(answer(with_edits(tree, **heights)).now.lr.spring).length_in)
    assert motion.bump_ratio == pytest.approx(-(lengths[1] - lengths[0]) / 0.02, abs=2e-4)


def test_rods_that_leave_the_axle_free_are_refused_in_words() -> None:
    tree = with_edits(whole_car(), **{f"survey__{BAR}": None})
    with pytest.raises(CannotClose, match="slides sideways"):
        answer(tree)


def test_rods_that_hold_a_motion_twice_are_named() -> None:
    second = {"chassis_in": [-108, 15.5, 14.2], "carrier_in": [-107.4, -5.0, 11.0], "on": "axle"}
    edits = {f"setup__rear__rods__second_bar__{leaf}": value for leaf, value in second.items()}
    with pytest.raises(CannotClose, match=r"second_bar.* hold one motion twice"):
        answer(with_edits(whole_car(), **edits))


@pytest.mark.parametrize(("kind", "said"), [("leaf", "leaf spring"), ("truck_arm", "truck arm")])
def test_what_is_not_modeled_is_kept_and_said(kind: str, said: str) -> None:
    third = {"chassis_in": [-80, 21, 10.0], "carrier_in": [-104, 21, 10.0], "on": "axle", "kind": kind}
    edits = {f"setup__rear__rods__extra__{leaf}": value for leaf, value in third.items()}
    found = answer(with_edits(whole_car("asphalt"), **edits))
    assert "extra" not in found.now.rods
    assert any(said in each and "not modeled" in each for each in found.assumptions)
    alone = with_edits(whole_car("asphalt"), **{f"setup__{BAR}__kind": kind})
    with pytest.raises(CannotClose, match=f"slides sideways.*{said}, which is not modeled"):
        answer(alone)


def test_a_pull_bar_is_taken_without_load_and_said() -> None:
    found = answer(with_edits(whole_car(), setup__rear__rods__torque_link__kind="pull"))
    assert any("torque_link: a pull bar gives under drive" in each for each in found.assumptions)


def test_a_thin_rear_names_what_it_lacks() -> None:
    with pytest.raises(FieldsMissing) as refused:
        answer({"notes": "thin"})
    assert "survey.rear.rods" in refused.value.missing[0].fields
    with pytest.raises(FieldsMissing, match=r"survey\.rear\.rods\.lateral_bar\.carrier_in"):
        answer(with_edits(whole_car(), **{f"survey__{BAR}__carrier_in": None}))
    partial = answer(with_edits(whole_car(), setup__cg__height_in=None))
    assert partial.now.lr.anti_squat_percent is UNSET
    assert ["setup.cg.height_in"] in [each.fields for each in partial.missing]


def test_swapped_wheels_are_refused() -> None:
    left, right = REAR["dirt"]["wheel_left"], REAR["dirt"]["wheel_right"]
    swapped = with_edits(whole_car(), survey__rear__lr__wheel_center_in=right, survey__rear__rr__wheel_center_in=left)
    with pytest.raises(CannotClose, match="swapped"):
        answer(swapped)


def test_places_out_of_reach_are_left_out_and_the_rod_named() -> None:
    found = answer(whole_car(), BumpRolls(low_in=-8, high_in=8, step_in=4, roll_low_deg=-12, roll_high_deg=12))
    count = 5 * 25
    assert 0 < len(present(found.table).bump_in) < count
    assert {each.ran_out for each in found.limits} <= set(found.now.rods)
    assert found.limits
    assert np.isfinite(np.array(present(found.table).roll_center_height_in, float)).all()


def test_a_survey_error_moves_the_roll_center_as_the_bar_does() -> None:
    spread = {each.outcome: each for each in answer(whole_car("asphalt"), BumpRolls()).spread}
    # A level bar's end 1/16 in higher lifts its crossing near the middle by about half of that.
    assert spread["roll_center_height_in"].plus_or_minus == pytest.approx(1 / 32, abs=0.01)
    assert spread["roll_center_height_in"].worst.startswith("lateral_bar")


@pytest.mark.parametrize("car", ["7", "12", "21"])
def test_the_demo_cars_answer(car: str) -> None:
    document = scenario.base(car, today=dt.date(2026, 6, 1))
    found = answer(document, BumpRolls())
    assert found.missing == []
    assert not found.limits
    assert abs(found.now.pinion_change_deg) < 0.01
    assert len(found.now.rods) == (6 if car == "7" else 4)
    text = msgspec.json.encode(found).decode()
    assert "null" not in text
    told: dict[str, Any] = numbers(found)
    assert told["now.lr.spring.one_wheel_ratio"][1] == "ratio"
    assert told["now.roll_center.height_in"] == (found.now.roll_center.height_in, "in")
