"""What a data engineer takes: every table, whole or since a cursor; and the season's report.

`studbook.formats.as_arrow` makes Arrow, Polars, pandas and Parquet of a table and its rows.
"""

import datetime as dt
from typing import Final

from studbook.core.call import Flow, Items, NextChunk, Walk
from studbook.core.errors import UnreadableAnswerError, local
from studbook.core.request import call, streamed
from studbook.wire.export import WITHIN_S, Row, Table, Tables
from studbook.wire.operations.book import EXPORT_TABLE, LIST_TABLES, REPORT_SEASON
from studbook.wire.rows import from_pages
from studbook.wire.season import SeasonReport

LINE_MOST: Final = 32 << 20
"""Bytes of one page of rows: 64 entries, mostly of some kilobytes each."""


def tables() -> Flow[Tables]:
    """List the tables with their columns, types and units; and say where the book stands."""
    return call(LIST_TABLES)


def season(*, car: str | None = None, since: dt.date | None = None, to: dt.date | None = None) -> Flow[SeasonReport]:
    """Report a season: what was run and changed each night and what came of it, as far as the numbers carry it.

    Args:
        car: this one alone; without it all, and the team.
        since: the first day of the events.
        to: their last day.

    Raises:
        NotFoundError: there is no such car.
    """
    query = {"car": car, "from": since and since.isoformat(), "to": to and to.isoformat()}
    return call(REPORT_SEASON, query=query)


def export(
    table: str | Table, *, after: str | None = None, until: str | None = None, within_s: float = WITHIN_S
) -> Walk[Row]:
    """Walk the rows of a table in the order in which entries were written; they come as the walk goes on.

    A row holds the cells that are not empty: numbers as JSON has them, times with UTC.

    Args:
        table: its name, or what `tables` gave of it.
        after: a cursor: leave out what an export until there gave.
        until: a cursor: leave out what was recorded since. With the cursor of `tables` several tables show one
            moment, and that is where a later export goes on.
        within_s: of the table of effects alone: for so long the service computes what is not known yet, s.

    Raises:
        BadReferenceError: there is no such table.
        BadRequestError: a cursor is of another book, or of one that was restored since: export again.
        ConnectionFailedError: it broke off; what was given by then is no whole.
    """
    found = table if isinstance(table, Table) else (yield from _table(table))
    query = {"format": "pages", "after": after, "until": until, "within_s": within_s}
    chunks = yield from streamed(EXPORT_TABLE, found.name, query=query)
    lines = Lines(found)
    while (chunk := (yield NextChunk(chunks))) is not None:
        yield Items(lines.rows(chunk))


def _table(name: str) -> Flow[Table]:
    known = yield from tables()
    try:
        return known[name]
    except KeyError:
        named = ", ".join(each.name for each in known.items)
        raise local("bad_reference", f"{name[:80]!r} is no table: {named}") from None


class Lines:
    r"""Takes chunks of pages as they come, and gives rows.

    Example:
        >>> from studbook.wire.export import Column
        >>> lines = Lines(Table(name="", about="", key=[], columns=[Column(name="a", type="number")]))
        >>> lines.rows(b'[[{"a":1}],[[0]]]\n[[{"a'), lines.rows(b'":2}],[[0]]]\n')
        ([{'a': 1}], [{'a': 2}])
    """

    def __init__(self, table: Table) -> None:
        self._table = table
        self._begun: list[bytes] = []
        self._size = 0

    def rows(self, chunk: bytes) -> list[Row]:
        """Take a chunk.

        Raises:
            UnreadableAnswerError: it holds other than rows of the table.
        """
        self._size += len(chunk)
        if self._size > LINE_MOST:
            raise UnreadableAnswerError(200, f"a line of it is longer than {LINE_MOST >> 20} MiB")
        whole, end, begun = chunk.rpartition(b"\n")
        if not end:
            self._begun.append(chunk)
            return []
        whole = b"".join([*self._begun, whole])
        self._begun, self._size = [begun], len(begun)
        try:
            return from_pages(self._table, whole)
        except (ValueError, RecursionError) as error:
            raise UnreadableAnswerError(200, str(error)) from None
