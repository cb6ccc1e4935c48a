"""What a share's holder sees: one line and what is below it, by row-level security alone."""

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import asyncpg
import pytest

from studbook_service.store import BookStore, Founded, NewEntry, UnknownTeam, mint, open_book, secret_hash
from studbook_service.store.scoped import ScopedPool

Make = Callable[..., NewEntry]
LINES = ("car/7", "car/7/sheet/baseline", "car/7/sheet/baseline-2", "car/7/sheet/baseline/x", "car/70", "car/8", "car")


@pytest.fixture
async def entries(book: BookStore, team: Founded, make: Make, event: bytes) -> dict[str, NewEntry]:
    """An entry on each line, and something in every other table."""
    entries = {line: make(line, line=line) for line in LINES}
    await book.append(team.team, list(entries.values()))
    await book.push(team.team, make("with key", line="part/s-041"), expected=(), key="k", fingerprint=b"f")
    await book.peers.set(team.team, "shop", "http://shop.test", state=b"{}")
    await book.access.protect(team.team, "car/7/sheet/baseline", by="chief", audit=event)
    until = datetime.now(UTC) + timedelta(days=1)
    await book.access.add_share(
        team.team,
        id="s-1",
        secret_hash=secret_hash(mint()),
        line="car/7",
        label="F",
        until=until,
        by="chief",
        audit=event,
    )
    return entries


@pytest.mark.parametrize(
    ("scope", "seen"),
    [
        ("car/7", LINES[:4]),
        ("car/7/sheet/baseline", (LINES[1], LINES[3])),
        ("car/8", ("car/8",)),
        ("car/_", ()),  # a slug, and no pattern
        ("car/%", ()),
        ("part/none", ()),
    ],
)
async def test_a_line_and_what_is_below_it(
    book: BookStore, team: Founded, entries: dict[str, NewEntry], scope: str, seen: tuple[str, ...]
) -> None:
    within = book.within(scope)
    for line, entry in entries.items():
        ids = [entry.id] if line in seen else []
        assert [found.id for found in await within.tips(team.team, line)] == ids
        assert [found.id for found in await within.history(team.team, line)] == ids
        assert [found.id for found in await within.ancestors(team.team, entry.id)] == ids
        assert await within.find(team.team, entry.id.hex()) == ids
        assert (await within.get(team.team, entry.id) is not None) == bool(ids)
        assert await within.document(team.team, entry.id) == ((entry.content, entry.body) if ids else None)
    assert {head.line for head in await within.heads(team.team, "", "sheet")} == set(seen)
    assert {found.line for found in await within.several(team.team, [e.id for e in entries.values()])} == set(seen)
    assert {placed.entry.line for placed in await within.peers.since(team.team, 0, limit=99)} == set(seen)


@pytest.mark.parametrize("table", ["entry", "tip"])
async def test_each_table_of_lines_is_held_to_the_scope(
    database: Any, team: Founded, entries: dict[str, NewEntry], table: str
) -> None:
    connection = await asyncpg.connect(database.serving_dsn)
    await connection.execute("SELECT set_config('studbook.team', $1, false)", str(team.team))
    rows = f"SELECT line FROM studbook.{table}"  # noqa: S608 - a name from the lines above
    assert {row["line"] for row in await connection.fetch(rows)} == {*entries, "part/s-041"}
    await connection.execute("SELECT set_config('studbook.scope', 'car/7', false)")
    assert {row["line"] for row in await connection.fetch(rows)} == set(LINES[:4])
    await connection.close()


async def test_nothing_else_is_there(book: BookStore, team: Founded, entries: dict[str, NewEntry]) -> None:
    within = book.within("car/7")
    assert await within.access.members(team.team) == []
    assert await within.access.tokens(team.team) == []
    assert await within.access.shares(team.team) == []
    assert await within.access.protected(team.team) == frozenset()
    assert await within.access.audit(team.team, after=0, limit=99) == []
    assert await within.peers.list(team.team) == []
    entry = await within.get(team.team, entries["car/7"].id)
    assert entry is not None
    assert (entry.author, entry.author_name) == ("chief", None)
    with pytest.raises(UnknownTeam):
        await within.team_head(team.team)


async def test_nothing_is_written(
    book: BookStore, team: Founded, entries: dict[str, NewEntry], make: Make, event: bytes
) -> None:
    within = book.within("car/7")
    entry = entries["car/7"]
    for write in (
        within.push(team.team, make("new", entry.id, line="car/7"), expected=(entry.id,), may_protected=True),
        within.append(team.team, [make("new", entry.id, line="car/7")]),
        within.access.protect(team.team, "car/7", by="chief", audit=event),
        within.access.change_member(team.team, "chief", name="X", audit=event),
        within.access.end_share(team.team, "s-1", audit=event),
    ):
        with pytest.raises(UnknownTeam):
            await write


async def test_a_scope_ends_with_its_statement(book: BookStore, team: Founded, entries: dict[str, NewEntry]) -> None:
    async with book.pool.acquire() as connection:  # the pool has one more, idle one; whichever comes is clean
        with pytest.raises(asyncpg.UndefinedFunctionError):
            await ScopedPool(book.pool, "car/7").fetch("SELECT studbook.none()")
        assert not await connection.fetchval("SELECT current_setting('studbook.scope', true)")
    for _ in range(12):
        assert len(await book.within("car/8").heads(team.team, "", "sheet")) == 1
        assert len(await book.heads(team.team, "", "sheet")) == len(entries) + 1


@pytest.mark.parametrize("times", [1, 2])
async def test_a_cut_off_read_leaves_nothing_behind(
    database: Any, team: Founded, entries: dict[str, NewEntry], times: int
) -> None:
    book = await open_book(database.serving_dsn, size=1)
    for pause in (0.0, 0.001, 0.01):
        read = asyncio.create_task(book.within("car/8").pool.fetch("SELECT pg_sleep(5)"))
        await asyncio.sleep(pause)
        for _ in range(times):
            read.cancel()
            await asyncio.sleep(0)
        with pytest.raises((asyncio.CancelledError, TimeoutError)):  # the driver may be cut off in its own clearing up
            await read
        async with book.pool.acquire() as connection:
            assert not connection.is_in_transaction()
        assert len(await book.heads(team.team, "", "sheet")) == len(entries) + 1
    await book.close()


def test_no_scope_is_no_scope(book: BookStore) -> None:
    with pytest.raises(ValueError, match="names a line"):
        book.within("")
