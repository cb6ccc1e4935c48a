"""The catalog of fields: units in names, one path per field, bounds told with value and unit."""

import msgspec
import pytest

from studbook.history.leaves import dotted, steps
from studbook.wire.fields import ANY, catalog, check, field, fits, nearest, unit_of, unknown, unusual
from studbook.wire.setup import Setup
from studbook.wire.units import UNITS


def test_every_unit_ends_its_fields_name() -> None:
    # Counts and ratios need none; what moves per turn is in inches all the same.
    for path, known in catalog().items():
        if known.unit and known.unit not in ("count", "ratio") and path[-1] != "moves_per_turn_in":
            assert known.unit in UNITS
            assert f"_{known.unit}" in f"_{path[-1]}" or path[-1].startswith(known.unit), dotted(path)


def test_a_team_names_its_rods_and_ballast() -> None:
    assert [path for path in catalog() if path.count(ANY) > 1] == []
    assert unit_of(steps("setup.ballast.left_rail.weight_lb")) == "lb"
    assert field(steps("setup.ballast.left_rail.color")) is None


def test_the_whole_document_is_a_struct() -> None:
    tree = {"survey": {"front": {"rf": {"points": {"upper_ball_in": [0.25, -27.5, 17.125]}}}}}
    assert msgspec.to_builtins(msgspec.convert(tree, Setup)) == {
        "survey": {"front": {"rf": {"points": {"upper_ball_in": (0.25, -27.5, 17.125)}}}}
    }


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("measured.scales.lf_lb", 5900, "5900 lb is above the most accepted, 1500 lb"),
        ("measured.scales.lf_lb", "590", "'590' is not a number"),
        ("measured.scales.lf_lb", True, "is not a number"),
        ("measured.scales.lf_lb", [590], "is not a number"),
        ("setup.front.rf.spring.rubber_count", 1.5, "is not a whole number"),
        ("setup.front.rf.spring.kind", "round", "is none of coil_over, big, leaf, torsion"),
        ("survey.front.rf.points.upper_ball_in", [1, 2], "has 2 elements, exactly 3"),
        ("survey.front.rf.points.upper_ball_in", [1, 2, 435], "435 in is above the most accepted, 60 in"),
        ("survey.front.rf.points.upper_ball_in", 3, "is not an array"),
        ("survey.front.rf.points", 3, "is a group of fields, not a value"),
        ("survey.basis.driver_aboard", 1, "is neither true nor false"),
        ("measured.at", "2 May", "'2 May'"),
        # Millimeters sent as inches, foot-pounds as inch-pounds: outside the bounds, so told with the unit wanted.
        ("setup.front.rf.upper_stud.length_in", 30.48, "above the most accepted, 3 in"),
    ],
)
def test_a_value_that_does_not_fit_is_told_with_bound_and_unit(path: str, value: object, words: str) -> None:
    faults = fits(steps(path), value)
    assert len(faults) == 1
    assert words in faults[0].detail
    assert (faults[0].path or "").startswith(path)


def test_all_faults_of_a_document_are_told_at_once() -> None:
    tree = {"measured": {"scales": {"lf_lb": 1, "rf_lb": 9999}}, "setup": {"cg": {"height_in": 3}}, "notes": 5}
    assert {fault.path for fault in check(tree)} == {
        "measured.scales.lf_lb",
        "measured.scales.rf_lb",
        "setup.cg.height_in",
        "notes",
    }


def test_unknown_fields_are_told_unless_the_parent_has_them() -> None:
    tree = {"setup": {"cg": {"hieght_in": 18}, "own": {"idea": 1}}}
    assert [fault.path for fault in unknown(tree, known={"setup": {"own": {"idea": 0}}})] == ["setup.cg.hieght_in"]
    assert nearest(steps("setup.cg.hieght_in")) == "setup.cg.height_in"


def test_out_of_the_ordinary_is_not_wrong() -> None:
    tree = {"measured": {"front": {"rf": {"lower_joint": {"running_in_lb": 90}}}}}
    assert check(tree) == []
    assert [(each.path, each.unit) for each in unusual(tree)] == [
        ("measured.front.rf.lower_joint.running_in_lb", "in_lb")
    ]
