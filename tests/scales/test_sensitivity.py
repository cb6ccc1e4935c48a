"""The sheet for the wall: each row is what a what-if with its edits answers."""

from typing import Any

import numpy as np
import pytest
from msgspec import UNSET

from present import present
from scales.cars import WHEELS, chain, edited
from studbook.history.canonical import Tree
from studbook.history.leaves import dotted, leaves, steps
from studbook.wire.answers import Travels
from studbook.wire.around_scales import SensitivityAnswer, SensitivityQuery
from studbook.wire.fields import field
from studbook.wire.scales import OnScales
from studbook_service.translate.effects import effects_between
from studbook_service.translate.errors import FieldsMissing
from studbook_service.translate.origins import origins
from studbook_service.translate.sensitivity import sensitivity_answer
from studbook_service.translate.subjects import DocumentAnswers

GROWS = {
    f"setup.{end}.{name}.tire.rollout_in_per_psi": 0.2
    for name, end in zip(WHEELS, ("front", "front", "rear", "rear"), strict=True)
}
COARSE = Travels(low_in=-1, high_in=1, step_in=1)


def sheet(*trees: Tree, **asked: float) -> SensitivityAnswer:
    return sensitivity_answer(trees[0], origins=origins(trees), request=SensitivityQuery(**asked))


def what_if(trees: tuple[Tree, ...], edits: dict[str, Any]) -> Any:
    after = edited(trees[0], edits)
    return effects_between(DocumentAnswers(trees), DocumentAnswers([after, *trees]), travels=COARSE)


@pytest.mark.parametrize("car", ["7", "21"])
def test_each_row_is_what_a_what_if_answers(car: str) -> None:
    trees = (edited(chain(car)[0], GROWS), *chain(car))
    answer = sheet(*trees)
    assert [row.kind for row in answer.steps] == ["perch"] * 4 + ["shims"] * 2 + ["stud"] * 4 + ["pressure"] * 4
    for row in answer.steps if car == "7" else answer.steps[1::4]:
        told = what_if(trees, {edit.path: edit.value for edit in row.edits})
        scales = told.on_scales
        assert isinstance(scales, OnScales)
        assert row.loads == scales.change
        assert row.heights == scales.ride_height
        assert row.cross_percent == pytest.approx(scales.after.cross_percent - scales.before.cross_percent, abs=1e-6)
        assert row.bite_lb == pytest.approx(scales.after.bite_lb - scales.before.bite_lb, abs=1e-6)
        [stance] = [each for each in told.subjects if each.subject == "attitude"]
        moved = {figure.name: figure.difference for figure in stance.figures}
        for name in ("lf", "rf"):
            for setting in ("camber", "toe"):
                difference = moved.get(f"ride_height.{name}.{setting}_deg", 0.0)
                assert getattr(row, f"{name}_{setting}_deg") == pytest.approx(difference, abs=2e-6), row.where


def test_a_turn_goes_in_and_raises_and_is_said_so() -> None:
    first = sheet(*chain())
    assert [row.step for row in first.steps if row.kind == "perch"] == ["1 turn in (tighten, raises)"] * 4
    for index, row in enumerate(first.steps[:4]):
        name = WHEELS[index]
        [edit] = row.edits
        was = chain()[0]
        for step in edit.path.split("."):
            was = was[step]
        # A 1/16 in thread, one turn.
        assert present(edit.value) - was == pytest.approx(0.0625)
        assert getattr(row.heights, f"{name}_in") > 0
        # Its own wheel and the one across the car gain: RF and LR are the cross.
        assert (row.cross_percent > 0) is (name in ("rf", "lr"))
        # No weight is made.
        assert sum(getattr(row.loads, f"{each}_lb") for each in WHEELS) == pytest.approx(0, abs=1e-4)


def test_each_step_is_as_large_as_was_asked_and_its_toe_in_inches_is_over_26() -> None:
    trees = (edited(chain()[0], GROWS), *chain())
    answer = sheet(*trees, shim_in=0.0625, stud_in=0.25, pressure_psi=2, perch_turns=2)
    sizes = {"shims": 0.0625, "stud": 0.25, "perch": 2 * 0.0625}
    moved = 0
    for row in answer.steps:
        for edit in row.edits:
            was: Any = trees[0]
            for step in edit.path.split("."):
                was = was[step]
            wanted = sizes.get(row.kind, 2 * 0.2 if edit.path.endswith("rollout_in") else 2)
            assert edit.value - was == pytest.approx(wanted, abs=1e-6), edit.path
        for name in ("lf", "rf"):
            # Toe is small: 26 tan of a difference is the difference of 26 tan, but for a millionth.
            deg, inches = getattr(row, f"{name}_toe_deg"), getattr(row, f"{name}_toe_in")
            assert inches == pytest.approx(26 * np.tan(np.radians(deg)), abs=2e-4)
            moved += abs(inches) > 0.01
    assert moved >= 4


def test_small_steps_are_in_proportion() -> None:
    # Springs and tires are straight lines, so half a turn moves half as much where no stop engages.
    whole, half = sheet(*chain()), sheet(*chain(), perch_turns=0.5)
    for one, other in zip(whole.steps[:4], half.steps[:4], strict=True):
        assert other.cross_percent == pytest.approx(one.cross_percent / 2, rel=0.02)


def test_a_pressure_of_unknown_growth_is_missing_and_never_guessed() -> None:
    trees = tuple(edited(tree, dict.fromkeys(set(GROWS) & _paths(tree))) for tree in chain())
    answer = sheet(*trees)
    assert not [row for row in answer.steps if row.kind == "pressure"]
    lacking = {path for each in answer.missing for path in each.fields}
    assert set(GROWS) <= lacking
    assert all(field(steps(path)) for path in lacking)


def test_a_pressure_lifts_its_corner_by_its_tires_growth() -> None:
    # 0.2 in of circumference is 0.2 / 2π = 0.032 in of radius; the car rises by less at that corner than a pad's worth.
    trees = (edited(chain()[0], GROWS), *chain())
    rows = [row for row in sheet(*trees).steps if row.kind == "pressure"]
    for name, row in zip(WHEELS, rows, strict=True):
        assert 0 < getattr(row.heights, f"{name}_in") < 0.2 / (2 * np.pi)


def test_a_corner_with_another_actuator_of_camber_has_no_row_for_shims() -> None:
    tree = edited(chain()[0], {"setup.front.rf.adjusters.camber": "upper_slots"})
    answer = sheet(tree, *chain())
    assert [row.where for row in answer.steps if row.kind == "shims"] == ["LF"]
    [why] = [each.why for each in answer.missing if each.subject.startswith("RF shims")]
    assert why == "its camber is set by upper slots"


def test_without_a_rear_axle_camber_and_toe_alone_are_missing() -> None:
    tree = edited(chain()[0], {"survey.rear.rods.torque_link.chassis_in": None})
    answer = sheet(tree, *chain())
    assert any(each.subject.startswith("camber") or each.subject.startswith("rear") for each in answer.missing)
    assert answer.steps
    for row in answer.steps:
        assert row.lf_camber_deg is UNSET


def test_a_car_that_was_never_scaled_is_refused() -> None:
    tree = edited(chain()[0], {f"measured.scales.{name}_lb": None for name in WHEELS})
    with pytest.raises(FieldsMissing, match=r"measured\.scales\.lf_lb"):
        sheet(tree)


def _paths(tree: Tree) -> set[str]:

    return {dotted(path) for path in leaves(tree)}
