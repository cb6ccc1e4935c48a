"""Pages about the rear axle, an attitude and a subject's figures; the numbers are invented, only the layout counts."""

from typing import Any

import msgspec
import pytest

from studbook.cli.attitude import attitude_page
from studbook.cli.effects import subject_table
from studbook.cli.rear import rear_page
from studbook.wire.attitude import AttitudeAnswer
from studbook.wire.figures import SubjectEffect
from studbook.wire.rear import RearAnswer

CENTER = {"determinant": -0.69, "y_in": -1.33, "height_in": 11.13}
REAR_WHEEL = {"travel_in": 0, "lead_change_in": 0, "wheelbase_in": 103.4, "camber_deg": 0.5, "toe_deg": -0.3}
REAR_WHEEL |= {"squat_ratio": 0.71, "anti_squat_percent": 397}
ALWAYS = {"engine": "1", "assumptions": [], "missing": [], "cautions": ["Check it on the car. " * 8]}
REAR_COLUMNS = (
    *("axle_steer_deg", "pinion_change_deg", "lateral_shift_in", "left_travel_in", "right_travel_in"),
    *("left_lead_change_in", "right_lead_change_in", "left_wheelbase_in", "right_wheelbase_in", "roll_center_y_in"),
    *("left_squat_ratio", "right_squat_ratio"),
)
REAR = {
    "now": {
        **dict.fromkeys(("bump_in", "roll_deg", "axle_steer_deg", "pinion_change_deg", "lateral_shift_in"), 0),
        "axle_steer_deg_per_deg": -0.136,
        "axle_steer_deg_per_in": 0.174,
        "pinion_deg_per_deg": 0.125,
        "pinion_deg_per_in": -2.095,
        "roll_center": CENTER,
        "lateral_bars": {"lateral_bar": {"center_plane_in": 11.78, "axle_middle_in": 11.59}},
        "rods": {"lateral_bar": {"length_in": 20.757, "angle_deg": 8.9}},
        "lr": REAR_WHEEL,
        "rr": REAR_WHEEL,
    },
    "table": {
        **{name: [1.0, 2.0, 3.0] for name in REAR_COLUMNS},
        "bump_in": [-1.5, -1.0, 0.0],
        "roll_deg": [4.0, 4.0, 0.0],
        "roll_center_height_in": [11.6, 11.5, None],
    },
    "limits": [{"bump_in": -7.5, "roll_deg": 0.0, "ran_out": "left_upper"}],
    "spread": [{"outcome": "roll_center_height_in", "plus_or_minus": 0.05, "unit": "in", "worst": "lateral_bar.z"}],
    "grip_ratio": 0.2,
    "loosest": "the axle rolls",
    **ALWAYS,
}


def test_a_rear_page() -> None:
    page = rear_page(msgspec.convert(REAR, RearAnswer))
    text = "\n".join(page)
    assert "Roll center: 11.13 in up, 1.3 right of the datum line" in text
    assert "lateral_bar crosses the datum line 11.78 in up, the axle's middle 11.59 in up" in text
    assert next(line for line in page if line.startswith("anti-squat")).split()[-2:] == ["397", "397"]
    assert not any("birdcage" in line for line in page)
    rows = [line.split() for line in page if line.strip().startswith(("-1", "0 "))]
    assert [(row[0], row[1], row[8]) for row in rows] == [("-1.5", "+4", "11.60"), ("0", "0", "-")]
    assert "left_upper runs out at -7.50 in of bump" in text
    assert max(len(line) for line in page) <= 100


def test_an_attitude_page() -> None:
    wheel = {"travel_in": 1.2, "camber_deg": -4.1, "toe_deg": -0.1, "patch_in": [0.1, -33.0, 0.0]}
    car: dict[str, Any] = dict.fromkeys(("lf", "rf", "lr", "rr"), wheel)
    car |= {"front_roll_center": CENTER, "rear_roll_center": CENTER}
    stands = {"heave_in": 0.0, "roll_deg": 0.0, "pitch_deg": 0.0, **car}
    answer = {
        **ALWAYS,
        "survey_patches": {},
        "ride_height": stands,
        "requested": stands | {"heave_in": -1.5},
        "limits": ["LR: 5.30 in of droop is past its chain at 5.00 in"],
    }
    page = attitude_page(msgspec.convert(answer, AttitudeAnswer))
    text = "\n".join(page)
    assert text.index("AT THE ATTITUDE") < text.index("heave -1.50 in") < text.index("AT RIDE HEIGHT")
    assert "past its chain" in text
    assert "load lb" not in text
    assert "steering" not in text
    assert max(len(line) for line in page) <= 100


def test_an_attitude_page_with_loads_and_steering() -> None:
    wheel = {"travel_in": 1.2, "camber_deg": -4.1, "toe_deg": 13.0, "patch_in": [0.1, -33.0, 0.0]}
    wheel |= {"load_lb": 812.4, "tire_deflection_in": 0.244}
    car: dict[str, Any] = dict.fromkeys(("lf", "rf", "lr", "rr"), wheel)
    car |= {"front_roll_center": CENTER, "rear_roll_center": CENTER}
    stands = {"heave_in": 0.0, "roll_deg": 0.0, "pitch_deg": 0.0, **car}
    carries = {"engaged": ["RF bump stop"], "past_curve": ["RF bump stop"]}
    answer = {
        **ALWAYS,
        "survey_patches": {},
        "ride_height": stands,
        "requested": stands | {"steer_in": -1.5},
        **carries,
    }
    text = "\n".join(attitude_page(msgspec.convert(answer, AttitudeAnswer)))
    rows = {tuple(line.split()) for line in text.splitlines()}
    assert ("load", "lb", *["812"] * 4) in rows
    assert ("more", "tire", "deflection", "in", *["0.24"] * 4) in rows
    assert text.count("steering 1.50 in to the right") == 1
    assert "carrying: RF bump stop" in text
    assert "Pressed further than its curve was measured" in text


def test_a_subject_shows_what_moves_to_speak_of() -> None:
    figure = {"name": "now.roll_center.height_in", "unit": "in", "before": 11.13, "after": 11.35, "difference": 0.22}
    small = {"name": "now.lr.lead_change_in", "unit": "in", "before": 0.0, "after": 0.001, "difference": 0.001}
    effect = msgspec.convert({"subject": "rear", "figures": [figure, small], "unmoved": 40}, SubjectEffect)
    assert subject_table(effect)[1].split() == ["roll", "center", "height", "in", "11.130", "11.350", "+0.220"]
    assert len(subject_table(effect)) == 2


@pytest.mark.usefixtures("small_book")
def test_an_attitude_is_asked_for_with_signs_and_changes(run: Any, small_book: Any) -> None:
    small_book.refuse = {"type": "t", "title": "too high", "status": 422, "code": "cannot_close", "request_id": "r1"}
    assert run("rear", "1111111")[0] == 1
    small_book.refuse = None
    words = ("--heave", "-1.5", "--roll", "2", "--pitch=-0.5", "--steer=-1.5", "rf.upper_stud.length_in+=0.5")
    small_book.answers["/v1/attitude"] = {"bad": True}
    run("attitude", "7/baseline", *words)
    method, path, body = small_book.asked[-1]
    assert (method, path) == ("POST", "/v1/attitude")
    assert (body["heave_in"], body["roll_deg"], body["pitch_deg"], body["steer_in"]) == (-1.5, 2.0, -0.5, -1.5)
    assert body["edits"] == [{"path": "setup.front.rf.upper_stud.length_in", "value": 1.7}]
