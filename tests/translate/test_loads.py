"""A document's car on its scales: against the trade's own formula, hand answers, and readings a crew would take."""

import datetime as dt
import itertools
import json
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import UNSET

from golden.wheel_loads import DIRT_REAR
from present import present
from studbook.history.canonical import Tree
from studbook.wire.answers import Effects, Travels
from studbook.wire.loads import LoadsAnswer
from studbook.wire.scales import OnScales
from studbook_service.demo import scenario
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.effects import effects_between
from studbook_service.translate.errors import CannotClose, FieldsMissing, FieldsUnfit
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.rear import rear_answer
from studbook_service.translate.subjects import DocumentAnswers
from translate.documents import whole_car, with_edits

TODAY = dt.date(2026, 5, 2)
WHEELS = ("lf", "rf", "lr", "rr")


def sprung() -> Tree:
    """The dirt car with spindle rear springs, its tires, and nothing that acts one way."""
    rear = {
        name: {
            "spring": {
                "rate_lb_per_in": rate,
                "free_length_in": 14,
                "installed_length_in": 11.4,
                "perch": {"in_per_turn": 0.0625, "thread_showing_in": 3},
            },
            "spring_base_in": base,
            "tire": {"rate_lb_per_in": tire},
            "unsprung_lb": 123,
        }
        for name, rate, base, tire in (("lr", 225, 20.5, 750), ("rr", 200, -21.5, 850))
    }
    edits: dict[str, Any] = {"setup__rear": rear}
    for name, installed, tire in (("lf", 9.89, 800), ("rf", 10.4, 900)):
        edits[f"setup__front__{name}__spring__free_length_in"] = 12
        edits[f"setup__front__{name}__spring__installed_length_in"] = installed
        edits[f"setup__front__{name}__spring__perch__thread_showing_in"] = 2.5
        edits[f"setup__front__{name}__tire__rate_lb_per_in"] = tire
        edits[f"setup__front__{name}__unsprung_lb"] = 72
    return with_edits(whole_car(), **edits)


def loads(tree: Tree, *before: Tree) -> LoadsAnswer:
    return loads_answer(tree, origins=origins([tree, *before]))


def effects(before: Tree, after: Tree) -> Effects:
    return effects_between(DocumentAnswers([before]), DocumentAnswers([after, before]), travels=Travels())


def on_scales(**edits: Any) -> OnScales:
    before = sprung()
    answer = effects(before, with_edits(before, **edits))
    assert isinstance(answer.on_scales, OnScales), answer.missing
    return answer.on_scales


def four(value: Any, unit: str) -> list[float]:
    return [getattr(value, f"{name}_{unit}") for name in WHEELS]


def test_a_beam_axle_is_not_two_wheel_rates() -> None:
    rear = present(loads(sprung()).rear)
    assert rear.heave_lb_per_in == pytest.approx(DIRT_REAR["heave_lb_per_in"], abs=0.5)
    assert rear.roll_in_lb_per_deg == pytest.approx(DIRT_REAR["roll_in_lb_per_deg"], abs=6)


def test_a_lower_stud_on_the_scales_by_the_trades_formula() -> None:
    # lambda = s' A^-1 K d / (s' C s) with A = K and C = K^-1 + 1/k_tire, s the null vector of the three equilibria
    # (common practice, no source); the displacement and the patches are those told of the springs held.
    before, edit = sprung(), {"setup__front__rf__lower_stud__length_in": 1.85}
    answer = effects(before, with_edits(before, **edit))
    rf = present(answer.rf)
    patch_up = present(rf.springs_hold).patch_in[2] - rf.before.patch_in[2]
    front, rear = present(loads(before).front), present(loads(before).rear)
    stiff = np.zeros((4, 4))
    stiff[0, 0], stiff[1, 1] = front.left_lb_per_in, front.right_lb_per_in
    stiff[2:, 2:] = [
        [rear.left_lb_per_in, rear.coupling_lb_per_in],
        [rear.coupling_lb_per_in, rear.right_lb_per_in],
    ]
    at = np.array([present(answer.lf).before.patch_in[:2], rf.before.patch_in[:2], [-103.4, 31.0], [-103.0, -33.5]]).T
    s = np.linalg.svd(np.vstack([np.ones(4), at]))[2][-1]
    give = np.linalg.inv(stiff) + np.diag([1 / 800, 1 / 900, 1 / 750, 1 / 850])
    expected = s * (s @ np.array([0, -patch_up, 0, 0])) / (s @ give @ s)
    # The patch also moves inboard with its camber; its couple is the difference.
    assert four(present(answer.on_scales).change, "lb") == pytest.approx(list(expected), abs=1.2)
    assert present(answer.on_scales).change.rf_lb == pytest.approx(-13, abs=1.5)
    assert present(answer.on_scales).rise.rf_in == pytest.approx(-0.44, abs=0.02)
    assert present(answer.on_scales).rise.lr_in == pytest.approx(0.16, abs=0.02)
    sentence = next(
        each for each in answer.headline if each.startswith("On the scales, before any perch is turned: RF -")
    )
    assert "cross 50.0 -> 49" in sentence


def test_weight_moves_but_none_is_made() -> None:
    for edit in ({"setup__front__lf__upper_stud__length_in": 1.7}, {"setup__rear__rr__tire__rate_lb_per_in": 900}):
        found = on_scales(**edit)
        assert sum(four(found.change, "lb")) == pytest.approx(0, abs=1e-5)


def test_a_perch_out_and_back_is_nothing() -> None:
    before = sprung()
    out = with_edits(before, setup__rear__lr__spring__perch__thread_showing_in=2.75)
    found = present(effects(before, out).on_scales)
    assert found.change.lr_lb < -5
    assert found.causes == ["LR perch 4 turns out (lowers)"]
    assert present(loads(out, before).now).lr_lb == pytest.approx(found.after.lr_lb, abs=1e-6)
    assert four(loads(before, out, before).now, "lb") == pytest.approx([590, 503, 718, 629], abs=1e-6)


def test_a_perch_that_is_turned_is_not_said_to_be_left_alone() -> None:
    before = sprung()
    headline = effects(before, with_edits(before, setup__rear__lr__spring__perch__thread_showing_in=2.75)).headline
    assert any(each.startswith("On the scales: LR -") for each in headline)


def test_a_spring_of_equal_force_at_its_seat_moves_nothing() -> None:
    # 225 x (14 - 11.4) = 585 lb = 195 x (14.4 - 11.4)
    found = on_scales(setup__rear__lr__spring__rate_lb_per_in=195, setup__rear__lr__spring__free_length_in=14.4)
    assert four(found.change, "lb") == pytest.approx([0] * 4, abs=1e-6)
    stiffer = on_scales(setup__rear__lr__spring__rate_lb_per_in=250)
    assert stiffer.change.lr_lb > 5
    assert stiffer.causes == ["LR spring 225 -> 250 lb/in: +65 lb at its seat"]


def test_gas_is_a_perch() -> None:
    # 75 psi on a 0.625 in rod push 23 lb (common practice, no source).
    shock = {"gas_psi": 0, "rod_diameter_in": 0.625}
    before = with_edits(
        sprung(),
        setup__front__rf__shock=shock,
        survey__front__rf__shock=sprung()["survey"]["front"]["rf"]["spring"],
    )
    found = present(effects(before, with_edits(before, setup__front__rf__shock__gas_psi=75)).on_scales)
    assert found.causes == ["RF gas: +23 lb at the shaft"]
    assert found.change.rf_lb > 0.5
    assert found.rise.rf_in > 0.03


def test_ballast_is_weighed_where_it_is_put() -> None:
    item = {"weight_lb": 50, "position_in": [-60, 15, 10]}
    found = on_scales(setup__ballast__rail=item)
    change = np.array(four(found.change, "lb"))
    at = np.array([[0, 0, -103.4, -103.0], [32.0, -33.0, 31.0, -33.5]])
    assert change.sum() == pytest.approx(50, abs=1e-4)
    assert at @ change / 50 == pytest.approx([-60, 15], abs=0.1)


def test_a_wheel_further_out_bears_less() -> None:
    before = with_edits(sprung(), survey__front__rf__wheel_offset_in=3, setup__front__rf__wheel__offset_in=3)
    found = present(effects(before, with_edits(before, setup__front__rf__wheel__offset_in=4)).on_scales)
    assert found.change.rf_lb < -4
    assert "RF patch 0.99 in outboard" in found.causes


def test_what_was_changed_since_the_scales_were_read_comes_on_top_of_the_reading() -> None:
    read = with_edits(sprung(), measured__scales__at="2026-04-01")
    later = with_edits(read, setup__rear__rr__spring__perch__thread_showing_in=3.25)
    again = with_edits(later, measured__scales__at="2026-04-20")
    answer = loads(later, read)
    assert present(answer.read).rr_lb == 629
    assert present(answer.now).rr_lb > 635
    assert answer.since == ["RR perch 4 turns in (raises)"]
    assert present(answer.height_since).rr_in > 0.05
    assert present(loads(again, later, read).now).rr_lb == 629


def test_the_demo_agrees_with_its_own_scales() -> None:
    """What each change of the story does on the scales is what its crew then reads, to 2.5 lb."""
    seen = 0
    for car in scenario.team().cars:
        documents: list[Tree] = []
        for step in scenario.story(car, today=TODAY):
            if step.sheet != "baseline":
                continue
            documents.insert(0, step.document)
            reading = step.document["measured"]["scales"]
            if len(documents) == 1 or reading == documents[1]["measured"]["scales"]:
                continue
            found = present(
                effects_between(DocumentAnswers(documents[1:]), DocumentAnswers(documents), travels=Travels()).on_scales
            )
            assert four(found.after, "lb") == pytest.approx(four(found.read, "lb"), abs=2.5), step.note
            seen += 1
    assert seen >= 5


def test_the_bar_both_ways() -> None:
    answer = loads(scenario.base("21", today=TODAY))
    assert answer.read == answer.bars_unhooked
    assert answer.bars_hooked == answer.now
    assert present(answer.now).cross_percent > present(answer.read).cross_percent + 0.3
    assert answer.since[0].startswith("front bar:")


@pytest.mark.parametrize("rod", ["left_upper", "left_lower", "right_upper", "right_lower"])
def test_a_rod_that_parts_a_springs_mounts_lets_its_corner_down(rod: str) -> None:
    """The birdcage turns: mounts further apart at one height are a spring let out by as much; nearer, one wound in."""
    before = scenario.base("7", today=TODAY)
    length = before["setup"]["rear"]["rods"][rod]["length_in"]
    after = with_edits(before, **{f"setup__rear__rods__{rod}__length_in": length + 0.5})
    name = "lr" if rod.startswith("left") else "rr"
    was, now = (
        getattr(rear_answer(each, origins=origins([each, before])).now, name).spring for each in (before, after)
    )
    apart = now.length_in - was.length_in
    assert abs(apart) > 0.05
    found = present(effects(before, after).on_scales)
    [cause] = [each for each in found.causes if each.startswith(f"{name.upper()} wheel")]
    assert ("up at held springs" in cause) is (apart > 0)
    assert ("down at held springs" in cause) is (apart < 0)
    rise = getattr(found.rise, f"{name}_in")
    assert (rise < 0) is (apart > 0)
    # By the spring's own ratio, the other wheel held, less what the car's other corners take of it.
    assert 0.4 < -rise * was.one_wheel_ratio / apart < 1.0


@pytest.mark.parametrize("name", WHEELS)
def test_a_larger_tire_is_larger_and_nothing_else(name: str) -> None:
    """A quarter inch of loaded radius raises its corner by less than that, and moves no wheel against its arm."""
    before, end = sprung(), "front" if name in ("lf", "rf") else "rear"
    then = before["survey"][end][name]["loaded_radius_in"]
    root = f"setup__{end}__{name}__tire__loaded_radius_in"
    before = with_edits(before, **{root: then})
    found = present(effects(before, with_edits(before, **{root: then + 0.25})).on_scales)
    assert found.causes == [f"{name.upper()} loaded radius +0.250 in"]
    assert 0.05 < getattr(found.rise, f"{name}_in") < 0.25
    assert getattr(found.change, f"{name}_lb") > 1


def test_the_sheet_for_the_wall_adds_up() -> None:
    sheet = present(loads(scenario.base("7", today=TODAY)).sheet)
    assert [len(getattr(sheet, field)) for field in sheet.__struct_fields__] == [len(sheet.what)] * 11
    for row, what in enumerate(sheet.what):
        change = [getattr(sheet, f"{name}_lb")[row] for name in WHEELS]
        assert sum(change) == pytest.approx(0, abs=1e-4), what
        assert sheet.cross_percent[row] == pytest.approx(100 * (change[1] + change[2]) / 2440, abs=1e-4)
        assert sheet.bite_lb[row] == pytest.approx(change[2] - change[3], abs=1e-5)
    row = sheet.what.index("RF ride +1/8 in")
    assert sheet.rf_in[row] == pytest.approx(0.125, abs=1e-6)


def test_the_weight_and_how_sure_its_place_is() -> None:
    cg = present(loads(scenario.base("7", today=TODAY)).cg)
    assert cg.behind_front_in == pytest.approx((718 * 103.4 + 629 * 103.0) / 2440, abs=0.02)
    assert cg.height_in == pytest.approx(18.5, abs=0.1)
    assert 0.3 < present(cg.height_sigma_in) < 0.8
    assert cg.recorded_height_in == 18.5
    assert present(loads(scenario.base("12", today=TODAY)).cg).height_from == "the setup, by estimate"


def test_where_the_weight_is_and_how_sure_by_hand() -> None:
    """A moment over the weight; its error is a pad's at each wheel's arm about it, by the root of the squares."""
    tree = scenario.base("7", today=TODAY)
    loads_lb, cg = np.array([590.0, 503, 718, 629]), present(loads(tree).cg)
    stance = attitude_answer(tree, origins=origins([tree])).ride_height
    at = np.array([getattr(stance, name).patch_in[:2] for name in WHEELS])
    middle = loads_lb @ at / loads_lb.sum()
    sigma = tree["measured"]["raised_weighing"]["scale_sigma_lb"]
    wanted = sigma * np.sqrt(((at - middle) ** 2).sum(axis=0)) / loads_lb.sum()
    assert (-cg.behind_front_in, cg.left_of_datum_in) == pytest.approx(tuple(middle), abs=0.02)
    assert cg.left_of_datum_in > 0  # 53.6 % on the left
    assert (cg.behind_front_sigma_in, cg.left_of_datum_sigma_in) == pytest.approx(tuple(wanted), rel=2e-3)


def test_a_ride_of_an_eighth_is_an_eighth_at_its_own_corner() -> None:
    sheet = present(loads(scenario.base("7", today=TODAY)).sheet)
    for name in WHEELS:
        row = sheet.what.index(f"{name.upper()} ride +1/8 in")
        assert getattr(sheet, f"{name}_in")[row] == pytest.approx(0.125, abs=1e-6)
        assert getattr(sheet, f"{name}_lb")[row] > 0
    for name in WHEELS:
        row = sheet.what.index(f"{name.upper()} rollout +1 in")
        assert 0 < getattr(sheet, f"{name}_in")[row] < 1 / (2 * np.pi)


def test_the_rates_of_an_axle_and_of_its_bar() -> None:
    tree = scenario.base("21", today=TODAY)
    front = present(loads(tree).front)
    assert front.bar_lb_per_in == tree["setup"]["front"]["bar"]["rate_lb_per_in"]
    unhooked = with_edits(tree, setup__front__bar__hooked=False)
    assert present(loads(unhooked).front).bar_lb_per_in is UNSET
    assert front.heave_lb_per_in == pytest.approx(
        front.left_lb_per_in + front.right_lb_per_in + 2 * front.coupling_lb_per_in, abs=1e-4
    )
    assert front.coupling_lb_per_in == 0
    for side in ("left", "right"):
        ratio = getattr(front, f"{side}_ratio")
        rate = tree["setup"]["front"]["lf" if side == "left" else "rf"]["spring"]["rate_lb_per_in"]
        # k MR^2, and some pounds an inch of the ratio's change.
        assert getattr(front, f"{side}_lb_per_in") == pytest.approx(rate * ratio**2, rel=0.2)
        assert 0.3 < ratio < 1


def test_what_is_lacking_is_said_and_the_rest_told() -> None:
    bare = with_edits(sprung(), setup__rear__lr__tire__rate_lb_per_in=None)
    weights = loads(bare)
    assert present(weights.rear).heave_lb_per_in > 0
    assert present(weights.read).rear_percent == pytest.approx(55.2, abs=0.05)
    assert weights.now is UNSET
    assert ["setup.rear.lr.tire.rate_lb_per_in"] in [each.fields for each in weights.missing]
    unscaled = loads(with_edits(sprung(), measured__scales=None))
    assert unscaled.read is UNSET
    assert present(unscaled.front).heave_lb_per_in > 0
    with pytest.raises(FieldsMissing):
        loads({"notes": "thin"})
    answer = effects(bare, with_edits(bare, setup__front__rf__upper_stud__length_in=1.7))
    assert answer.on_scales is UNSET
    assert "setup.rear.lr.tire.rate_lb_per_in" in next(
        each.fields for each in answer.missing if each.subject == "on the scales"
    )


def test_a_stop_whose_curve_falls_is_refused() -> None:
    stop = {"gap_in": 1, "curve_in_lb_pairs": [[0, 0], [0.5, 300], [1, 200]]}
    with pytest.raises(FieldsUnfit, match="curve_in_lb_pairs"):
        loads(with_edits(sprung(), setup__front__rf__bump_stop=stop))


@settings(max_examples=12)
@given(
    stud=st.floats(0.6, 3),
    thread=st.floats(0, 8),
    free=st.floats(8, 20),
    radius=st.floats(12, 16),
    weight=st.floats(1, 150),
)
def test_no_answer_ever_holds_a_nan(stud: float, thread: float, free: float, radius: float, weight: float) -> None:
    before = scenario.base("21", today=TODAY)
    after = with_edits(
        before,
        setup__front__rf__lower_stud__length_in=stud,
        setup__rear__lr__spring__perch__thread_showing_in=thread,
        setup__rear__rr__spring__free_length_in=free,
        setup__rear__rr__tire__loaded_radius_in=radius,
        setup__ballast__new={"weight_lb": weight, "position_in": [-40, -20, 10]},
    )
    try:
        encoded = [msgspec.json.encode(effects(before, after)), msgspec.json.encode(loads(after, before))]
    except CannotClose:
        return
    for each in encoded:
        told = json.loads(each)
        assert "on_scales" in told or "now" in told or told["missing"]
    kept = list(itertools.chain(*(numbers(json.loads(each)) for each in encoded)))
    assert all(np.isfinite(kept))
    assert b"null" not in encoded[1]


def numbers(value: object) -> list[float]:
    if isinstance(value, dict):
        return [x for item in value.values() for x in numbers(item)]
    if isinstance(value, list):
        return [x for item in value for x in numbers(item)]
    return [value] if isinstance(value, int | float) else []
