"""Rows of tables read back from lines of JSON and from CSV."""

import csv
import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final

import msgspec

from studbook.wire.export import ColumnType, Row, Table
from studbook.wire.rows import unescape_formula

_READ: Final[dict[ColumnType, Callable[[str], Any]]] = {
    "text": unescape_formula,
    "number": float,
    "integer": int,
    "flag": {"true": True, "false": False}.__getitem__,
    "time": dt.datetime.fromisoformat,
    "numbers": msgspec.json.Decoder(list[float]).decode,
    "json": str,
}


def from_ndjson(table: Table, lines: bytes) -> list[Row]:
    rows = msgspec.json.Decoder(Row).decode_lines(lines)
    for name in (each.name for each in table.columns if each.type == "time"):
        for row in rows:
            if name in row:
                row[name] = dt.datetime.fromisoformat(row[name])
    return rows


def from_csv(table: Table, lines: Iterable[str]) -> Iterator[Row]:
    csv.field_size_limit(1 << 24)
    cells = csv.reader(lines, strict=True)
    read = {each.name: _READ[each.type] for each in table.columns}
    head = next(cells, [])
    for row in cells:
        yield {name: read[name](cell) for name, cell in zip(head, row, strict=True) if cell and name in read}
