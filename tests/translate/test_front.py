"""How a front end stands, against an independent solver's answers on the same invented cars."""

import math
import re
from typing import Any

import pytest
from msgspec import UNSET

from present import present
from studbook.history.canonical import Tree
from studbook.wire.answers import FrontAnswer, Travels
from studbook_service.translate.errors import CannotClose
from studbook_service.translate.front import front_answer
from studbook_service.translate.origins import origins
from translate.documents import GOLDEN, HEIGHTS, car, with_edits


def answer(tree: Tree, travels: Travels | None = None) -> FrontAnswer:
    return front_answer(tree, origins=origins([tree]), travels=travels or Travels())


@pytest.mark.parametrize("kind", ["dirt", "asphalt"])
@pytest.mark.parametrize("name", ["lf", "rf"])
def test_a_corner_at_ride_height(kind: str, name: str) -> None:
    golden = GOLDEN["corners"][f"{kind} {name}"]["answers"]
    corner = getattr(answer(car(kind)), name)
    assert corner.now.camber_gain_deg_per_in == pytest.approx(golden["camber_gain_deg_per_in"], abs=6e-4)
    assert corner.now.bump_steer_deg_per_in == pytest.approx(golden["bump_steer_deg_per_in"], abs=6e-4)
    assert corner.now.caster_deg == pytest.approx(golden["caster_deg"], abs=6e-3)
    assert corner.now.motion_ratio == pytest.approx(golden["motion_ratio"], abs=6e-5)
    at = dict(zip(corner.curve.travel_in, corner.curve.camber_deg, strict=True))
    for travel, camber, _, _ in golden["travel_camber_toe_caster"]:
        assert at[travel] == pytest.approx(camber, abs=6e-4)


def test_both_roll_centers_are_given_and_part_on_an_uneven_car() -> None:
    found = answer(car())
    assert present(found.axle).roll_center.height_in == pytest.approx(3.87, abs=0.01)
    assert present(found.axle).roll_center.y_in == pytest.approx(-7.2, abs=0.05)
    loaded = with_edits(car(), measured__scales__lf_lb=250, measured__scales__rf_lb=750)
    force = present(answer(with_edits(loaded, measured__scales__lr_lb=None)).axle).force_roll_center
    assert force.height_in == pytest.approx(4.50, abs=0.01)
    assert force.at_y_in == 0.0


def test_an_inch_lower_the_gain_is_more_and_the_roll_center_falls() -> None:
    lower = with_edits(car(), measured__ride_height__rf__height_in=HEIGHTS["rf"][0] - 1)
    found = answer(lower)
    assert present(found.rf).now.travel_in == pytest.approx(1.0)
    assert present(found.rf).now.camber_gain_deg_per_in == pytest.approx(-1.53, abs=0.01)
    # 3.53 in is over the mean height of the patches; the answer is over the line that joins them, at the center's y.
    (_, y_left, z_left), (_, y_right, z_right) = present(found.lf).now.patch_in, present(found.rf).now.patch_in
    center = present(found.axle).roll_center
    line = z_right + (z_left - z_right) / (y_left - y_right) * (present(center.y_in) - y_right)
    above_mean = present(center.height_in) + line - (z_left + z_right) / 2
    assert above_mean == pytest.approx(3.53, abs=0.02)
    assert any("height is taken as read at the wheel" in each for each in found.assumptions)


def test_four_heights_give_the_rise_at_the_wheel_itself() -> None:
    read = {
        f"measured__ride_height__{name}__height_in": height - (0.5 if name in {"lf", "rf"} else 0.0)
        for name, (height, _) in HEIGHTS.items()
    }
    found = answer(with_edits(car(), **read))
    # By hand: the plane falls 0.5 in at x = -14 and 0 at x = -86, so 0.597 in at x = 0.
    assert present(found.rf).now.travel_in == pytest.approx(0.5 * 86 / 72, abs=0.002)


def test_a_larger_tire_under_heights_that_are_as_before_is_that_much_travel() -> None:
    """Wheel and chassis rise together by the tire: the chassis read where it was, the wheel is higher in it."""
    same: dict[str, Any] = {
        f"measured__ride_height__{name}__height_in": height for name, (height, _) in HEIGHTS.items()
    }
    then = GOLDEN["corners"]["dirt rf"]["loaded_radius_in"]
    found = answer(with_edits(car(), **same, setup__front__rf__tire__loaded_radius_in=then + 0.25))
    assert present(found.rf).now.travel_in == pytest.approx(0.25, abs=1e-6)
    assert present(found.lf).now.travel_in == pytest.approx(0, abs=1e-6)


def test_steer_curves_turn_left_with_a_rack_ahead_of_the_axle() -> None:
    found = answer(car())
    turn = dict(zip(present(found.steer).rack_in, present(found.steer).right_turn_deg, strict=True))
    assert turn[1.5] == pytest.approx(14.8 + 0.12, abs=0.06)
    assert present(found.steer).left_turn_deg[-1] > 0
    assert {each.turn_deg for each in found.turn_toe} == {-20, -10, 10, 20}


def test_a_drag_link_is_kept_and_said_not_to_be_modeled() -> None:
    found = answer(with_edits(car(), survey__front__steering__kind="drag_link"))
    assert found.steer is UNSET
    assert any("drag link is not modeled" in each for each in found.assumptions)


def test_a_center_link_needs_its_points() -> None:
    tree = with_edits(car(), survey__front__steering__kind="center_link")
    missing = next(each for each in answer(tree).missing if each.subject == "steer curves")
    assert "survey.front.steering.idler_pivot_in" in missing.fields
    points = {
        "survey__front__steering__pitman_pivot_in": [11, 8, 9],
        "survey__front__steering__pitman_axis": [0, 0, 1],
        "survey__front__steering__pitman_end_in": [5.3, 8, 8.2],
        "survey__front__steering__idler_pivot_in": [11, -8, 9],
        "survey__front__steering__idler_axis": [0, 0, 1],
        "survey__front__steering__idler_end_in": [5.3, -8, 8.2],
    }
    found = answer(with_edits(tree, **points))
    assert present(found.steer).rack_in
    assert present(found.steer).left_turn_deg != present(answer(car()).steer).left_turn_deg


def test_a_sixteenth_at_the_inner_rod_end_spoils_the_bump_steer() -> None:
    spread = {each.outcome: each for each in present(answer(car()).rf).spread}
    assert spread["bump_steer_deg_per_in"].plus_or_minus == pytest.approx(0.037, abs=0.005)
    assert spread["bump_steer_deg_per_in"].worst.startswith("tie_")


def test_a_bump_sheet_finds_the_height_of_the_inner_end() -> None:
    low = with_edits(car(), setup__front__rf__moved__tie_inner_in=[0, 0, -0.0625])
    curve = present(answer(low).rf).curve
    at = dict(zip(curve.travel_in, curve.toe_deg, strict=True))
    rows = [[t, 26 * math.tan(math.radians(at[t] - at[0.0])), 0.0] for t in (-2.0, -1.0, 0.0, 1.0, 2.0, 3.0)]
    sheet = {
        "measured__front__rf__bump_sheet__travel_toe_camber": rows,
        "measured__front__rf__bump_sheet__plate_length_in": 26,
    }
    fit = present(present(answer(with_edits(car(), **sheet)).rf).sheet_fit)
    assert fit.tie_inner_up_in == pytest.approx(-0.0625, abs=0.002)
    assert fit.residual_after_deg < 0.002 < fit.residual_before_deg


@pytest.mark.parametrize(("higher", "direction"), [(5.0, "droop"), (-3.8, "bump")])
def test_travel_beyond_the_linkage_is_left_out_and_said(higher: float, direction: str) -> None:
    moved: dict[str, Any] = {
        f"measured__ride_height__{name}__height_in": height + higher for name, (height, _) in HEIGHTS.items()
    }
    moved |= {f"setup__front__rf__moved__upper_{end}_in": [0, -3, 0] for end in ("front", "rear")}
    found = answer(with_edits(car(), **moved), Travels(low_in=-8, high_in=8, step_in=0.5))
    wide = {"lf": present(found.lf), "rf": present(found.rf)}
    assert direction in {each.direction for corner in wide.values() for each in corner.limits}
    for name, corner in wide.items():
        ends = {each.direction: each for each in corner.limits}
        # A limit is from the survey, a curve from where the wheel stands: it ends within a step of half an inch of the
        # limit, and goes to 8 in where there is none.
        low, high = (corner.now.travel_in + corner.curve.travel_in[end] for end in (0, -1))
        assert 0 <= low - ends["droop"].travel_in < 0.5 if "droop" in ends else corner.curve.travel_in[0] == -8
        assert 0 <= ends["bump"].travel_in - high < 0.5 if "bump" in ends else corner.curve.travel_in[-1] == 8
        assert all(
            each.corner == name.upper() and each.ran_out in {"upper arm", "tie rod", "lower arm"}
            for each in ends.values()
        )


@pytest.mark.parametrize(("higher", "way"), [(11.0, "droop"), (-3.8, "bump")])
def test_a_corner_out_of_reach_is_refused_with_the_end_it_came_to(higher: float, way: str) -> None:
    """The end on the side that was asked for: below the survey in droop, above it in bump."""
    moved: dict[str, Any] = {
        f"measured__ride_height__{name}__height_in": height + higher for name, (height, _) in HEIGHTS.items()
    }
    if way == "bump":
        moved["setup__front__rf__upper_stud__length_in"] = 3.0
        moved |= {f"setup__front__rf__moved__upper_{end}_in": [0, -3, -3] for end in ("front", "rear")}
        moved |= {f"setup__front__{name}__tire__loaded_radius_in": 18.0 for name in ("lf", "rf")}
    with pytest.raises(CannotClose, match=r"cannot be assembled at ride height at [+-][0-9.]+ in of travel") as error:
        answer(with_edits(car(), **moved))
    wanted, end = (float(each) for each in re.findall(r"([+-][0-9.]+) in", str(error.value))[:2])
    assert (wanted < end < 0) if way == "droop" else (wanted > end > 0)
    assert re.search(r"where the (upper arm|lower arm|tie rod) runs out", str(error.value))


def test_anti_dive_is_left_out_with_the_fields_it_lacks() -> None:
    found = answer(with_edits(car(), setup__cg__height_in=None))
    assert present(found.rf).now.anti_dive_percent is UNSET
    assert ["setup.cg.height_in"] in [each.fields for each in found.missing]
