"""One cell of the table: how a value is spelled there, and read again."""

import re
from typing import Any, Final, Literal, get_origin

from studbook.history.canonical import UnrecordableError, encode, parse
from studbook.history.leaves import Path
from studbook.wire.fields import Field, bare_type, nearest
from studbook.wire.rows import escape_formula, unescape_formula

_NUMBER: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_COMMAS: Final = re.compile(r"[+-]?[\d.]*(,\d+)+(\.\d*)?", re.ASCII)
_FLAGS: Final = {"true": True, "false": False}


class NotThisError(ValueError):
    """A cell that does not hold what its path wants; the text goes behind the path."""


def to_cell(value: Any, known: Field | None) -> str:
    """Spell a canonical value.

    Raises:
        NotThisError: it is not of the known field's type.

    Example:
        >>> to_cell("tacky", None)
        '"tacky"'
    """
    kind = kind_of(known)
    if not isinstance(value, _HOLDS[kind]) or (isinstance(value, bool) and kind == "number"):
        raise NotThisError(f"holds {encode(value).decode()[:60]}, which is no {kind}")
    return escape_formula(str(value)) if kind == "text" else encode(value).decode()


def from_cell(cell: str, known: Field | None, path: Path) -> Any:
    """Read a cell as the field at its path wants it.

    Raises:
        NotThisError: it cannot be; the text says what to write.

    Example:
        >>> from_cell("TRUE", None, ("a",))
        Traceback (most recent call last):
        ...
        studbook.formats.cells.NotThisError: no such field; at a path of your own write JSON, text in quotes: "TRUE"
    """
    kind = kind_of(known)
    if kind == "text":
        return cell.strip() if known and get_origin(bare_type(known.form)) is Literal else unescape_formula(cell)
    bare = cell.strip()
    if not bare:
        raise NotThisError("the value is empty; delete the row to leave the field out")
    if kind == "number":
        return _number(bare, known.unit if known else "")
    if kind == "flag":
        if bare.lower() not in _FLAGS:
            raise NotThisError(f"{bare[:60]!r} is neither true nor false")
        return _FLAGS[bare.lower()]
    return _json(bare, known, path)


def _number(bare: str, unit: str) -> float:
    if _COMMAS.fullmatch(bare):
        raise NotThisError(f"{bare[:60]!r}: write numbers without commas, and with a point before the decimals")
    if not _NUMBER.fullmatch(bare):
        raise NotThisError(f"{bare[:60]!r} is not a number" + (f" ({unit})" if unit else ""))
    return float(bare)


def _json(bare: str, known: Field | None, path: Path) -> Any:
    try:
        value = parse(bare)
    except UnrecordableError as error:
        if known:
            raise NotThisError(f"{bare[:60]!r} is not an array in JSON, such as [1, 2.5, 3]: {error.reason}") from None
        near = nearest(path)
        hint = f" (nearest known: {near})" if near else ""
        quoted = encode(bare[:60]).decode()
        raise NotThisError(f"no such field{hint}; at a path of your own write JSON, text in quotes: {quoted}") from None
    if isinstance(value, dict):
        raise NotThisError("a group of fields: give each a row of its own")
    return value


_HOLDS: Final[dict[str, tuple[type, ...]]] = {
    "text": (str,),
    "number": (int, float),
    "flag": (bool,),
    "array": (list,),
    "value": (object,),
}


def kind_of(known: Field | None) -> str:
    """Describe what a field holds: text, number, flag or array; `value`, which may be any, where it is not known.

    Example:
        >>> kind_of(None)
        'value'
    """
    if known is None:
        return "value"
    bare = bare_type(known.form)
    if bare in (int, float):
        return "number"
    if bare is bool:
        return "flag"
    return "array" if get_origin(bare) in (list, tuple) else "text"
