"""Tokens as they are listed, shares, and protection: who may record where."""

from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta

import pytest

from studbook_service.store import (
    Bearer,
    BookStore,
    Founded,
    NewEntry,
    ProtectedLine,
    ShareRow,
    StaleTips,
    TokenRow,
    UnknownMember,
    mint,
    secret_hash,
)

LetIn = Callable[..., Awaitable[bytes]]
Make = Callable[..., NewEntry]
LINE = "car/7/sheet/baseline"
TOMORROW = datetime.now(UTC) + timedelta(days=1)


async def share(book: BookStore, team: Founded, id_: str, event: bytes, until: datetime = TOMORROW) -> bytes:
    """Share the car; the hash of its token."""
    hashed = secret_hash(mint())
    await book.access.add_share(
        team.team, id=id_, secret_hash=hashed, line="car/7", label="Next pit", until=until, by="chief", audit=event
    )
    return hashed


async def test_tokens_are_listed_the_newest_first_and_never_shown(
    book: BookStore, team: Founded, let_in: LetIn, event: bytes
) -> None:
    access = book.access
    laptop = await let_in("laptop", "node", expires=TOMORROW, protected=True, introduces=True)
    await access.revoke_token(team.team, laptop.hex()[:12], audit=event)
    tokens = await access.tokens(team.team)
    made, ended = tokens[0].created_at, tokens[0].revoked_at
    assert ended is not None
    assert made < ended
    assert tokens[0] == TokenRow(
        laptop.hex()[:12], "laptop", "node", "phone", made, TOMORROW, ended, protected=True, introduces=True
    )
    first = secret_hash(team.token).hex()[:12]
    assert [(token.id, token.member, token.label) for token in tokens[1:]] == [(first, "chief", "first token")]


async def test_a_share_lives_until_its_date_or_its_end(book: BookStore, team: Founded, event: bytes) -> None:
    access = book.access
    hashed = await share(book, team, "s-1", event)
    assert await access.bearer(hashed) == Bearer(
        team.team,
        "s-1",
        "share",
        "Next pit",
        TOMORROW,
        "car/7",
        protected=False,
        introduces=False,
        token=hashed.hex()[:12],
    )
    past = await share(book, team, "s-2", event, until=datetime.now(UTC) - timedelta(seconds=1))
    assert await access.bearer(past) is None
    assert await access.end_share(team.team, "s-1", audit=event)
    assert await access.bearer(hashed) is None
    assert not await access.end_share(team.team, "s-1", audit=event)
    assert not await access.end_share(team.team, "s-2", audit=event)
    assert not await access.end_share(team.team, "s-3", audit=event)
    second, first = await access.shares(team.team)
    assert (second.id, second.ended_at) == ("s-2", None)
    assert first == ShareRow("s-1", "car/7", "Next pit", "chief", first.made_at, TOMORROW, first.ended_at)
    assert first.ended_at is not None


async def test_a_share_has_a_maker(book: BookStore, team: Founded, event: bytes) -> None:
    with pytest.raises(UnknownMember):
        await book.access.add_share(
            team.team,
            id="s-1",
            secret_hash=secret_hash(mint()),
            line="car/7",
            label="",
            until=TOMORROW,
            by="nobody",
            audit=event,
        )


async def test_on_a_protected_line_only_a_chief_records(
    book: BookStore, team: Founded, make: Make, event: bytes
) -> None:
    access, first, second = book.access, make("first"), make("second", make("first").id)
    await book.push(team.team, first, expected=(), key="k", fingerprint=b"f")
    assert await access.protect(team.team, LINE, by="chief", audit=event)
    assert not await access.protect(team.team, LINE, by="chief", audit=event)
    assert await access.protected(team.team) == {LINE}
    with pytest.raises(ProtectedLine):
        await book.push(team.team, second, expected=(first.id,))
    with pytest.raises(ProtectedLine):  # rather than stale, for pulling anew would not help
        await book.push(team.team, make("late"), expected=())
    await book.push(team.team, make("beside", line=f"{LINE}-2"), expected=())
    assert not (await book.push(team.team, second, expected=(first.id,), may_protected=True)).replayed
    with pytest.raises(StaleTips):
        await book.push(team.team, make("late"), expected=(), may_protected=True)
    assert await access.unprotect(team.team, LINE, audit=event)
    assert not await access.unprotect(team.team, LINE, audit=event)
    await book.push(team.team, make("third", second.id), expected=(second.id,))


async def test_what_was_recorded_before_protection_is_still_a_retry(
    book: BookStore, team: Founded, make: Make, event: bytes
) -> None:
    first = make("first")
    await book.push(team.team, first, expected=(), key="k", fingerprint=b"f")
    await book.access.protect(team.team, LINE, by="chief", audit=event)
    assert (await book.push(team.team, first, expected=(), key="k", fingerprint=b"f")).replayed
    assert (await book.push(team.team, first, expected=())).replayed
