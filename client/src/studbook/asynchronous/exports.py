"""The book as tables through the asynchronous client."""

import datetime as dt
from collections.abc import AsyncIterator

from studbook.asynchronous.transport import Transport
from studbook.core import flows, operations
from studbook.core.exporting import Lines
from studbook.core.season import season_asked
from studbook.wire.export import WITHIN_S, Row, Table, Tables
from studbook.wire.season import SeasonReport


class Exports(Transport):
    """What a data engineer takes: every table, whole or since a cursor.

    `studbook.formats.as_arrow` makes Arrow, Polars, pandas and Parquet of a table and its rows.
    """

    async def tables(self) -> Tables:
        """List the tables with their columns, types and units (`Studbook.tables`)."""
        return await self._do(operations.tables())

    async def season(
        self, *, car: str | None = None, since: dt.date | None = None, to: dt.date | None = None
    ) -> SeasonReport:
        """Report a season (`Studbook.season`)."""
        return await self._do(operations.season(season_asked(car=car, since=since, to=to)))

    async def export(
        self,
        table: str | Table,
        *,
        after: str | None = None,
        until: str | None = None,
        within_s: float = WITHIN_S,
    ) -> AsyncIterator[Row]:
        """Walk the rows of a table (`Studbook.export`)."""
        found, extract = await self._do(flows.export(table, after=after, until=until, within_s=within_s))
        lines = Lines(found)
        async for chunk in extract.chunks:
            for row in lines.rows(chunk):
                yield row
