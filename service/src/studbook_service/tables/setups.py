"""Tables of cars and setups: every entry, revisions as columns, changes leaf by leaf."""

from collections.abc import Iterable, Iterator
from typing import Any, Final

import msgspec
from msgspec import UNSET

from studbook.history.encoded import diff_encoded
from studbook.history.leaves import dotted
from studbook.wire.export import Column, Parts, Row
from studbook.wire.fields import unit_of
from studbook.wire.setup import Setup
from studbook_service.night.times import moment
from studbook_service.store import ExportedEntry
from studbook_service.tables.definition import TableDefinition, TableEntry, filled, texts
from studbook_service.tables.flat import fits_number, flatten, json_text, layout_of

_SETUP: Final = layout_of(Setup)


def first_parent(entry: ExportedEntry) -> str | None:
    """Give the id of an entry's first parent."""
    return entry.parents[0].hex() if entry.parents else None


def car_and_sheet(line: str) -> Row:
    """Read a sheet's line.

    Example:
        >>> car_and_sheet("car/7/sheet/baseline")
        {'car': '7', 'sheet': 'baseline'}
    """
    match line.split("/"):
        case ["car", car, "sheet", sheet]:
            return {"car": car, "sheet": sheet}
        case ["car", car]:
            return {"car": car}
        case _:
            return {}


def _entries(each: TableEntry) -> Iterable[Parts]:
    entry = each.entry
    row = filled(
        kind=entry.kind,
        generation=entry.generation,
        parents=json_text([parent.hex() for parent in entry.parents]),
        author=entry.author,
        author_name=entry.author_name,
        at=moment(entry.at_ms),
        received_at=entry.received_at.replace(microsecond=entry.received_at.microsecond // 1000 * 1000),
        via=entry.via,
        carried_from=None if entry.carried_from is None else msgspec.json.decode(entry.carried_from, type=str),
        note=entry.note,
        erased=entry.erased,
    )
    yield (row,)


def _cars(each: TableEntry) -> Iterable[Parts]:
    forms = {"name": str, "number": str, "retired": bool}
    cells = {name: each.tree[name] for name, form in forms.items() if isinstance(each.tree.get(name), form)}
    rest = {name: value for name, value in each.tree.items() if name not in cells}
    yield car_and_sheet(each.entry.line), filled(**cells, other=json_text(rest) if rest else None)


def _revisions(each: TableEntry) -> Iterable[Parts]:
    row = _revision_cells(each.entry) | filled(author=each.entry.author, note=each.entry.note)
    yield row, *flatten(each.entry.body, _SETUP, each.cache)


def _changes(each: TableEntry) -> Iterator[Parts]:
    if each.since is None:
        return
    head = _revision_cells(each.entry)
    for change in diff_encoded(each.since, each.entry.body):
        where = filled(path=dotted(change.path), unit=unit_of(change.path))
        yield head, where | _sides(change.before, change.after)


def _revision_cells(entry: ExportedEntry) -> Row:
    return filled(
        **car_and_sheet(entry.line), since=first_parent(entry), generation=entry.generation, at=moment(entry.at_ms)
    )


def _sides(before: Any, after: Any) -> Row:
    """Give both sides as JSON, and as numbers where they are."""
    row: Row = {}
    for name, value in (("before", before), ("after", after)):
        if value is not UNSET:
            row[name] = json_text(value)
            if fits_number(value):
                row[f"{name}_number"] = value
    if "before_number" in row and "after_number" in row:
        row["difference"] = round(row["after_number"] - row["before_number"], 6)
    return row


_WHERE: Final = (
    *texts("car", "sheet"),
    Column(name="since", type="text", about="the first parent's id"),
    Column(name="generation", type="integer", about="0 for the first of a line, else one more than its parents'"),
    Column(name="at", type="time", about="by the author's clock"),
)

SETUPS: Final = (
    TableDefinition(
        name="entries",
        about="every entry of the book; one that a later row names among its parents is not current any more",
        kinds=None,
        own=(
            Column(name="kind", type="text"),
            Column(name="generation", type="integer"),
            Column(name="parents", type="json", about="ids of the entries it follows on its line"),
            *texts("author", "author_name"),
            Column(name="at", type="time", about="by the author's clock"),
            Column(name="received_at", type="time", about="by this node's clock"),
            Column(name="via", type="text", about="the node that brought it"),
            Column(name="carried_from", type="text", about="the revision whose content was carried here"),
            Column(name="note", type="text"),
            Column(name="erased", type="flag", about="its content was erased: no other table has rows of it"),
        ),
        rows=_entries,
        bodies=False,
    ),
    TableDefinition(
        name="cars",
        about="cars: each entry about one",
        kinds=("car",),
        own=(
            *texts("car", "name", "number"),
            Column(name="retired", type="flag"),
            Column(name="other", type="json", about="fields that have no column"),
        ),
        rows=_cars,
    ),
    TableDefinition(
        name="revisions",
        about="setups as they were recorded, a column for each field of the catalog",
        kinds=("sheet",),
        own=(*_WHERE, *texts("author", "note"), *_SETUP.columns),
        rows=_revisions,
    ),
    TableDefinition(
        name="changes",
        about="what each revision changed against its first parent, leaf by leaf",
        kinds=("sheet",),
        own=(
            *_WHERE,
            Column(name="path", type="text"),
            Column(name="unit", type="text", about="of the path's numbers"),
            Column(name="before", type="json", about="empty where the leaf is new"),
            Column(name="after", type="json", about="empty where it was taken away"),
            Column(name="before_number", type="number", about="where it is one, in `unit`"),
            Column(name="after_number", type="number", about="where it is one, in `unit`"),
            Column(name="difference", type="number", about="after less before, in `unit`"),
        ),
        rows=_changes,
        key=("path",),
        parents=True,
    ),
)
