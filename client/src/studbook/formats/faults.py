"""What is wrong with a file, all at once."""

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from studbook.history.canonical import Tree, UnrecordableError, canonical
from studbook.history.leaves import Path, dotted, leaves
from studbook.wire.fields import catalog, check, field
from studbook.wire.problem import FieldFault
from studbook.wire.setup import Setup


class RowFault(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One fault of a file.

    Attributes:
        detail: what, with path, value, bound and unit, in words.
        line: where the row begins, counted from 1; 0 where the form has no rows.
        path, value, least, most, unit: the same for programs; absent ones are None.
    """

    detail: str
    line: int = 0
    path: str | None = None
    value: Any = None
    least: float | None = None
    most: float | None = None
    unit: str | None = None

    def __str__(self) -> str:
        """Write it in one line."""
        return f"line {self.line}: {self.detail}" if self.line else self.detail


class FormatError(ValueError):
    """A file that is no setup document; `faults` has everything that is wrong with it.

    Example:
        >>> str(FormatError([RowFault(detail="a: 5 is not text", line=2)]))
        'line 2: a: 5 is not text'
    """

    def __init__(self, faults: Sequence[RowFault]) -> None:
        """Keep the faults."""
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = list(faults)


def row_fault(fault: FieldFault, line: int = 0) -> RowFault:
    """Give a field's fault the line it stands on."""
    return RowFault(
        detail=fault.detail,
        line=line,
        path=fault.path or None,
        value=None if fault.value is msgspec.UNSET else fault.value,
        least=None if fault.least is msgspec.UNSET else fault.least,
        most=None if fault.most is msgspec.UNSET else fault.most,
        unit=fault.unit or None,
    )


def held(value: Any) -> Tree:
    """Bring a tree to its canonical form.

    Raises:
        FormatError: it holds what the book cannot, or is no group of fields.
    """
    try:
        tree = canonical(value)
    except UnrecordableError as error:
        raise FormatError([RowFault(detail=str(error), path=dotted(error.path) or None)]) from None
    if not isinstance(tree, dict):
        raise FormatError([RowFault(detail="a document is a group of named fields")])
    return tree


def checked(value: Any) -> Tree:
    """Bring a tree to its canonical form and check it against the schema.

    Raises:
        FormatError: with every fault.
    """
    tree = held(value)
    raise_any(row_fault(fault) for fault in check(tree))
    return tree


def raise_any(faults: Iterable[RowFault]) -> None:
    """Raise the faults together, if there are any."""
    found = list(faults)
    if found:
        raise FormatError(found)


def in_reading_order(tree: Tree, of: type = Setup) -> list[tuple[Path, Any]]:
    """List a document's leaves as people look for them: known fields as its Struct has them, then the others."""
    place = {path: number for number, path in enumerate(catalog(of))}

    def order(leaf: tuple[Path, Any]) -> tuple[int, Path]:
        known = field(leaf[0], of)
        return (place[known.path] if known else len(place), leaf[0])

    return sorted(leaves(tree).items(), key=order)
