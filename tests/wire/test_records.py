"""The kinds of records: names and lines, units in names, bounds, and examples that are what they say."""

import msgspec
import pytest

from present import present
from studbook.history.ids import check_line
from studbook.history.leaves import dotted
from studbook.wire.fields import catalog, check, schema_of, unknown, unusual
from studbook.wire.parts import Part
from studbook.wire.records import KINDS, Record, RecordKind, fitting, typed
from studbook.wire.units import UNITS

ALL = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)


@ALL
def test_an_example_is_a_record_of_its_kind(kind: RecordKind) -> None:
    name, document = kind.example
    check_line(kind.line(name))
    assert list(kind.parts(name)) == list(kind.steps)
    assert (check(document, kind.body), unknown(document, of=kind.body), unusual(document, kind.body)) == ([], [], [])
    for wrong in ("", "A", f"{name}/x", name + "x" * 200, f"/{name}", name.replace("2026-", "26-") + "!"):
        with pytest.raises(ValueError, match="no name of this kind"):
            kind.line(wrong)


@ALL
def test_every_number_has_its_unit_in_its_name_and_its_bounds(kind: RecordKind) -> None:
    for path, known in catalog(kind.body).items():
        if known.unit:
            assert known.unit in UNITS
            said = f"_{known.unit}" in f"_{path[-1]}" or known.unit in ("count", "ratio", "in_per_turn")
            assert said or path[-1].startswith(known.unit), dotted(path)
        bare = msgspec.json.schema(known.form)
        if bare.get("type") in ("number", "integer"):
            assert schema_of(known.form).get("unit"), dotted(path)
            assert {"minimum", "maximum"} <= bare.keys(), dotted(path)


@ALL
def test_filters_are_fields_of_text(kind: RecordKind) -> None:
    for name in kind.filters:
        form = msgspec.json.schema(catalog(kind.body)[(name,)].form)
        assert form.get("type") == "string" or "enum" in form


def test_what_does_not_fit_is_left_out_of_the_typed_view_alone() -> None:
    document = {"laps": -3, "kind": "heat", "words": {"entry": 5}, "own": 1}
    record = Record(kind="outing", name="2026-05-02-north/7/heat-1", tips=[], tag="", document=document)
    seen = typed(record)
    assert (seen.kind, seen.laps, seen.words) == ("heat", msgspec.UNSET, msgspec.UNSET)
    assert record.document == document
    part = fitting(KINDS["part"].example[1], KINDS["part"].body)
    assert isinstance(part, Part)
    assert present(part.stud).length_in == 1.7
