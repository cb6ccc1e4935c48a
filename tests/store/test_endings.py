"""What ended stays ended: no SQL of the serving role gives a token, a share or a member its life back."""

from collections.abc import AsyncIterator, Awaitable, Callable
from datetime import UTC, datetime, timedelta

import asyncpg
import pytest

from conftest import Database
from studbook_service.store import BookStore, Founded, MemberRow, mint, secret_hash

LetIn = Callable[..., Awaitable[bytes]]
BACK = {
    "token": ("revoked_at", "NULL", "'2020-01-01'", "'infinity'"),
    "share": ("ended_at", "NULL", "'2020-01-01'", "'infinity'"),
    "member": ("ended_at", "NULL", "'2020-01-01'", "'infinity'"),
}
ATTEMPTS = [(table, column, value) for table, (column, *values) in BACK.items() for value in values]


@pytest.fixture
async def ended(book: BookStore, team: Founded, let_in: LetIn, event: bytes) -> dict[str, bytes]:
    """A share that ended, and a member who left with their token; the hashes of both."""
    share = secret_hash(mint())
    until = datetime.now(UTC) + timedelta(days=1)
    await book.access.add_share(
        team.team, id="s-1", secret_hash=share, line="car/7", label="F", until=until, by="chief", audit=event
    )
    await book.access.end_share(team.team, "s-1", audit=event)
    token = await let_in("sam", "crew")
    await book.access.change_member(team.team, "sam", ended=True, audit=event)
    return {"share": share, "token": token}


@pytest.fixture
async def serving(database: Database, team: Founded) -> AsyncIterator[asyncpg.Connection]:
    """A bare connection of the serving role that named the team."""
    connection = await asyncpg.connect(database.serving_dsn)
    await connection.execute("SELECT set_config('studbook.team', $1, false)", str(team.team))
    yield connection
    await connection.close()


@pytest.mark.parametrize(("table", "column", "value"), ATTEMPTS)
async def test_no_update_takes_an_ending_back(
    serving: asyncpg.Connection, ended: dict[str, bytes], table: str, column: str, value: str
) -> None:
    assert ended
    rows = f"SELECT {column} FROM studbook.{table} WHERE {column} IS NOT NULL"  # noqa: S608 - names above
    before = await serving.fetch(rows)
    assert len(before) == 1
    with pytest.raises(asyncpg.PostgresError, match=r"never|permission"):
        await serving.execute(
            f"UPDATE studbook.{table} SET {column} = {value} WHERE {column} IS NOT NULL"  # noqa: S608 - names above
        )
    assert await serving.fetch(rows) == before


@pytest.mark.parametrize(("table", "column"), [("token", "revoked_at"), ("share", "ended_at")])
async def test_nor_does_the_owner(
    owner_dsn: str, team: Founded, ended: dict[str, bytes], table: str, column: str
) -> None:
    assert ended
    owner = await asyncpg.connect(owner_dsn)
    await owner.execute("SELECT set_config('studbook.team', $1, false)", str(team.team))
    with pytest.raises(asyncpg.PostgresError, match="never taken back"):
        await owner.execute(f"UPDATE studbook.{table} SET {column} = NULL")  # noqa: S608 - names above
    await owner.close()


@pytest.mark.parametrize("table", ["token", "share", "member"])
async def test_nothing_that_ended_is_deleted_and_made_anew(
    serving: asyncpg.Connection, ended: dict[str, bytes], table: str
) -> None:
    assert ended
    with pytest.raises(asyncpg.InsufficientPrivilegeError):
        await serving.execute(f"DELETE FROM studbook.{table}")  # noqa: S608 - names above


async def test_who_comes_back_has_none_of_the_old_tokens(
    book: BookStore, team: Founded, ended: dict[str, bytes], event: bytes
) -> None:
    assert await book.access.change_member(team.team, "sam", ended=False, audit=event) == MemberRow(
        "sam", "Sam", "crew"
    )
    assert await book.access.bearer(ended["token"]) is None
    assert await book.access.bearer(ended["share"]) is None


async def test_nor_where_the_home_brings_them_back(
    book: BookStore, team: Founded, let_in: LetIn, serving: asyncpg.Connection, event: bytes
) -> None:
    """The serving role may say that a home is elsewhere, and what it gives: that revives no token."""
    token = await let_in("ada", "crew")
    await serving.execute("UPDATE studbook.book SET home = 'nowhere'")
    for over in (True, False):
        await book.access.take_home(team.team, [MemberRow("ada", "Ada", "chief", ended=over)], [])
        assert await book.access.bearer(token) is None
    assert MemberRow("ada", "Ada", "chief") in await book.access.members(team.team)
    again = secret_hash(mint())
    await book.access.add_token(team.team, secret_hash=again, member="ada", role="crew", label="new", audit=event)
    assert await book.access.bearer(again) is not None


async def test_an_ending_is_dated_now(
    serving: asyncpg.Connection, book: BookStore, team: Founded, let_in: LetIn
) -> None:
    token = await let_in("sam", "crew")
    before = datetime.now(UTC) - timedelta(minutes=1)
    await serving.execute("UPDATE studbook.token SET revoked_at = '2020-01-01' WHERE hash = $1", token)
    [row] = [row for row in await book.access.tokens(team.team) if row.member == "sam"]
    assert row.revoked_at is not None
    assert row.revoked_at > before


async def test_nobody_is_brought_back_at_home_without_a_record(
    serving: asyncpg.Connection, team: Founded, ended: dict[str, bytes]
) -> None:
    assert ended
    with pytest.raises(asyncpg.PostgresError, match="recorded there"):
        await serving.execute("SELECT studbook.set_ended($1, 'sam', false, NULL)", team.team)
