"""Members, and who holds a token."""

import re
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from studbook_service.store import (
    Bearer,
    BookStore,
    Founded,
    LastChief,
    MemberExists,
    MemberRow,
    UnknownMember,
    found_team,
    mint,
    secret_hash,
)

LetIn = Callable[..., Awaitable[bytes]]
PERSONS = ("viewer", "crew", "chief")


def holds(team: Founded, hashed: bytes, member: str, role: str, **fields: Any) -> Bearer:
    """The bearer a token should have."""
    values = {"expires": None, "scope": None, "protected": False, "introduces": False} | fields
    return Bearer(team.team, member, role, name=member.title(), token=hashed.hex()[:12], **values)


async def test_the_first_token_is_the_chiefs(book: BookStore, owner_dsn: str) -> None:
    team = await found_team(owner_dsn, team_name="Studbook crew", chief_name="Chris")
    assert re.fullmatch("m-[a-z2-7]{10}", team.member)
    hashed = secret_hash(team.token)
    assert await book.access.bearer(hashed) == Bearer(
        team.team, team.member, "chief", "Chris", None, None, protected=False, introduces=False, token=hashed.hex()[:12]
    )
    assert await book.access.members(team.team) == [MemberRow(team.member, "Chris", "chief")]


async def test_a_token_lives_until_it_expires_or_is_ended(
    book: BookStore, team: Founded, let_in: LetIn, event: bytes
) -> None:
    access, soon = book.access, datetime.now(UTC) + timedelta(hours=1)
    forever, expiring, expired = (
        await let_in("sam", "crew"),
        await let_in("ada", "crew", expires=soon),
        await let_in("max", "crew", expires=datetime.now(UTC) - timedelta(seconds=1)),
    )
    assert [await access.bearer(hashed) for hashed in (forever, expiring, expired)] == [
        holds(team, forever, "sam", "crew"),
        holds(team, expiring, "ada", "crew", expires=soon),
        None,
    ]
    assert await access.revoke_token(team.team, forever.hex()[:12], audit=event)
    assert await access.bearer(forever) is None
    assert not await access.revoke_token(team.team, forever.hex()[:12], audit=event)
    assert not await access.revoke_token(team.team, "no such id", audit=event)
    assert await access.bearer(secret_hash(mint())) is None


@pytest.mark.parametrize("token", PERSONS)
@pytest.mark.parametrize("member", PERSONS)
async def test_a_token_allows_the_lesser_of_its_role_and_its_members(
    book: BookStore, team: Founded, let_in: LetIn, member: str, token: str
) -> None:
    bearer = await book.access.bearer(await let_in("sam", member, token=token))
    assert bearer is not None
    assert bearer.role == min(member, token, key=PERSONS.index)
    assert team.team == bearer.team


async def test_a_nodes_token_is_for_a_node_and_no_other_is(book: BookStore, team: Founded, let_in: LetIn) -> None:
    laptop = await let_in("pit-laptop", "node", protected=True, introduces=True)
    assert await book.access.bearer(laptop) == holds(
        team, laptop, "pit-laptop", "node", protected=True, introduces=True
    )
    for member, token in (("chief", "node"), ("viewer", "node"), ("node", "chief"), ("node", "viewer")):
        assert await book.access.bearer(await let_in(f"{member}-{token}", member, token=token)) is None


async def test_a_change_of_role_holds_for_tokens_made_before(
    book: BookStore, team: Founded, let_in: LetIn, event: bytes
) -> None:
    hashed = await let_in("sam", "crew")
    for role, allows in (("viewer", "viewer"), ("chief", "crew"), ("node", None), ("crew", "crew")):
        assert await book.access.change_member(team.team, "sam", role=role, audit=event) == MemberRow(
            "sam", "Sam", role
        )
        bearer = await book.access.bearer(hashed)
        assert (bearer and bearer.role) == allows


async def test_who_leaves_loses_all_tokens_for_good(
    book: BookStore, team: Founded, let_in: LetIn, event: bytes
) -> None:
    access, hashed = book.access, await let_in("sam", "crew")
    left = await access.change_member(team.team, "sam", ended=True, audit=event)
    assert left == MemberRow("sam", "Sam", "crew", ended=True)
    assert left in await access.members(team.team)
    assert await access.bearer(hashed) is None
    assert await access.change_member(team.team, "sam", name="Samira", ended=False, audit=event) == MemberRow(
        "sam", "Samira", "crew"
    )
    assert await access.bearer(hashed) is None
    again = secret_hash(mint())
    await access.add_token(team.team, secret_hash=again, member="sam", role="crew", label="new", audit=event)
    assert await access.bearer(again) is not None


async def test_an_author_may_be_known_without_being_let_in(book: BookStore, team: Founded, event: bytes) -> None:
    stranger = MemberRow("m-fromlaptop", "Ada", "viewer", ended=True)
    await book.access.add_member(team.team, stranger, audit=event)
    assert stranger in await book.access.members(team.team)


async def test_a_team_keeps_a_chief(book: BookStore, team: Founded, let_in: LetIn, event: bytes) -> None:
    access = book.access
    for change in ({"role": "crew"}, {"ended": True}, {"role": "node"}):
        with pytest.raises(LastChief):
            await access.change_member(team.team, "chief", audit=event, **change)
    await let_in("sam", "chief")
    await access.change_member(team.team, "chief", role="viewer", audit=event)
    with pytest.raises(LastChief):
        await access.change_member(team.team, "sam", ended=True, audit=event)
    assert [member.role for member in await access.members(team.team)] == ["viewer", "chief"]


async def test_members_and_their_tokens_fit_together(book: BookStore, team: Founded, event: bytes) -> None:
    access = book.access
    with pytest.raises(MemberExists):
        await access.add_member(team.team, MemberRow("chief", "Again", "crew"), audit=event)
    with pytest.raises(UnknownMember):
        await access.change_member(team.team, "nobody", name="X", audit=event)
    with pytest.raises(UnknownMember):
        await access.add_token(
            team.team, secret_hash=secret_hash(mint()), member="nobody", role="crew", label="", audit=event
        )


async def test_every_change_advances_the_epoch(book: BookStore, team: Founded, let_in: LetIn, event: bytes) -> None:
    access, line = book.access, "car/7"
    token = (await let_in("sam", "crew")).hex()[:12]
    until = datetime.now(UTC) + timedelta(days=1)
    epochs = [await access.epoch()]
    for change in (
        access.add_member(team.team, MemberRow("ada", "Ada", "crew"), audit=event),
        access.change_member(team.team, "ada", role="viewer", audit=event),
        access.add_token(team.team, secret_hash=secret_hash(mint()), member="ada", role="crew", label="", audit=event),
        access.revoke_token(team.team, token, audit=event),
        access.add_share(
            team.team,
            id="s-1",
            secret_hash=secret_hash(mint()),
            line=line,
            label="F",
            until=until,
            by="sam",
            audit=event,
        ),
        access.end_share(team.team, "s-1", audit=event),
        access.protect(team.team, line, by="sam", audit=event),
        access.unprotect(team.team, line, audit=event),
    ):
        await change
        epochs.append(await access.epoch())
    assert epochs == sorted(set(epochs))
    await access.members(team.team)
    assert await access.epoch() == epochs[-1]
