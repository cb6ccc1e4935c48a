"""The book as tables through the blocking client."""

import datetime as dt
from collections.abc import Iterator

from studbook.blocking.transport import Transport
from studbook.core import flows, operations
from studbook.core.exporting import Lines
from studbook.core.season import season_asked
from studbook.wire.export import WITHIN_S, Row, Table, Tables
from studbook.wire.season import SeasonReport


class Exports(Transport):
    """What a data engineer takes: every table, whole or since a cursor.

    `studbook.formats.as_arrow` makes Arrow, Polars, pandas and Parquet of a table and its rows.
    """

    def tables(self) -> Tables:
        """List the tables with their columns, types and units; and say where the book stands."""
        return self._do(operations.tables())

    def season(
        self, *, car: str | None = None, since: dt.date | None = None, to: dt.date | None = None
    ) -> SeasonReport:
        """Report a season: what was run and changed each night and what came of it, as far as the numbers carry it.

        Args:
            car: this one alone; without it all, and the team.
            since: the first day of the events.
            to: their last day.

        Raises:
            NotFoundError: there is no such car.
        """
        return self._do(operations.season(season_asked(car=car, since=since, to=to)))

    def export(
        self,
        table: str | Table,
        *,
        after: str | None = None,
        until: str | None = None,
        within_s: float = WITHIN_S,
    ) -> Iterator[Row]:
        """Walk the rows of a table in the order in which entries were written; they come as the walk goes on.

        A row holds the cells that are not empty: numbers as JSON has them, times with UTC.

        Args:
            table: its name, or what `tables` told of it.
            after: a cursor: leave out what an export until there told.
            until: a cursor: leave out what was recorded since. With the cursor of `tables` several tables tell of one
                moment, and that is where a later export goes on.
            within_s: of the table of effects alone: for so long the service computes what is not known yet, s.

        Raises:
            BadReferenceError: there is no such table.
            BadRequestError: a cursor is of another book, or of one that was restored since: export anew.
            ConnectionFailedError: it broke off; what was given by then is no whole.
        """
        found, extract = self._do(flows.export(table, after=after, until=until, within_s=within_s))
        lines = Lines(found)
        for chunk in extract.chunks:
            yield from lines.rows(chunk)
