"""What a change does, against answers that an independent constraint solver gave on the same invented cars.

The figures in tests/golden/front_corners.json and those quoted here were computed before this engine existed; they are
rounded as quoted, hence the tolerances.
"""

import json
import math

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import UNSET

from present import present
from studbook.history.canonical import Tree
from studbook.wire.answers import Effects, Travels
from studbook_service.translate.effects import effects_between
from studbook_service.translate.errors import CannotClose, FieldsMissing, FieldsUnfit
from studbook_service.translate.front import front_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.subjects import DocumentAnswers
from translate.documents import car, with_edits


def compare(before: Tree, after: Tree, travels: Travels | None = None) -> Effects:
    return effects_between(DocumentAnswers([before]), DocumentAnswers([after, before]), travels=travels or Travels())


def test_a_longer_upper_stud_at_the_right_front() -> None:
    before = car()
    answer = compare(before, with_edits(before, setup__front__rf__upper_stud__length_in=1.7))
    rf = present(answer.rf)
    assert present(rf.springs_hold).camber_deg - rf.before.camber_deg == pytest.approx(-0.42, abs=0.005)
    assert present(rf.springs_hold).toe_deg - rf.before.toe_deg == pytest.approx(-0.13, abs=0.005)
    assert present(rf.restored).camber_deg == pytest.approx(-4.0, abs=1e-6)
    assert present(rf.restored).camber_gain_deg_per_in == pytest.approx(-1.495, abs=0.002)
    assert present(rf.restored).bump_steer_deg_per_in == pytest.approx(-0.086, abs=0.002)
    assert present(rf.all_restored).bump_steer_deg_per_in == pytest.approx(rf.before.bump_steer_deg_per_in, abs=1e-6)
    assert present(present(answer.axle).restored).roll_center.height_in == pytest.approx(4.06, abs=0.01)
    assert present(present(answer.axle).restored).roll_center.y_in == pytest.approx(-9.2, abs=0.05)
    spacer = next(each for each in rf.adjustments if each.setting == "bump_steer")
    assert spacer.amount_in == pytest.approx(0.19, abs=0.015)
    shims = [each for each in rf.adjustments if each.setting == "camber and caster"]
    assert sum(each.amount_in for each in shims) / 2 == pytest.approx(-0.09, abs=0.01)  # clip: shim moves it inboard
    assert rf.ball_moves == ["RF upper ball goes UP 0.49 in relative to the spindle"]


def test_a_longer_lower_stud_drops_the_car_or_leans_the_wheel_the_other_way() -> None:
    before = car()
    rf = present(compare(before, with_edits(before, setup__front__rf__lower_stud__length_in=1.85)).rf)
    assert present(rf.springs_hold).camber_deg - rf.before.camber_deg == pytest.approx(-0.38, abs=0.005)
    assert rf.height_restored.camber_deg - rf.before.camber_deg == pytest.approx(+0.38, abs=0.01)
    assert present(rf.springs_hold).toe_deg - rf.before.toe_deg == pytest.approx(-0.60, abs=0.005)
    assert present(rf.springs_hold).travel_in == pytest.approx(0.52, abs=0.01)
    perch = next(each for each in rf.adjustments if each.setting == "height")
    assert perch.turns == pytest.approx(5.4, abs=0.4)


def test_the_spring_on_the_upper_arm_reverses_which_stud_moves_the_car() -> None:
    before = with_edits(
        car(),
        survey__front__rf__spring__sits_on="upper_arm",
        survey__front__rf__spring__moving_in=[-0.5, -21.5, 17.4],
        survey__front__rf__spring__chassis_in=[-0.6, -19.5, 28.0],
    )
    upper = present(compare(before, with_edits(before, setup__front__rf__upper_stud__length_in=1.7)).rf)
    lower = present(compare(before, with_edits(before, setup__front__rf__lower_stud__length_in=1.85)).rf)
    assert present(upper.springs_hold).travel_in == pytest.approx(-0.54, abs=0.03)
    assert abs(present(lower.springs_hold).travel_in) < 0.08


def test_an_unmeasured_axis_is_said_with_its_spread() -> None:
    before = car()
    answer = compare(before, with_edits(before, setup__front__rf__upper_stud__length_in=1.7))
    assert any("axis was not measured" in each for each in answer.assumptions)
    camber = next(each for each in present(answer.rf).axis_spread if each.outcome == "camber_deg")
    assert camber.least < present(answer.rf).height_restored.camber_deg < camber.most
    measured = with_edits(before, survey__front__rf__upper_stud__axis=[-0.089, 0.159, 0.983])
    answer = compare(measured, with_edits(measured, setup__front__rf__upper_stud__length_in=1.7))
    assert present(answer.rf).axis_spread == []
    assert not any("RF upper stud: its axis was not measured" in each for each in answer.assumptions)


@pytest.mark.parametrize("lean", [10.0, -10.0])
def test_a_boss_that_leans_ten_degrees_doubles_the_camber_or_takes_it_away(lean: float) -> None:
    angle = math.radians(lean)
    y, z = 0.163, 0.983  # the ball line of that corner, nearly
    leant = [-0.089, y * math.cos(angle) + z * math.sin(angle), z * math.cos(angle) - y * math.sin(angle)]
    before = with_edits(car(), survey__front__rf__upper_stud__axis=leant)
    rf = present(compare(before, with_edits(before, setup__front__rf__upper_stud__length_in=1.7)).rf)
    expected = -0.02 if lean > 0 else -0.83
    assert present(rf.springs_hold).camber_deg - rf.before.camber_deg == pytest.approx(expected, abs=0.03)


def test_no_change_has_no_effect() -> None:
    answer = compare(car(), car())
    assert answer.headline == ["Nothing in the front's geometry changes."]
    for corner in (answer.lf, answer.rf):
        assert present(corner).adjustments == []
        assert present(corner).restored is UNSET
        for name in ("camber_deg", "toe_deg", "bump_steer_deg_per_in"):
            assert getattr(present(corner).height_restored, name) == pytest.approx(
                getattr(present(corner).before, name), abs=1e-6
            )
            assert getattr(present(corner).springs_hold, name) == pytest.approx(
                getattr(present(corner).before, name), abs=1e-6
            )


def test_a_change_of_shims_alone_is_not_undone() -> None:
    before = car()
    edited = with_edits(
        before, setup__front__rf__upper_shims__front_in=0.375, setup__front__rf__upper_shims__rear_in=0.375
    )
    rf = present(compare(before, edited).rf)
    assert present(rf.springs_hold).camber_deg - rf.before.camber_deg == pytest.approx(-0.60, abs=0.005)
    assert present(rf.springs_hold).toe_deg - rf.before.toe_deg == pytest.approx(-0.18, abs=0.005)
    assert rf.restored is UNSET


def test_unequal_shims_move_caster() -> None:
    before = car()
    edited = with_edits(
        before, setup__front__rf__upper_shims__front_in=0.3125, setup__front__rf__upper_shims__rear_in=0.1875
    )
    rf = present(compare(before, edited).rf)
    assert rf.height_restored.caster_deg - rf.before.caster_deg == pytest.approx(-0.58, abs=0.01)


def test_bump_steer_is_in_the_headline_of_every_stud() -> None:
    before = car()
    for corner, stud, length in [("lf", "upper", 1.7), ("rf", "lower", 1.85), ("lf", "lower", 1.85)]:
        edit = {f"setup__front__{corner}__{stud}_stud__length_in": length}
        answer = compare(before, with_edits(before, **edit))
        assert any("bump steer" in sentence for sentence in answer.headline)


def test_a_reading_put_back_by_hand_implies_the_shim_and_is_not_counted_twice() -> None:
    before = car()
    reading = {"at": "2026-05-02", "camber_deg": -4.0, "toe_deg": -0.12}
    put_back = with_edits(before, setup__front__rf__upper_stud__length_in=1.7, measured__front__rf__alignment=reading)
    rf = present(compare(before, put_back).rf)
    assert present(rf.implied_after).camber_move_in == pytest.approx(0.09, abs=0.01)
    assert "not recorded" in present(rf.implied_after).text
    assert rf.height_restored.camber_deg == pytest.approx(-4.0, abs=1e-4)

    later = with_edits(put_back, setup__front__rf__upper_shims__front_in=0.375)
    read_in = origins([later, put_back, before])
    assert read_in["rf"] == put_back
    then = front_answer(later, origins=read_in, travels=Travels())
    alone = front_answer(put_back, origins=read_in, travels=Travels())
    assert present(then.rf).now.camber_deg < present(alone.rf).now.camber_deg - 0.1


@pytest.mark.parametrize(("name", "side"), [("lf", 1), ("rf", -1)])
def test_a_reading_implies_the_very_moves_that_made_it(name: str, side: int) -> None:
    """Both upper pivots 0.05 in outboard, the front one 0.03 in more than the rear, the rod 0.04 in longer."""
    root = f"setup__front__{name}"
    moved = with_edits(
        car(),
        **{
            f"{root}__moved__upper_front_in": [0, side * (0.05 + 0.015), 0],
            f"{root}__moved__upper_rear_in": [0, side * (0.05 - 0.015), 0],
            f"{root}__tie_rod__moves_per_turn_in": 0.1,
            f"{root}__tie_rod__turns": 0.4,
        },
    )
    stands = getattr(front_answer(moved, origins=origins([moved]), travels=Travels()), name).now
    reading = {
        "at": "2026-05-02",
        **{f"{each}_deg": getattr(stands, f"{each}_deg") for each in ("camber", "caster", "toe")},
    }
    read = with_edits(car(), **{f"measured__front__{name}__alignment": reading})
    implied = getattr(front_answer(read, origins=origins([read]), travels=Travels()), name).implied
    assert implied.camber_move_in == pytest.approx(0.05, abs=1e-4)
    assert implied.caster_move_in == pytest.approx(0.03, abs=1e-4)
    assert implied.tie_rod_in == pytest.approx(0.04, abs=1e-4)
    assert "outboard against rear" in implied.text
    assert "0.040 in longer" in implied.text


@pytest.mark.parametrize(("arm", "length"), [("lower", 1.85), ("lower", 0.85), ("upper", 1.7), ("upper", 0.9)])
@pytest.mark.parametrize("name", ["lf", "rf"])
def test_the_perch_is_tightened_by_as_much_as_the_spring_is_longer_when_all_is_put_right(
    name: str, arm: str, length: float
) -> None:
    before = car()
    corner = getattr(
        compare(before, with_edits(before, **{f"setup__front__{name}__{arm}_stud__length_in": length})), name
    )
    longer = (corner.restored or corner.all_restored).spring_length_in
    if corner.all_restored:
        longer = corner.all_restored.spring_length_in
    longer -= corner.before.spring_length_in
    found = [each for each in corner.adjustments if each.setting == "height"]
    assert len(found) == (abs(longer) >= 0.002)
    for perch in found:
        assert perch.amount_in == pytest.approx(longer, abs=2e-6)
        assert perch.turns == pytest.approx(longer / 0.0625, abs=1e-4)
        assert ("tighten, raises the car" in perch.text) is (longer > 0)
        assert ("loosen, lowers the car" in perch.text) is (longer < 0)
        assert f"{abs(longer / 0.0625):.1f} turns" in perch.text


def test_pieces_and_what_remains_add_up_to_the_amount() -> None:
    before = car()
    answer = compare(before, with_edits(before, setup__front__rf__upper_stud__length_in=1.7))
    found = present(answer.rf).adjustments
    pieced = [each for each in found if each.pieces_in is not UNSET]
    assert {each.by for each in pieced} == {"upper_shims", "outer_spacer"}
    for each in pieced:
        pieces, remaining = present(each.pieces_in), present(each.remaining_in)
        assert sum(pieces) + remaining == pytest.approx(each.amount_in, abs=1e-9)
        half_a_piece = 1 / 64 if each.by == "upper_shims" else 1 / 32
        assert abs(remaining) <= half_a_piece + 1e-9
        assert all((piece > 0) is (each.amount_in > 0) for piece in pieces)
    [rod] = [each for each in found if each.by == "tie_rod"]
    assert rod.turns == pytest.approx(rod.amount_in / 0.111111, abs=1e-6)
    assert rod.flats == pytest.approx(6 * present(rod.turns), abs=0.26)


def test_a_thin_document_says_what_it_lacks() -> None:
    with pytest.raises(FieldsMissing) as caught:
        compare({"notes": "empty"}, {"notes": "still empty"})
    fields = [path for each in caught.value.missing for path in each.fields]
    assert "survey.front.rf.points.upper_ball_in" in fields
    assert "survey.front.lf.loaded_radius_in" in fields


def test_one_corner_is_answered_without_the_other() -> None:
    before = with_edits(car(), survey__front__lf__points__lower_ball_in=None)
    answer = compare(before, with_edits(before, setup__front__rf__upper_stud__length_in=1.7))
    assert answer.lf is UNSET
    assert answer.axle is UNSET
    assert present(present(answer.rf).restored).camber_gain_deg_per_in == pytest.approx(-1.495, abs=0.002)
    assert ["survey.front.lf.points.lower_ball_in"] in [each.fields for each in answer.missing]


def test_a_linkage_that_cannot_close_is_named() -> None:
    before = car()
    apart = with_edits(before, setup__front__rf__moved__upper_front_in=[0, 4, 0])
    apart = with_edits(apart, setup__front__rf__moved__upper_rear_in=[0, 4, 0])
    apart = with_edits(apart, setup__front__rf__upper_stud__length_in=3.0, setup__front__rf__tie_rod__turns=-40)
    with pytest.raises(CannotClose, match=r"RF cannot be assembled after the change.*(tie rod|upper arm)"):
        compare(before, apart)


def test_swapped_sides_are_noticed() -> None:
    swapped = car()
    front = swapped["survey"]["front"]
    front["lf"], front["rf"] = front["rf"], front["lf"]
    with pytest.raises(CannotClose, match=r"left and right may be swapped"):
        compare(swapped, swapped)


def test_a_value_out_of_bounds_is_refused_before_any_arithmetic() -> None:
    wild = with_edits(car(), survey__front__rf__loaded_radius_in=344.2)
    with pytest.raises(FieldsUnfit, match=r"344.2 in is above the most accepted, 18 in"):
        compare(wild, wild)


def numbers(value: object) -> list[float]:
    if isinstance(value, dict):
        return [x for item in value.values() for x in numbers(item)]
    if isinstance(value, list):
        return [x for item in value for x in numbers(item)]
    return [value] if isinstance(value, int | float) else []


@settings(max_examples=25)
@given(
    upper=st.floats(0.6, 3), lower=st.floats(0.6, 3), shim=st.floats(0, 3), spacer=st.floats(0, 2), up=st.floats(-4, 4)
)
def test_no_answer_ever_holds_a_nan(upper: float, lower: float, shim: float, spacer: float, up: float) -> None:
    before = car()
    edited = with_edits(
        before,
        setup__front__rf__upper_stud__length_in=upper,
        setup__front__rf__lower_stud__length_in=lower,
        setup__front__lf__upper_shims__front_in=shim,
        setup__front__lf__tie_rod__outer_spacer_in=spacer,
        setup__front__rf__moved__tie_inner_in=[0, 0, up],
    )
    try:
        answer = compare(before, edited, Travels(low_in=-8, high_in=8, step_in=1))
    except CannotClose:
        return
    encoded = msgspec.json.encode(answer)
    assert b"null" not in encoded  # msgspec writes NaN and infinity as null
    assert numbers(json.loads(encoded))


def test_a_wheel_an_inch_further_out() -> None:
    before = with_edits(car(), survey__front__rf__wheel_offset_in=3, setup__front__rf__wheel__offset_in=3)
    rf = present(compare(before, with_edits(before, setup__front__rf__wheel__offset_in=4)).rf)
    assert rf.before.scrub_in == pytest.approx(4.43, abs=0.005)
    assert rf.height_restored.scrub_in == pytest.approx(5.44, abs=0.01)
    # By hand: at -4 deg the axis rises outboard by sin 4 deg in per in, so the wheel goes up and the car sits lower.
    assert present(rf.springs_hold).patch_in[2] == pytest.approx(0.0698, abs=5e-4)
