"""Migrations: once each, in order, never altered."""

import asyncio
from collections.abc import AsyncIterator
from dataclasses import replace
from itertools import count
from typing import Any

import asyncpg
import pytest

from studbook_service.store import (
    Member,
    SchemaAltered,
    SchemaBehind,
    SchemaNewer,
    StoreUnavailable,
    UnfitRole,
    any_team,
    check_serving,
    found_team,
    migrate,
    open_book,
    said,
    secret_hash,
)
from studbook_service.store.migrating import Migration, known_migrations

_numbers = count(1)
KNOWN = [migration.name for migration in known_migrations()]


@pytest.fixture
async def empty(server: Any) -> AsyncIterator[str]:
    """Name of a database with nothing in it."""
    name = f"studbook_empty_{next(_numbers)}"
    connection = await asyncpg.connect(server.owner_dsn("postgres"))
    await connection.execute(f"CREATE DATABASE {name}")
    yield name
    await connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
    await connection.close()


def test_files_are_numbered_without_gaps() -> None:
    assert [migration.number for migration in known_migrations()] == list(range(1, len(KNOWN) + 1))


async def test_migrating_twice_changes_nothing(server: Any, empty: str) -> None:
    assert await migrate(server.owner_dsn(empty)) == KNOWN
    assert await migrate(server.owner_dsn(empty)) == []


async def test_several_at_once_take_turns(server: Any, empty: str) -> None:
    applied = await asyncio.gather(*(migrate(server.owner_dsn(empty)) for _ in range(5)))
    assert sorted(applied, key=len) == [[], [], [], [], KNOWN]


async def test_an_altered_file_is_refused(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    await migrate(dsn)
    altered = [replace(migration, text=migration.text + "\n") for migration in known_migrations()]
    with pytest.raises(SchemaAltered, match=KNOWN[0]):
        await migrate(dsn, migrations=altered)


async def test_a_newer_database_is_refused(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    future = Migration(len(KNOWN) + 1, "9999_future.sql", "CREATE TABLE studbook.future (x integer);")
    await migrate(dsn, migrations=[*known_migrations(), future])
    with pytest.raises(SchemaNewer, match=r"9999_future\.sql"):
        await migrate(dsn)
    with pytest.raises(SchemaNewer, match=r"9999_future\.sql"):
        await check_serving(server.serving_dsn(empty))


async def test_a_database_behind_is_not_served(server: Any, empty: str) -> None:
    dsn = server.serving_dsn(empty)
    with pytest.raises(SchemaBehind, match="studbook migrate"):
        await check_serving(dsn)
    await migrate(server.owner_dsn(empty))
    await check_serving(dsn)
    owner = await asyncpg.connect(server.owner_dsn(empty))
    await owner.execute("DELETE FROM studbook.migration WHERE number = $1", len(KNOWN))
    await owner.close()
    with pytest.raises(SchemaBehind, match=KNOWN[-1]):
        await check_serving(dsn)


async def test_a_failing_file_leaves_no_trace(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    await migrate(dsn)
    broken = Migration(len(KNOWN) + 1, "broken.sql", "CREATE TABLE studbook.half (x integer); SELECT 1 / 0;")
    with pytest.raises(asyncpg.DivisionByZeroError):
        await migrate(dsn, migrations=[*known_migrations(), broken])
    owner = await asyncpg.connect(dsn)
    assert await owner.fetchval("SELECT to_regclass('studbook.half')") is None
    await owner.close()
    assert await migrate(dsn) == []


async def test_a_statement_that_bears_no_transaction(server: Any, empty: str) -> None:
    text = (
        "-- no-transaction\nCREATE INDEX CONCURRENTLY IF NOT EXISTS entry_author ON studbook.entry (team_id, author);"
    )
    more = [*known_migrations(), Migration(len(KNOWN) + 1, "index.sql", text)]
    assert await migrate(server.owner_dsn(empty), migrations=more) == [*KNOWN, "index.sql"]


async def test_an_owner_needs_no_superuser(server: Any, empty: str, template: str) -> None:
    assert template  # so that the serving role is there
    admin = await asyncpg.connect(server.owner_dsn(empty))
    await admin.execute("CREATE ROLE plain_owner LOGIN PASSWORD 'only-for-tests'")
    try:
        await admin.execute(f"GRANT CREATE ON DATABASE {empty} TO plain_owner")
        plain = server.serving_dsn(empty).replace("studbook_serve", "plain_owner", 1)
        with pytest.raises(UnfitRole, match="CREATE ROLE not_made LOGIN"):
            await migrate(plain, serving_role="not_made")
        assert await migrate(plain) == []  # the tables were made before the role was missed
        await check_serving(server.serving_dsn(empty))
        with pytest.raises(UnfitRole, match="owns table"):
            await check_serving(plain)
        # The fence holds such an owner too; still it founds teams, and their tokens are found before a team is known.
        assert not await any_team(plain)
        founded = await found_team(plain, team_name="Crew", chief_name="Chris")
        assert await any_team(plain)
        book = await open_book(server.serving_dsn(empty))
        bearer = await book.access.bearer(secret_hash(founded.token))
        assert bearer is not None
        assert bearer.team == founded.team
        recorded = said(actor=founded.member, action="member.add", subject="sam")
        await book.access.add_member(founded.team, Member("sam", "Sam", "crew"), said=recorded)
        await book.close()
    finally:
        await admin.execute("DROP OWNED BY plain_owner CASCADE")
        await admin.execute("DROP ROLE plain_owner")
        await admin.close()


async def test_nobody_there(server: Any) -> None:
    with pytest.raises(StoreUnavailable):
        await migrate("postgresql://nobody@127.0.0.1:1/none")
    assert server
