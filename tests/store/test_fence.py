"""Between teams, and around what is written: what the database itself refuses."""

from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import asyncpg
import pytest

from studbook_service.store import (
    BookStore,
    Founded,
    NewEntry,
    UnfitRole,
    check_serving,
    found_team,
    mint,
    secret_hash,
)

Make = Callable[..., NewEntry]
TABLES = (
    "team",
    "book",
    "member",
    "token",
    "share",
    "protection",
    "audit",
    "entry",
    "erased",
    "tip",
    "idempotency",
    "peer",
    "effect",
)
CHANGEABLE = {
    "member": "name = 'x'",
    "token": "revoked_at = now()",
    "share": "ended_at = now()",
    "peer": "url = 'x'",
    "book": "home = 'x'",
    "effect": "answer = 'x'",
}


@pytest.fixture
async def other(database: Any, book: BookStore, team: Founded, make: Make, event: bytes) -> Founded:
    """A second team; both have something in every table."""
    other = await found_team(database.owner_dsn, team_name="Next pit", chief_name="Robin")
    until = datetime.now(UTC) + timedelta(days=1)
    for founded in (team, other):
        first, by = make("first"), founded.member
        await book.push(founded.team, first, expected=(), key="k", fingerprint=b"f")
        erasure = make("erasure", kind="erasure", line="erasure/x", body=b'{"entries":["%s"]}' % (b"00" * 32))
        await book.append(founded.team, [erasure], apply_erasures=True)
        await book.peers.set(founded.team, "shop", "http://shop.test", state=b"{}")
        assert await book.effects.keep(founded.team, first.id, b"answer", engine=1, computed_from=[first.id])
        await book.access.protect(founded.team, "car/7", by=by, audit=event)
        hashed = secret_hash(mint())
        await book.access.add_share(
            founded.team, id="s-1", secret_hash=hashed, line="car/7", label="F", until=until, by=by, audit=event
        )
    return other


@pytest.fixture
async def serving(database: Any) -> AsyncIterator[asyncpg.Connection]:
    """A bare connection of the serving role."""
    connection = await asyncpg.connect(database.serving_dsn)
    yield connection
    await connection.close()


async def test_two_teams_may_hold_the_same_entry_apart(
    book: BookStore, team: Founded, other: Founded, make: Make
) -> None:
    await book.push(other.team, make("second", make("first").id), expected=(make("first").id,))
    assert await book.get(team.team, make("second").id) is None
    assert await book.find(team.team, make("second").id.hex()) == []
    assert [tip.id for tip in await book.tips(team.team, "car/7/sheet/baseline")] == [make("first").id]


async def test_every_table_of_a_team_is_fenced(serving: asyncpg.Connection) -> None:
    fences = await serving.fetch(
        """
        SELECT c.relname, c.relrowsecurity AND c.relforcerowsecurity AS forced,
               (SELECT array_agg((p.permissive, p.cmd, p.qual = p.with_check)::text ORDER BY p.policyname)
                  FROM pg_policies p WHERE p.schemaname = 'studbook' AND p.tablename = c.relname) AS policies,
               (SELECT p.qual FROM pg_policies p
                 WHERE p.schemaname = 'studbook' AND p.tablename = c.relname AND p.policyname = 'own_team') AS own_team
          FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'team_id'
         WHERE c.relnamespace = 'studbook'::regnamespace AND c.relkind = 'r' AND c.relname <> 'directory'
        """
    )
    assert {fence["relname"] for fence in fences} == set(TABLES)
    for fence in fences:
        assert fence["forced"]
        assert fence["policies"] == ["(RESTRICTIVE,ALL,t)", "(PERMISSIVE,ALL,t)"]
        assert fence["own_team"] == "(team_id = (current_setting('studbook.team'::text))::uuid)"


@pytest.mark.parametrize("table", TABLES)
async def test_only_the_named_team_is_seen(
    serving: asyncpg.Connection, team: Founded, other: Founded, table: str
) -> None:
    for founded in (team, other):
        async with serving.transaction():
            await serving.execute("SELECT set_config('studbook.team', $1, true)", str(founded.team))
            rows = await serving.fetch(f"SELECT team_id FROM studbook.{table}")  # noqa: S608 - names above
        assert {row["team_id"] for row in rows} == {founded.team}


@pytest.mark.parametrize("table", TABLES)
async def test_an_unset_team_is_an_error(serving: asyncpg.Connection, other: Founded, table: str) -> None:
    assert other
    query = f"SELECT count(*) FROM studbook.{table}"  # noqa: S608 - names above
    with pytest.raises(asyncpg.UndefinedObjectError):  # never set in this session
        await serving.fetch(query)
    async with serving.transaction():
        await serving.execute("SELECT set_config('studbook.team', $1, true)", str(other.team))
    with pytest.raises(asyncpg.InvalidTextRepresentationError):  # set once, and over with its transaction
        await serving.fetch(query)


async def test_nothing_is_written_for_another_team(serving: asyncpg.Connection, team: Founded, other: Founded) -> None:
    async with serving.transaction():
        await serving.execute("SELECT set_config('studbook.team', $1, true)", str(team.team))
        with pytest.raises(asyncpg.InsufficientPrivilegeError, match="row-level security"):
            await serving.execute(
                "INSERT INTO studbook.member (team_id, id, name, role) VALUES ($1, 'x', 'X', 'crew')", other.team
            )
    for table in ("member", "token", "share", "protection", "tip", "peer", "book", "effect"):
        async with serving.transaction():
            await serving.execute("SELECT set_config('studbook.team', $1, true)", str(team.team))
            changed = {"protection": "DELETE FROM studbook.protection", "tip": "DELETE FROM studbook.tip"}.get(
                table,
                f"UPDATE studbook.{table} SET {CHANGEABLE.get(table)}",  # noqa: S608 - names above
            )
            assert await serving.execute(f"{changed} WHERE team_id = $1", other.team) in {"UPDATE 0", "DELETE 0"}


@pytest.mark.parametrize(
    "statement",
    ["UPDATE studbook.entry SET note = 'x'", "DELETE FROM studbook.entry", "TRUNCATE studbook.entry CASCADE"],
)
async def test_an_entry_never_changes(
    serving: asyncpg.Connection, owner_dsn: str, other: Founded, statement: str
) -> None:
    await serving.execute("SELECT set_config('studbook.team', $1, false)", str(other.team))
    with pytest.raises(asyncpg.InsufficientPrivilegeError):
        await serving.execute(statement)
    owner = await asyncpg.connect(owner_dsn)
    with pytest.raises(asyncpg.PostgresError, match="what is recorded never changes") as refused:
        await owner.execute(statement)
    assert refused.value.sqlstate == "SB003"
    await owner.close()


@pytest.mark.parametrize(
    "statement",
    [
        "SELECT * FROM studbook.directory",
        "INSERT INTO studbook.directory VALUES (sha256('x'), gen_random_uuid())",
        "UPDATE studbook.access_epoch SET epoch = 0",
        "DELETE FROM studbook.token",
        "UPDATE studbook.token SET role = 'chief'",
        "UPDATE studbook.token SET expires_at = NULL",
        "DELETE FROM studbook.member",
        "UPDATE studbook.member SET id = 'chief'",
        "DELETE FROM studbook.share",
        "UPDATE studbook.share SET until = 'infinity'",
        "UPDATE studbook.share SET line = 'car'",
        "UPDATE studbook.protection SET line = 'x'",
        "UPDATE studbook.audit SET event = 'x'",
        "DELETE FROM studbook.audit",
        "TRUNCATE studbook.audit",
        "INSERT INTO studbook.audit VALUES (gen_random_uuid(), 1, 'x', sha256('x'))",
        "INSERT INTO studbook.erased VALUES (gen_random_uuid(), sha256('x'), sha256('x'))",
        "DELETE FROM studbook.erased",
        "DELETE FROM studbook.effect",
        "UPDATE studbook.effect SET id = sha256('x')",
        "UPDATE studbook.entry SET body = NULL",
        "UPDATE studbook.tip SET line = 'x'",
        "UPDATE studbook.book SET book = '\\x0102030405060708'",
        "DELETE FROM studbook.book",
        "INSERT INTO studbook.team (name) VALUES ('x')",
        "DELETE FROM studbook.idempotency",
        "UPDATE studbook.idempotency SET id = sha256('x')",
        "DELETE FROM studbook.peer",
        "DELETE FROM studbook.migration",
        "SELECT studbook.found_team(gen_random_uuid(), 'x', '\\x0102030405060708', 'x', 'x', sha256('x'), 'x')",
        "SELECT studbook.erase_name(gen_random_uuid(), 'x', 'x')",
        "SELECT studbook.erase_entries(gen_random_uuid(), NULL, 'x')",
        "CALL studbook.fence('studbook.entry')",
        "CREATE TABLE studbook.mine (x integer)",
        "ALTER TABLE studbook.entry DISABLE ROW LEVEL SECURITY",
        "DROP POLICY in_scope ON studbook.entry",
        "ALTER TABLE studbook.audit DISABLE TRIGGER ALL",
        "CREATE OR REPLACE FUNCTION studbook.home(p_team uuid) RETURNS text LANGUAGE sql AS 'SELECT NULL::text'",
    ],
)
async def test_the_serving_role_may_not(serving: asyncpg.Connection, team: Founded, statement: str) -> None:
    await serving.execute("SELECT set_config('studbook.team', $1, false)", str(team.team))
    with pytest.raises(asyncpg.InsufficientPrivilegeError):
        await serving.execute(statement)


async def test_the_serving_role_is_fit(database: Any) -> None:
    await check_serving(database.serving_dsn)


async def test_a_role_that_could_look_past_the_fence_is_unfit(database: Any, owner_dsn: str) -> None:
    owner = await asyncpg.connect(owner_dsn)
    host = database.serving_dsn

    def as_role(role: str) -> str:
        return str(host).replace("studbook_serve", role, 1)

    made = {
        "fit_superuser": "CREATE ROLE fit_superuser LOGIN SUPERUSER",
        "fit_bypasses": "CREATE ROLE fit_bypasses LOGIN BYPASSRLS",
        "fit_no_grants": "CREATE ROLE fit_no_grants LOGIN",
        "fit_owner": "CREATE ROLE fit_owner LOGIN",
    }
    try:
        for role, statement in made.items():
            await owner.execute(f"{statement} PASSWORD 'only-for-tests'")
            await owner.execute(f"GRANT USAGE ON SCHEMA studbook TO {role}" if role == "fit_owner" else "SELECT 1")
        await owner.execute("ALTER TABLE studbook.tip OWNER TO fit_owner")
        for role, reason in {
            "fit_superuser": "superuser or bypasses",
            "fit_bypasses": "superuser or bypasses",
            "fit_owner": "owns table tip",
            "fit_no_grants": "granted nothing",
        }.items():
            with pytest.raises(UnfitRole, match=reason):
                await check_serving(as_role(role))
    finally:
        await owner.execute("ALTER TABLE studbook.tip OWNER TO CURRENT_USER")
        for role in made:
            await owner.execute(f"DROP OWNED BY {role}")
            await owner.execute(f"DROP ROLE {role}")
        await owner.close()
