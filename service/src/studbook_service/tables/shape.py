"""What a table is made of, and what every row carries."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from studbook.history.canonical import Tree
from studbook.wire.export import Column, Row, Table
from studbook_service.store import Exported

EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

HEAD: Final = (
    Column(name="line", type="text", about="the line of the entry that the row is made of"),
    Column(name="entry", type="text", about="its id"),
    Column(name="seq", type="integer", about="its place in this node's book"),
    Column(name="current", type="flag", about="none followed it on its line as the book stood"),
)


@dataclass(frozen=True, slots=True)
class Entered:
    """An entry with its document, and the document it was made from.

    Attributes:
        tree: empty where it was erased.
        since: of the first parent; None where there is none, or it was erased.
    """

    entry: Exported
    tree: Tree
    since: Tree | None = None


Rows = Callable[[Entered], Iterable[Row]]


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

    def made(self, each: Entered) -> list[Row]:
        """Make the rows of an entry."""
        return with_head(each.entry, self.rows(each))


def with_head(entry: Exported, rows: Iterable[Row]) -> list[Row]:
    """Put before the cells of an entry's rows what every row carries."""
    head = {"line": entry.line, "entry": entry.id.hex(), "seq": entry.seq, "current": entry.current}
    return [{**head, **row} for row in rows]


def moment(at_ms: int) -> dt.datetime:
    """Give a time of the book, UTC.

    Example:
        >>> moment(1_790_000_000_000).year
        2026
    """
    return EPOCH + dt.timedelta(milliseconds=at_ms)


def filled(**cells: object) -> Row:
    """Leave out cells that are empty.

    Example:
        >>> filled(a="", b=0, c=None)
        {'b': 0}
    """
    return {name: value for name, value in cells.items() if value is not None and value != ""}
