"""The record of changes: each in the transaction that made it, chained, and never altered."""

import asyncio
import json
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta
from hashlib import sha256

import asyncpg
import pytest

from studbook_service.store import (
    AuditRow,
    BookStore,
    Founded,
    LastChief,
    MemberExists,
    MemberRow,
    audit_event,
    erase_name,
    found_team,
    mint,
    secret_hash,
)

LetIn = Callable[..., Awaitable[bytes]]


def event(number: int) -> bytes:
    """An audit event with a number of its own."""
    return audit_event(actor="chief", action="test", subject="x", number=number)


def verify(rows: list[AuditRow]) -> None:
    """Reckon the chain anew."""
    chain = bytes(32)
    for number, row in enumerate(rows, start=1):
        chain = sha256(chain + row.event).digest()
        assert (row.seq, row.chain) == (number, chain)


async def test_a_team_begins_with_its_founding(book: BookStore, owner_dsn: str) -> None:
    before = datetime.now(UTC)
    team = await found_team(owner_dsn, team_name="Studbook crew", chief_name="Chris")
    (row,) = await book.access.audit(team.team, after=0, limit=9)
    verify([row])
    line = json.loads(row.event)
    assert abs(datetime.fromtimestamp(line.pop("at") / 1000, UTC) - before) < timedelta(minutes=1)
    assert line == {
        "action": "team.found",
        "actor": "owner",
        "detail": {"chief": team.member},
        "subject": "team",
    }


async def test_every_change_is_recorded_once_and_what_changes_nothing_is_not(
    book: BookStore, team: Founded, owner_dsn: str
) -> None:
    access, until = book.access, datetime.now(UTC) + timedelta(days=1)
    hashed = secret_hash(mint())
    say = iter(range(1000))

    def next_event() -> bytes:
        return event(next(say))

    changes = [
        access.add_member(team.team, MemberRow("sam", "Sam", "crew"), audit=next_event()),
        access.change_member(team.team, "sam", role="viewer", audit=next_event()),
        access.add_token(team.team, secret_hash=hashed, member="sam", role="crew", label="", audit=next_event()),
        access.revoke_token(team.team, hashed.hex()[:12], audit=next_event()),
        access.add_share(
            team.team,
            id="s-1",
            secret_hash=secret_hash(mint()),
            line="a",
            label="",
            until=until,
            by="sam",
            audit=next_event(),
        ),
        access.end_share(team.team, "s-1", audit=next_event()),
        access.protect(team.team, "car/7", by="sam", audit=next_event()),
        access.unprotect(team.team, "car/7", audit=next_event()),
        erase_name(owner_dsn, team.team, "sam", audit=next_event()),
        access.set_home(team.team, None, audit=next_event()),
    ]
    for change in changes:
        await change
    await access.revoke_token(team.team, hashed.hex()[:12], audit=next_event())
    await access.end_share(team.team, "s-1", audit=next_event())
    await access.unprotect(team.team, "car/7", audit=next_event())
    with pytest.raises(MemberExists):
        await access.add_member(team.team, MemberRow("sam", "Sam", "crew"), audit=next_event())
    with pytest.raises(LastChief):
        await access.change_member(team.team, "chief", ended=True, audit=next_event())
    rows = await access.audit(team.team, after=0, limit=99)
    verify(rows)
    assert [json.loads(row.event)["detail"]["number"] for row in rows[1:]] == list(range(len(changes)))


async def test_the_record_is_read_in_pages(book: BookStore, team: Founded) -> None:
    for number in range(5):
        await book.access.set_home(team.team, None, audit=event(number))
    rows = [row for after in (0, 2, 4, 6) for row in await book.access.audit(team.team, after=after, limit=2)]
    verify(rows)
    assert len(rows) == 6


async def test_changes_at_once_make_one_chain(book: BookStore, team: Founded, let_in: LetIn) -> None:
    await let_in("sam", "crew")
    before = len(await book.access.audit(team.team, after=0, limit=99))
    access = book.access
    await asyncio.gather(
        *(access.add_member(team.team, MemberRow(f"m-{n}", "M", "crew"), audit=event(n)) for n in range(20)),
        *(access.change_member(team.team, "sam", name=f"Sam {n}", audit=event(n)) for n in range(20)),
        *(access.protect(team.team, f"car/{n}", by="sam", audit=event(n)) for n in range(20)),
    )
    rows = await access.audit(team.team, after=0, limit=999)
    verify(rows)
    assert len(rows) == before + 60


async def test_of_two_chiefs_who_send_each_other_off_one_stays(book: BookStore, team: Founded, let_in: LetIn) -> None:
    await let_in("sam", "chief")
    results = await asyncio.gather(
        *(book.access.change_member(team.team, who, ended=True, audit=event(0)) for who in ("chief", "sam")),
        return_exceptions=True,
    )
    assert sorted(type(result).__name__ for result in results) == ["LastChief", "MemberRow"]


@pytest.mark.parametrize(
    "statement",
    ["UPDATE studbook.audit SET event = 'x'", "DELETE FROM studbook.audit", "TRUNCATE studbook.audit"],
)
async def test_nobody_alters_the_record(team: Founded, statement: str, owner_dsn: str) -> None:
    owner = await asyncpg.connect(owner_dsn)
    await owner.execute("SELECT set_config('studbook.team', $1, false)", str(team.team))
    with pytest.raises(asyncpg.PostgresError, match="what is recorded never changes") as refused:
        await owner.execute(statement)
    assert refused.value.sqlstate == "SB003"
    await owner.close()


async def test_the_serving_role_adds_lines_and_forges_no_number(book: BookStore, team: Founded) -> None:
    async with book.pool.acquire() as connection, connection.transaction():
        await connection.execute("SELECT set_config('studbook.team', $1, true)", str(team.team))
        await connection.execute("INSERT INTO studbook.audit (team_id, event) VALUES ($1, $2)", team.team, event(1))
    rows = await book.access.audit(team.team, after=0, limit=9)
    verify(rows)
    assert len(rows) == 2
    async with book.pool.acquire() as connection:
        for column, value in (("seq", "7"), ("chain", "sha256('x')")):
            with pytest.raises(asyncpg.InsufficientPrivilegeError):
                await connection.execute(
                    f"INSERT INTO studbook.audit (team_id, event, {column}) VALUES ($1, $2, {value})",  # noqa: S608 - above
                    team.team,
                    event(2),
                )
