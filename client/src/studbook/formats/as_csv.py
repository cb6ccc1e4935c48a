"""Documents as a flat table, `path,value,unit`, which is what spreadsheets keep.

A known path says how its cell is read: a number, text, a choice, true or false, or JSON for an array. At a path the
schema does not know the cell is JSON, so text there stands in quotes of its own. Form of the table: RFC 4180.
"""

import csv
import io
from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

from studbook.formats.cells import NotThisError, from_cell, to_cell
from studbook.formats.faults import FormatError, RowFault, in_reading_order, raise_any, row_fault
from studbook.history.canonical import MAX_DEPTH, SLUG, Tree, UnrecordableError, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import Path, dotted, steps
from studbook.wire.fields import field, fits, nearest, unit_of

HEADER: Final = ("path", "value", "unit")
LONGEST_CELL: Final = 1 << 20
"""Characters; longer than any document the service takes, so that no text of one is refused."""

FAULTS_MOST: Final = 500
PATH_SHOWN: Final = 400


class CsvRow(NamedTuple):
    """One row that is not blank, and the line it begins on."""

    line: int
    path: str
    value: str
    unit: str


def read(text: str) -> Tree:
    """Read a table: a header row, then a row for each field; blank rows are passed over.

    Raises:
        FormatError: with every bad row.
    """
    taken: dict[Path, Any] = {}
    noted: dict[Path, int] = {}
    faults: list[RowFault] = []
    for row in _rows(text, faults):
        try:
            path, value = _leaf(row)
            _take(path, row.line, taken, noted)
        except NotThisError as error:
            shown = row.path[:PATH_SHOWN]
            faults.append(RowFault(line=row.line, path=shown, value=row.value[:60], detail=f"{shown}: {error}"))
            if len(faults) >= FAULTS_MOST:
                raise_any([*faults, RowFault(line=row.line, detail="too many faults: what follows was not read")])
            continue
        taken[path] = value
        faults += [row_fault(fault, row.line) for fault in fits(path, value)]
    raise_any(sorted(faults, key=lambda fault: fault.line))
    return apply((FieldChange(path, after=value) for path, value in taken.items()), {})


def lines(text: str) -> dict[str, int]:
    """Give the line of each path."""
    return {row.path: row.line for row in _rows(text, [])}


def write(tree: Tree) -> str:
    """Write a canonical tree, a row for each leaf, in the schema's order.

    Raises:
        FormatError: a known field holds what is not of its type, as only another version's document can.
    """
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(HEADER)
    faults = []
    for path, value in in_reading_order(tree):
        try:
            cell = to_cell(value, field(path))
        except NotThisError as error:
            faults.append(RowFault(path=dotted(path), detail=f"{dotted(path)}: {error}; JSON and TOML can hold it"))
            continue
        table.writerow((dotted(path), cell, unit_of(path)))
    raise_any(faults)
    return out.getvalue()


def _rows(text: str, faults: list[RowFault]) -> Iterator[CsvRow]:
    csv.field_size_limit(LONGEST_CELL)
    table = csv.reader(io.StringIO(text, newline=""), strict=True)
    columns: list[str] | None = None
    line = 1
    try:
        for cells in table:
            begun, line = line, table.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if columns is None:
                columns = _columns(cells, begun)
                continue
            if any(cell.strip() for cell in cells[len(columns) :]):
                detail = f"{len(cells)} cells where the header has {len(columns)}: put a value with a comma in quotes"
                faults.append(RowFault(line=begun, path=cells[0].strip(), detail=detail))
                continue
            named = dict(zip(columns, cells, strict=False))
            yield CsvRow(begun, named.get("path", "").strip(), named.get("value", ""), named.get("unit", "").strip())
    except csv.Error as error:
        faults.append(RowFault(line=line, detail=f"not a table of comma-separated cells: {error}"))
    if columns is None and not faults:
        raise FormatError([RowFault(line=1, detail="the first row must be the header: path,value,unit")])


def _columns(cells: list[str], line: int) -> list[str]:
    columns = [cell.strip().lower() for cell in cells]
    while columns and not columns[-1]:
        columns.pop()
    if not {"path", "value"} <= set(columns) <= set(HEADER) or len(set(columns)) != len(columns):
        found = ",".join(cells)[:80]
        raise FormatError(
            [RowFault(line=line, detail=f"the first row must be the header path,value,unit; it is {found!r}")]
        )
    return columns


def _wrong_unit(path: Path, unit: str) -> str:
    if wanted := unit_of(path):
        return f"the unit is {wanted}, not {unit}; convert the value"
    near = None if field(path) else nearest(path)
    return f"no such field; the nearest known is {near}" if near else f"has no unit, so not {unit}"


def _leaf(row: CsvRow) -> tuple[Path, Any]:
    path = steps(row.path)
    if len(path) > MAX_DEPTH:
        raise NotThisError(f"nested deeper than {MAX_DEPTH} levels")
    if not all(SLUG.fullmatch(step) for step in path):
        raise NotThisError("is no path: names of a-z, 0-9, _ and -, joined by dots")
    if row.unit and row.unit != unit_of(path):
        raise NotThisError(_wrong_unit(path, row.unit))
    try:
        return path, canonical(from_cell(row.value, field(path), path))
    except UnrecordableError as error:
        raise NotThisError(error.reason) from None


def _take(path: Path, line: int, taken: Mapping[Path, Any], lines: dict[Path, int]) -> None:
    """Note the line of a path and of the groups above it; refuse a second value there, a value above or below one."""
    for length in range(1, len(path)):
        if path[:length] in taken:
            raise NotThisError(f"cannot be inside {dotted(path[:length])}, a value by line {lines[path[:length]]}")
    if path in lines:
        what = "already stands on" if path in taken else "is a group of fields, by"
        raise NotThisError(f"{what} line {lines[path]}")
    for length in range(1, len(path) + 1):
        lines.setdefault(path[:length], line)
