"""How people name a revision."""

import pytest

from studbook import BadReferenceError
from studbook.core.references import Reference, SheetName, reference, sheet_name


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("7/baseline", Reference(SheetName("7", "baseline"))),
        ("7/baseline~2", Reference(SheetName("7", "baseline"), 2)),
        ("3f9a1c", Reference("3f9a1c")),
        ("3f9a1c~1", Reference("3f9a1c", 1)),
        ("ab" * 32, Reference("ab" * 32)),
        ("3f9a1c/3f9a1c", Reference(SheetName("3f9a1c", "3f9a1c"))),
    ],
)
def test_four_forms(text: str, read: Reference) -> None:
    assert reference(text) == read


@pytest.mark.parametrize(
    "text",
    ["", "7", "baseline", "3f9a1", "3F9A1C", "ab" * 33, "7/", "/x", "7/a/b", "7/A", "7/a~", "7/a~-1", "7/a~x", "~1"],
)
def test_anything_else_is_refused_before_a_request(text: str) -> None:
    with pytest.raises(BadReferenceError, match=r"names no|after ~"):
        reference(text)


def test_a_sheet_is_no_revision() -> None:
    with pytest.raises(BadReferenceError, match="names no sheet"):
        sheet_name("7/baseline~1")
