"""Rows of tables as lines of JSON and as CSV: one spelling for both ends.

In the form `pages` each group of cells is written once in a page: 120 MB of a season's revisions are 6 MB, and the
client's cells are one object in all rows, which makes Arrow of them in half the time. Rows that give what differs from
the row before were not taken, as most of two cars by turns is equal only to the car's own; nor was `pyarrow.json`,
which gains less and gives rows two ways into Arrow.
"""

import csv
import datetime as dt
import io
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Annotated, Any, Final

import msgspec
from msgspec import Meta

from studbook.wire.export import ColumnType, Parts, Row, Table

_pages: Final = msgspec.json.Decoder(tuple[list[Row], list[list[Annotated[int, Meta(ge=0)]]]])
_encoder: Final = msgspec.json.Encoder()

_CELLS_MOST: Final = 2_000_000

_FORMULA: Final = re.compile(r"'*[=+\-@\t\r\n\0\uff1d\uff0b\uff0d\uff20]")
"""What a spreadsheet may take for a formula: OWASP, CSV Injection, with the full-width signs; OWASP ASVS 5.0, 1.2.10
with NUL. Behind quotes of ours too, so that each can be taken away again."""


def from_pages(table: Table, lines: bytes) -> list[Row]:
    """Read whole pages; cells of columns that the table has not are kept.

    Raises:
        ValueError: they are no rows of the table.

    Example:
        >>> from_pages(Table(name="", about="", key=[], columns=[]), b'[[{"a":1},{"b":2},{"b":3}],[[0,1],[0,2]]]')
        [{'a': 1, 'b': 2}, {'a': 1, 'b': 3}]
    """
    found: list[Row] = []
    for parts, rows in _pages.decode_lines(lines):
        _read_times(table, parts)
        try:
            # A part may stand in every row: a page of some kilobytes could unfold to any number of cells.
            if sum(len(parts[place]) for places in rows for place in places) > _CELLS_MOST:
                raise ValueError(f"a page has more than {_CELLS_MOST} cells")
            found += [joined(map(parts.__getitem__, places)) for places in rows]
        except IndexError:
            raise ValueError("a row names a part that its page has not") from None
    return found


def joined(parts: Iterable[Row]) -> Row:
    """Put a row together.

    Example:
        >>> joined([{"a": 1}, {"b": 2}])
        {'a': 1, 'b': 2}
    """
    row: Row = {}
    for part in parts:
        row |= part
    return row


def to_pages(rows: Sequence[Parts]) -> bytes:
    r"""Write rows as one page; a part is written once if it is one object.

    Example:
        >>> shared = {"a": 1}
        >>> to_pages([[shared, {"b": 2}], [shared, {"b": 3}]])
        b'[[{"a":1},{"b":2},{"b":3}],[[0,1],[0,2]]]\n'
    """
    parts = {id(part): part for row in rows for part in row}
    places = {part: place for place, part in enumerate(parts)}
    members = [[places[id(part)] for part in row] for row in rows]
    return _encoder.encode((list(parts.values()), members)) + b"\n"


def to_ndjson(rows: Iterable[Row]) -> bytes:
    r"""Write rows as lines of JSON.

    Example:
        >>> to_ndjson([{"a": 1}, {"a": 2}])
        b'{"a":1}\n{"a":2}\n'
    """
    return _encoder.encode_lines(list(rows))


def csv_head(table: Table) -> bytes:
    """Write the header row."""
    return _written([[each.name for each in table.columns]])


def to_csv(table: Table, rows: Iterable[Row]) -> bytes:
    r"""Write rows as CSV, without the header.

    Example:
        >>> from studbook.wire.export import Column
        >>> to_csv(Table(name="", about="", key=[], columns=[Column(name="a", type="text")]), [{"a": "=1"}])
        b"'=1\r\n"
    """
    spelled = [(each.name, _SPELL[each.type]) for each in table.columns]
    return _written([spell(row[name]) if name in row else "" for name, spell in spelled] for row in rows)


def escape_formula(text: str) -> str:
    """Put a single quote before text that a spreadsheet would run.

    Example:
        >>> escape_formula("=1+1"), escape_formula("-2 clicks"), escape_formula("'tis")
        ("'=1+1", "'-2 clicks", "'tis")
    """
    return f"'{text}" if _FORMULA.match(text) else text


def unescape_formula(cell: str) -> str:
    """Take that quote away again.

    Example:
        >>> unescape_formula("'=1+1"), unescape_formula("'tis")
        ('=1+1', "'tis")
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def _written(rows: Iterable[Sequence[str]]) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    return out.getvalue().encode()


def _read_times(table: Table, rows: Iterable[Row]) -> None:
    for name in (each.name for each in table.columns if each.type == "time"):
        for row in rows:
            if name in row:
                row[name] = _time(row[name])


def _json(value: Any) -> str:
    return _encoder.encode(value).decode()


def _time(cell: str) -> dt.datetime:
    return dt.datetime.fromisoformat(cell)


_SPELL: Final[dict[ColumnType, Callable[[Any], str]]] = {
    "text": escape_formula,
    "number": _json,
    "integer": _json,
    "flag": _json,
    "time": lambda value: _json(value)[1:-1],
    "numbers": _json,
    "json": str,
}
