"""The book as tables, page by page: read, laid out in a thread, given on; nothing is held between two pages.

One page is laid out at a time in the process. The table of effects computes what is still missing for `within_s`, in
turn with all other answers, keeps it too, and shows the rest as pending.
"""

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar
from uuid import UUID

from msgspec import UNSET

from studbook.wire.export import ExportQuery, Form, Parts, Table, Tables
from studbook.wire.operations import book as operations
from studbook.wire.rows import csv_head, joined, to_csv, to_ndjson, to_pages
from studbook_service.actions.context import Context
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.store import Bearer
from studbook_service.tables.definition import TableDefinition, TableEntry, table_entries
from studbook_service.tables.effects import EFFECTS
from studbook_service.tables.registry import TABLES

T = TypeVar("T")

FIRST_PAGE, PAGE = 16, 64
"""Entries read at a time: few at first, so that the first rows are there soon."""

_CHAIN_DIGITS = 16


@dataclass(frozen=True, slots=True)
class TableExport:
    """A part of a table.

    Attributes:
        cursor: where it ends.
        form: how its rows are written.
        chunks: its rows as they are sent; the first is there before anything is sent.
    """

    cursor: str
    form: Form
    chunks: AsyncGenerator[bytes, None]


@carries_out(operations.LIST_TABLES)
async def list_tables(context: Context, bearer: Bearer) -> Tables:
    """List the tables, and say where the book stands."""
    seq, chain = await _head(context, bearer.team)
    return Tables(cursor=_cursor(seq, chain), items=[shape.table for shape in TABLES.values()])


@carries_out(operations.EXPORT_TABLE)
async def export_table(context: Context, bearer: Bearer, name: str, query: ExportQuery) -> TableExport:
    """Export a part of a table.

    Raises:
        Refusal: `not_found`, there is no such table; `bad_request`, a cursor that this book did not give.
    """
    shape = TABLES.get(name)
    if shape is None:
        raise Refusal("not_found", f"there is no table {name[:80]}: {', '.join(TABLES)}")
    after = 0 if query.after is UNSET else await _place(context, bearer.team, "after", query.after)
    if query.until is UNSET:
        until, chain = await _head(context, bearer.team)
        cursor = _cursor(until, chain)
    else:
        until, cursor = await _place(context, bearer.team, "until", query.until), query.until
    pages = _pages(context, bearer.team, shape, after=after, until=until)
    if shape is EFFECTS:
        context.background.wake(bearer.team)
        rows = context.background.changes.rows(
            bearer.team, pages, within_s=query.within_s, run=context.engine_thread.run
        )
    else:
        rows = _rows(context, shape, pages)
    return TableExport(cursor, query.format, _written(context, rows, shape.table, query.format))


async def _written(
    context: Context, rows: AsyncIterator[list[Parts]], table: Table, form: Form
) -> AsyncGenerator[bytes, None]:
    """Write rows in a form."""
    with context.engine_thread.waited_for():
        if form == "csv":
            yield csv_head(table)
        async for batch in rows:
            if batch:
                yield await _in_turn(context, partial(_spelled, batch, table, form))


async def _rows(
    context: Context, shape: TableDefinition, pages: AsyncIterator[list[TableEntry]]
) -> AsyncIterator[list[Parts]]:
    """Lay pages out."""
    async for page in pages:
        yield await _in_turn(context, partial(_laid_out, shape, page))


async def _pages(
    context: Context, team: UUID, shape: TableDefinition, *, after: int, until: int
) -> AsyncIterator[list[TableEntry]]:
    """Read the entries of a table."""
    limit = FIRST_PAGE
    while True:
        found = await context.book.export_page(
            team, shape.kinds, bodies=shape.bodies, after=after, until=until, limit=limit
        )
        kept = [entry for entry in found if shape.kinds is None or not entry.erased]
        bodies = {entry.id: entry.body for entry in kept if entry.body}
        if shape.parents:
            wanted = {entry.parents[0] for entry in kept if entry.parents} - bodies.keys()
            bodies |= {entry.id: entry.body for entry in await context.book.several(team, sorted(wanted))}
        if kept:
            yield table_entries(kept, bodies)
        if len(found) < limit:
            return
        after, limit = found[-1].seq, PAGE


async def _in_turn(context: Context, work: Callable[[], T]) -> T:
    """Do one export's work at a time in this process, in a thread beside what serves others."""
    async with context.exporting:
        return await asyncio.to_thread(work)


def _laid_out(shape: TableDefinition, page: Sequence[TableEntry]) -> list[Parts]:
    return [row for each in page for row in shape.rows_of(each)]


def _spelled(rows: Sequence[Parts], table: Table, form: Form) -> bytes:
    if form == "pages":
        return to_pages(rows)
    whole = map(joined, rows)
    return to_csv(table, whole) if form == "csv" else to_ndjson(whole)


async def _head(context: Context, team: UUID) -> tuple[int, bytes]:
    head = await context.book.team_head(team)
    return head.seq, head.chain


async def _place(context: Context, team: UUID, name: str, cursor: str) -> int:
    """Find the place that a cursor names.

    Raises:
        Refusal: `bad_request`, this book did not give it, or lost what it held then.
    """
    number, _, digits = cursor.partition("-")
    seq = int(number)
    chain = bytes(32) if seq == 0 else await context.book.peers.chain_at(team, seq)
    if chain is None or chain.hex()[:_CHAIN_DIGITS] != digits:
        raise unfit(name, f"{name}: is no cursor of this book as it stands; export it again from the beginning")
    return seq


def _cursor(seq: int, chain: bytes) -> str:
    return f"{seq}-{chain.hex()[:_CHAIN_DIGITS]}"
