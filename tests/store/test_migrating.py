"""Migrations: once each, in order, never altered. The parts beside them run again when they changed."""

import asyncio
from dataclasses import replace
from typing import Any

import asyncpg
import pytest

from studbook_service.store import (
    BookTooOld,
    MemberRow,
    SchemaAltered,
    SchemaBehind,
    SchemaNewer,
    StoreUnavailable,
    UnfitRole,
    any_team,
    audit_event,
    check_serving,
    found_team,
    migrate,
    open_book,
    secret_hash,
)
from studbook_service.store.migrating import PARTS, Migration, Schema, known_schema

SCHEMA = known_schema()
KNOWN = [migration.name for migration in SCHEMA.migrations]
ALL = [*KNOWN, *PARTS]


def with_more(*migrations: Migration) -> Schema:
    """The schema with further migrations."""
    return replace(SCHEMA, migrations=[*SCHEMA.migrations, *migrations])


def with_part(name: str, text: str) -> Schema:
    """The schema with more text in a part."""
    return replace(SCHEMA, parts={**SCHEMA.parts, name: SCHEMA.parts[name] + text})


def test_files_are_numbered_without_gaps() -> None:
    assert [migration.number for migration in SCHEMA.migrations] == list(range(1, len(KNOWN) + 1))


async def test_migrating_twice_changes_nothing(server: Any, empty: str) -> None:
    assert await migrate(server.owner_dsn(empty)) == ALL
    assert await migrate(server.owner_dsn(empty)) == []


async def test_several_at_once_take_turns(server: Any, empty: str) -> None:
    applied = await asyncio.gather(*(migrate(server.owner_dsn(empty)) for _ in range(5)))
    assert sorted(applied, key=len) == [[], [], [], [], ALL]


async def test_an_altered_file_is_refused(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    await migrate(dsn)
    altered = replace(SCHEMA, migrations=[replace(each, text=each.text + "\n") for each in SCHEMA.migrations])
    with pytest.raises(SchemaAltered, match=KNOWN[0]):
        await migrate(dsn, schema=altered)


async def test_a_newer_database_is_refused(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    future = Migration(len(KNOWN) + 1, "9999_future.sql", "CREATE TABLE studbook.future (x integer);")
    await migrate(dsn, schema=with_more(future))
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


async def test_a_database_with_other_functions_is_not_served_until_migrated(server: Any, empty: str) -> None:
    owner, serving = server.owner_dsn(empty), server.serving_dsn(empty)
    extra = "CREATE OR REPLACE FUNCTION studbook.extra() RETURNS integer LANGUAGE sql AS 'SELECT 1';"
    assert await migrate(owner, schema=with_part("reading.sql", extra)) == ALL
    with pytest.raises(SchemaBehind, match="functions and rights are not this program's: run `studbook migrate"):
        await check_serving(serving)
    assert await migrate(owner) == list(PARTS)
    await check_serving(serving)


async def test_a_failing_part_changes_nothing(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    await migrate(dsn)
    with pytest.raises(asyncpg.DivisionByZeroError):
        await migrate(dsn, schema=with_part("rights.sql", "DROP FUNCTION studbook.home(uuid); SELECT 1 / 0;"))
    await check_serving(server.serving_dsn(empty))
    assert await migrate(dsn) == []


async def test_each_serving_role_is_granted_what_it_needs(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    await migrate(dsn)
    admin = await asyncpg.connect(dsn)
    second = server.serving_dsn(empty).replace("studbook_serve", "second_serve", 1)
    try:
        await admin.execute("CREATE ROLE second_serve LOGIN PASSWORD 'only-for-tests'")
        with pytest.raises(UnfitRole, match="granted nothing"):
            await check_serving(second)
        assert await migrate(dsn, serving_role="second_serve") == list(PARTS)
        await check_serving(second)
        await check_serving(server.serving_dsn(empty))
        assert await migrate(dsn, serving_role="second_serve") == []
        assert await migrate(dsn) == []
    finally:
        await admin.execute("DROP OWNED BY second_serve")
        await admin.execute("DROP ROLE second_serve")
        await admin.close()


async def test_a_book_made_before_0_2_is_refused_and_not_touched(server: Any, empty: str) -> None:
    owner = await asyncpg.connect(server.owner_dsn(empty))
    await owner.execute(
        """
        CREATE SCHEMA studbook;
        CREATE TABLE studbook.migration (number integer PRIMARY KEY, name text NOT NULL, sha256 bytea NOT NULL,
                                         applied_at timestamptz NOT NULL DEFAULT clock_timestamp());
        INSERT INTO studbook.migration (number, name, sha256)
        SELECT n, CASE n WHEN 1 THEN '0001_teams.sql' ELSE 'former.sql' END, sha256('x') FROM generate_series(1, 12) n;
        GRANT USAGE ON SCHEMA studbook TO studbook_serve;
        GRANT SELECT ON studbook.migration TO studbook_serve;
        """
    )
    everything = (
        "SELECT array_agg(relname::text ORDER BY oid) FROM pg_class WHERE relnamespace = 'studbook'::regnamespace"
    )
    before = await owner.fetchval(everything)
    sentence = (
        "this book was made before 0.2 and this version cannot open it; nothing was changed: "
        "open it with the version that made it, or begin a new book in another place"
    )
    with pytest.raises(BookTooOld) as refused:
        await migrate(server.owner_dsn(empty))
    assert str(refused.value) == sentence
    with pytest.raises(BookTooOld, match=r"made before 0\.2"):
        await check_serving(server.serving_dsn(empty))
    assert await owner.fetchval(everything) == before
    await owner.close()


async def test_a_failing_file_leaves_no_trace(server: Any, empty: str) -> None:
    dsn = server.owner_dsn(empty)
    await migrate(dsn)
    broken = Migration(len(KNOWN) + 1, "broken.sql", "CREATE TABLE studbook.half (x integer); SELECT 1 / 0;")
    with pytest.raises(asyncpg.DivisionByZeroError):
        await migrate(dsn, schema=with_more(broken))
    owner = await asyncpg.connect(dsn)
    assert await owner.fetchval("SELECT to_regclass('studbook.half')") is None
    await owner.close()
    assert await migrate(dsn) == []


async def test_a_statement_that_bears_no_transaction(server: Any, empty: str) -> None:
    text = (
        "-- no-transaction\nCREATE INDEX CONCURRENTLY IF NOT EXISTS entry_author ON studbook.entry (team_id, author);"
    )
    more = with_more(Migration(len(KNOWN) + 1, "index.sql", text))
    assert await migrate(server.owner_dsn(empty), schema=more) == [*KNOWN, "index.sql", *PARTS]


async def test_an_owner_needs_no_superuser(server: Any, empty: str, template: str) -> None:
    assert template  # so that the serving role is there
    admin = await asyncpg.connect(server.owner_dsn(empty))
    await admin.execute("CREATE ROLE plain_owner LOGIN PASSWORD 'only-for-tests'")
    try:
        await admin.execute(f"GRANT CREATE ON DATABASE {empty} TO plain_owner")
        plain = server.serving_dsn(empty).replace("studbook_serve", "plain_owner", 1)
        with pytest.raises(UnfitRole, match="CREATE ROLE not_made LOGIN"):
            await migrate(plain, serving_role="not_made")
        assert await migrate(plain) == list(PARTS)  # the tables were made before the role was missed
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
        recorded = audit_event(actor=founded.member, action="member.add", subject="sam")
        await book.access.add_member(founded.team, MemberRow("sam", "Sam", "crew"), audit=recorded)
        await book.close()
    finally:
        await admin.execute("DROP OWNED BY plain_owner CASCADE")
        await admin.execute("DROP ROLE plain_owner")
        await admin.close()


async def test_nobody_there(server: Any) -> None:
    with pytest.raises(StoreUnavailable):
        await migrate("postgresql://nobody@127.0.0.1:1/none")
    assert server
