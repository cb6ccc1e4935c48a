"""What a table is made of, and the columns that every row has."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import msgspec

from studbook.history.canonical import Tree
from studbook.wire.export import Column, Parts, Row, Table
from studbook_service.store import ExportedEntry
from studbook_service.tables.flat import LayoutCache

_tree: Final = msgspec.json.Decoder(Tree)

HEAD: Final = (
    Column(name="line", type="text", about="the line of the entry that the row is made of"),
    Column(name="entry", type="text", about="its id"),
    Column(name="seq", type="integer", about="its place in this node's book"),
    Column(name="current", type="flag", about="none followed it on its line at the end of the export"),
)


@dataclass(frozen=True)
class TableEntry:
    """An entry with what its rows are made of.

    Attributes:
        since: the document it was made from, of its first parent; None where there is none, or it was erased.
        cache: groups of fields that were laid out already; entries that are read at once share it.
    """

    entry: ExportedEntry
    since: bytes | None
    cache: LayoutCache

    @cached_property
    def tree(self) -> Tree:
        """Its document; empty where it was erased."""
        return _tree.decode(self.entry.body) if self.entry.body else {}


def table_entries(page: Iterable[ExportedEntry], bodies: Mapping[bytes, bytes]) -> list[TableEntry]:
    """Join entries that are read at once with the documents of their first parents, by id, where there are any."""
    cache = LayoutCache()
    return [TableEntry(each, bodies.get(each.parents[0]) or None if each.parents else None, cache) for each in page]


Rows = Callable[[TableEntry], Iterable[Parts]]


@dataclass(frozen=True, kw_only=True)
class TableDefinition:
    """How a table is made.

    Attributes:
        kinds: of the entries that it is made of; None for all. Of what was erased there are rows only then.
        own: its columns after those that every row has.
        rows: the cells of these columns for each row that an entry makes.
        key: those that identify its rows, besides the entry.
        bodies: whether their documents are wanted, and `parents` whether those of their first parents are.
    """

    name: str
    about: str
    kinds: tuple[str, ...] | None
    own: tuple[Column, ...]
    rows: Rows
    key: tuple[str, ...] = ()
    bodies: bool = True
    parents: bool = False

    @cached_property
    def table(self) -> Table:
        """The table as the list of tables has it."""
        return Table(name=self.name, about=self.about, key=["entry", *self.key], columns=[*HEAD, *self.own])

    def rows_of(self, each: TableEntry) -> list[Parts]:
        """Make the rows of an entry."""
        return with_head(each.entry, self.rows(each))


def with_head(entry: ExportedEntry, rows: Iterable[Parts]) -> list[Parts]:
    """Put before the cells of an entry's rows those that every row has."""
    head = {"line": entry.line, "entry": entry.id.hex(), "seq": entry.seq, "current": entry.current}
    return [(head, *row) for row in rows]


def texts(*names: str) -> tuple[Column, ...]:
    """Give columns of text whose names need no explanation."""
    return tuple(Column(name=name, type="text") for name in names)


def filled(**cells: object) -> Row:
    """Leave out cells that are empty.

    Example:
        >>> filled(a="", b=0, c=None)
        {'b': 0}
    """
    return {name: value for name, value in cells.items() if value is not None and value != ""}
