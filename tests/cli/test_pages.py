"""Pages a crew chief reads: what stands on them, in which order, and never wider than 100 columns.

The answer's figures are invented; only their layout is looked at.
"""

from typing import Any

import msgspec
import pytest

from studbook.cli.chart import ChartLine, chart
from studbook.cli.effects import effects_page
from studbook.cli.front import front_page
from studbook.wire.answers import Effects, FrontAnswer


def state(**more: Any) -> dict[str, Any]:
    return {
        "travel_in": 0.0,
        "camber_deg": -4.0,
        "toe_deg": -0.12,
        "toe_in": -0.19,
        "caster_deg": 5.15,
        "kingpin_deg": 9.0,
        "scrub_in": 4.43,
        "trail_in": 0.75,
        "camber_gain_deg_per_in": -1.32,
        "bump_steer_deg_per_in": -0.026,
        "bump_steer_in_per_in": -0.012,
        "line_at_center_in": 4.95,
        "patch_in": [0, -31, 0],
        **more,
    }


def axle(height: float | None) -> dict[str, Any]:
    center = (
        {"determinant": 0.2, "y_in": -7.2, "height_in": height}
        if height
        else {"determinant": 0.0, "none_because": "the lines are parallel"}
    )
    force = {"height_in": 4.5, "at_y_in": 1.0, "left_share_percent": 25, "shares_from": "the scales"}
    return {
        "roll_center": center,
        "force_roll_center": force,
        "left_line_at_center_in": 3.16,
        "right_line_at_center_in": 4.95,
    }


def curve(shift: float) -> dict[str, Any]:
    travels = [-1.0, -0.5, 0.0, 0.5, 1.0]
    columns = ("toe_deg", "caster_deg", "scrub_in", "trail_in", "camber_gain_deg_per_in", "bump_steer_deg_per_in")
    return {
        "travel_in": travels,
        "camber_deg": [-4 - 1.3 * each + shift for each in travels],
        **{name: [0.0] * 5 for name in columns},
    }


CAUTION = "A ball joint that fails takes steering and brakes with it: after any contact inspect it, and replace it."
SPREAD = {"corner": "rf", "stud": "upper", "outcome": "camber_deg", "least": -0.83, "most": -0.02, "unit": "deg"}
LIMIT = {"corner": "rf", "direction": "bump", "travel_in": 3.25, "ran_out": "upper arm"}
CHANGED = {
    "before": state(),
    "springs_hold": state(camber_deg=-4.42, travel_in=0.03),
    "height_restored": state(camber_deg=-4.37),
    "restored": state(bump_steer_deg_per_in=-0.086),
    "all_restored": state(),
    "before_curve": curve(0),
    "height_restored_curve": curve(0.4),
    "all_restored_curve": curve(0.1),
    "adjustments": [
        {"setting": "bump_steer", "by": "outer_spacer", "where": "RF", "amount_in": 0.19, "text": "add 0.19 in (3/16)"}
    ],
    "ball_moves": ["RF upper ball goes UP 0.50 in"],
    "axis_spread": [SPREAD],
    "limits": [LIMIT],
}
UNCHANGED = {
    "before": state(),
    "height_restored": state(),
    "before_curve": curve(0),
    "height_restored_curve": curve(0),
    "adjustments": [],
}
EFFECTS = {
    "engine": "1",
    "headline": ["RF upper stud +0.50 in: " + "camber and a good deal more to say about it, " * 4],
    "changes": [{"path": "setup.front.rf.upper_stud.length_in", "before": 1.2, "after": 1.7, "unit": "in"}],
    "assumptions": ["An assumption."],
    "missing": [{"subject": "anti_dive", "fields": ["setup.cg.height_in"]}],
    "cautions": [CAUTION],
    "lf": UNCHANGED,
    "rf": CHANGED,
    "axle": {"before": axle(3.87), "height_restored": axle(4.05), "restored": axle(None)},
}


def effects(**more: Any) -> list[str]:
    return effects_page(msgspec.convert(EFFECTS | more, Effects))


def test_sentences_first_then_figures_then_how_sure() -> None:
    page = "\n".join(effects())
    order = [
        "RF upper stud +0.50 in:",
        "setup.front.rf.upper_stud.length_in",
        "LEFT FRONT: as it was.",
        "RIGHT FRONT",
        "To put it right:",
        "RF upper ball goes UP",
        "axis not measured",
        "RF bump ends at 3.25 in: the upper arm runs out",
        "Camber deg: o before, x all put right, # both",
        "FRONT AXLE",
        "Not computed",
        "anti dive: needs setup.cg.height_in",
        "Assumptions",
        "Cautions",
    ]
    places = [page.index(each) for each in order]
    assert places == sorted(places)


def test_what_is_missing_is_named_once_and_by_its_group() -> None:
    points = "survey.front.lf.points"
    lacks = [
        {
            "subject": "LF geometry",
            "fields": [f"{points}.tie_inner_in", f"{points}.tie_outer_in", "survey.front.lf.toe_deg"],
        },
        {"subject": "on the scales", "fields": [f"{points}.tie_inner_in", "setup.front.lf.tire.rate_lb_per_in"]},
        {"subject": "roll center", "fields": [f"{points}.tie_inner_in"]},
    ]
    page = " ".join(" ".join(effects(missing=lacks)).split())
    assert f"- LF geometry: needs {points}: tie_inner_in, tie_outer_in; survey.front.lf.toe_deg" in page
    assert "- on the scales: needs what is named above; setup.front.lf.tire.rate_lb_per_in" in page
    assert "- roll center: needs what is named above" in page


def test_nothing_is_wider_than_100_columns() -> None:
    assert max(len(line) for line in effects()) <= 100


def test_stages_stand_side_by_side() -> None:
    page = effects()
    row = next(line for line in page if line.startswith("camber deg"))
    assert row.split() == ["camber", "deg", "-4.00", "-4.42", "-4.37", "-4.00", "-4.00"]
    bump = next(line for line in page if line.startswith("bump steer deg/in"))
    assert bump.split()[3:] == ["-0.026", "-0.026", "-0.026", "-0.086", "-0.026"]
    assert next(line for line in page if line.startswith("  to 1/32")).split()[2:4] == ["3/16", "out"]
    assert next(line for line in page if line.startswith("roll center up")).split()[-3:] == ["3.87", "4.05", "-"]


def test_a_thin_answer_is_a_short_page() -> None:
    page = effects_page(Effects(engine="1", headline=["Nothing."], changes=[], assumptions=[], missing=[], cautions=[]))
    assert page == ["Nothing."]


def test_a_front_page() -> None:
    corner = {"now": state(motion_ratio=0.646), "curve": curve(0), "limits": [LIMIT], "axis_spread": [SPREAD]}
    corner["spread"] = [{"outcome": "camber_deg", "plus_or_minus": 0.012, "unit": "deg", "worst": "upper_ball.z"}]
    answer = {
        "engine": "1",
        "assumptions": [],
        "missing": [],
        "cautions": [CAUTION],
        "rf": corner,
        "axle": axle(3.87),
        "turn_toe": [{"turn_deg": 20.0, "toe_out_deg": 0.5, "toe_out_in": 0.2}],
    }
    page = front_page(msgspec.convert(answer, FrontAnswer))
    text = "\n".join(page)
    assert next(line for line in page if line.startswith("motion ratio")).split() == ["motion", "ratio", "0.646"]
    assert "Roll center, by geometry: 3.87 in up, 7.2 right of the datum line" in text
    assert [line.split() for line in page if line.strip().startswith(("-1 ", "0 ", "+1 "))] == [
        ["-1", "-2.70", "0.00"],
        ["0", "-4.00", "0.00"],
        ["+1", "-5.30", "0.00"],
    ]
    assert max(len(line) for line in page) <= 100


def test_a_front_without_a_roll_center_says_why() -> None:
    answer = {"engine": "1", "assumptions": [], "missing": [], "cautions": [], "axle": axle(None)}
    assert "none: the lines are parallel" in "\n".join(front_page(msgspec.convert(answer, FrontAnswer)))


@pytest.mark.parametrize("points", [[(0.0, 1.0)], [(0.0, 1.0), (1.0, 1.0)]])
def test_a_chart_of_little(points: list[tuple[float, float]]) -> None:
    across, up = zip(*points, strict=True)
    lines = chart("Camber deg", [ChartLine("o", "before", across, up)], across="in")
    assert lines[0] == "Camber deg: o before"
    assert sum(line.count("o") for line in lines[1:]) == len(points)


def test_a_chart_of_nothing() -> None:
    assert chart("Camber deg", [ChartLine("o", "before", [], [])], across="in") == []
