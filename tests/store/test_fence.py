"""Between teams, and around what is written: what the database itself refuses."""

from collections.abc import AsyncIterator, Callable
from typing import Any

import asyncpg
import pytest

from studbook_service.store import Book, Founded, NewEntry, UnfitRole, check_serving, found_team

Make = Callable[..., NewEntry]
TABLES = ("team", "book", "member", "token", "entry", "tip", "idempotency")


@pytest.fixture
async def other(database: Any, book: Book, team: Founded, make: Make) -> Founded:
    """A second team; both have something in every table."""
    other = await found_team(database.owner_dsn, team_name="Next pit", chief_name="Robin")
    for founded in (team, other):
        await book.push(founded.team, make("first"), expected=(), key="k", fingerprint=b"f")
    return other


@pytest.fixture
async def serving(database: Any) -> AsyncIterator[asyncpg.Connection]:
    """A bare connection of the serving role."""
    connection = await asyncpg.connect(database.serving_dsn)
    yield connection
    await connection.close()


async def test_two_teams_may_hold_the_same_entry_apart(book: Book, team: Founded, other: Founded, make: Make) -> None:
    await book.push(other.team, make("second", make("first").id), expected=(make("first").id,))
    assert await book.get(team.team, make("second").id) is None
    assert await book.find(team.team, make("second").id.hex()) == []
    assert [tip.id for tip in await book.tips(team.team, "car/7/sheet/baseline")] == [make("first").id]


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
    with pytest.raises(asyncpg.PostgresError, match="an entry never changes") as refused:
        await owner.execute(statement)
    assert refused.value.sqlstate == "SB003"
    await owner.close()


@pytest.mark.parametrize(
    "statement",
    [
        "SELECT * FROM studbook.directory",
        "UPDATE studbook.access_epoch SET epoch = 0",
        "DELETE FROM studbook.token",
        "UPDATE studbook.token SET role = 'chief'",
        "UPDATE studbook.member SET role = 'chief'",
        "UPDATE studbook.book SET book = '\\x0102030405060708'",
        "DELETE FROM studbook.idempotency",
        "DELETE FROM studbook.migration",
        "SELECT studbook.found_team(gen_random_uuid(), 'x', '\\x0102030405060708', 'x', 'x', sha256('x'))",
        "CALL studbook.fence('studbook.entry')",
        "CREATE TABLE studbook.mine (x integer)",
        "ALTER TABLE studbook.entry DISABLE ROW LEVEL SECURITY",
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
        for role, said in {
            "fit_superuser": "superuser or bypasses",
            "fit_bypasses": "superuser or bypasses",
            "fit_owner": "owns table tip",
            "fit_no_grants": "granted nothing",
        }.items():
            with pytest.raises(UnfitRole, match=said):
                await check_serving(as_role(role))
    finally:
        await owner.execute("ALTER TABLE studbook.tip OWNER TO CURRENT_USER")
        for role in made:
            await owner.execute(f"DROP OWNED BY {role}")
            await owner.execute(f"DROP ROLE {role}")
        await owner.close()
