"""What a table is made of, and what every row carries."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import msgspec

from studbook.history.canonical import Tree
from studbook.wire.export import Column, Parts, Row, Table
from studbook_service.store import ExportedEntry
from studbook_service.tables.flat import Known

_tree: Final = msgspec.json.Decoder(Tree)

HEAD: Final = (
    Column(name="line", type="text", about="the line of the entry that the row is made of"),
    Column(name="entry", type="text", about="its id"),
    Column(name="seq", type="integer", about="its place in this node's book"),
    Column(name="current", type="flag", about="none followed it on its line as the book stood"),
)


@dataclass(frozen=True)
class Entered:
    """An entry with what its rows are made of.

    Attributes:
        since: the document it was made from, of its first parent; None where there is none, or it was erased.
        known: groups of fields that were laid out already; what is read at once shares them.
    """

    entry: ExportedEntry
    since: bytes | None
    known: Known

    @cached_property
    def tree(self) -> Tree:
        """Its document; empty where it was erased."""
        return _tree.decode(self.entry.body) if self.entry.body else {}


def together(page: Iterable[ExportedEntry], bodies: Mapping[bytes, bytes]) -> list[Entered]:
    """Put beside the entries that are read at once the documents they were made from, by id, where there are any."""
    known = Known()
    return [Entered(each, bodies.get(each.parents[0]) or None if each.parents else None, known) for each in page]


Rows = Callable[[Entered], Iterable[Parts]]


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How a table is made.

    Attributes:
        kinds: of the entries that it is made of; None for all. Of what was erased there are rows only then.
        own: its columns behind those that every row carries.
        rows: the cells of these columns for each row that an entry makes.
        key: those that tell its rows apart, beside the entry.
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
        """The table as it is told."""
        return Table(name=self.name, about=self.about, key=["entry", *self.key], columns=[*HEAD, *self.own])

    def made(self, each: Entered) -> list[Parts]:
        """Make the rows of an entry."""
        return with_head(each.entry, self.rows(each))


def with_head(entry: ExportedEntry, rows: Iterable[Parts]) -> list[Parts]:
    """Put before the cells of an entry's rows what every row carries."""
    head = {"line": entry.line, "entry": entry.id.hex(), "seq": entry.seq, "current": entry.current}
    return [(head, *row) for row in rows]


def filled(**cells: object) -> Row:
    """Leave out cells that are empty.

    Example:
        >>> filled(a="", b=0, c=None)
        {'b': 0}
    """
    return {name: value for name, value in cells.items() if value is not None and value != ""}
