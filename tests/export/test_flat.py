"""Documents as cells: nothing is lost, whatever they hold, and whatever was laid out beside them."""

import json

from hypothesis import given, settings

from laws.documents import EDITS, WHICH, Edits, fork
from studbook.history.canonical import canonical, encode
from studbook.history.leaves import grown, leaves, steps
from studbook.wire.rows import joined
from studbook.wire.setup import Setup
from studbook_service.tables.flat import OTHER, LayoutCache, flatten, layout_of


@given(WHICH, EDITS, EDITS)
@settings(max_examples=15, deadline=None)
def test_cells_and_the_rest_are_the_document(which: int, one: Edits, two: Edits) -> None:
    flat, known = layout_of(Setup), LayoutCache()
    spelled = {column.name for column in flat.columns if column.type == "json"}
    for tree in fork(which, one, two):
        body = encode(canonical(tree))
        row = joined(flatten(body, flat, known))
        alone = joined(flatten(body, flat, LayoutCache()))
        assert list(row.items()) == list(alone.items()), "what was laid out before changes none"
        rest = leaves(json.loads(row.pop(OTHER, "{}")))
        cells = {steps(name): json.loads(cell) if name in spelled else cell for name, cell in row.items()}
        assert encode(grown(cells | rest)) == body


def test_what_is_laid_out_is_no_part_of_what_is_known() -> None:
    flat, known = layout_of(Setup), LayoutCache()
    body = encode({"setup": {"ours": 1, "brakes": {"front_bias_percent": 55}}})
    first = joined(flatten(body, flat, known))
    told = dict(first)
    first["car"] = first[OTHER] = "of the first row alone"
    assert joined(flatten(body, flat, known)) == told


def test_an_equal_group_is_laid_out_once() -> None:
    flat, known = layout_of(Setup), LayoutCache()
    one, two = (encode({"notes": notes, "setup": {"cg": {"height_in": 15.5}}}) for notes in ("a", "b"))
    (first, held), (second, again) = flatten(one, flat, known), flatten(two, flat, known)
    assert held is again
    assert (first["notes"], second["notes"]) == ("a", "b")
