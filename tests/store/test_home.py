"""A team's home: elsewhere nobody decides access, and what home says is taken over."""

from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta

import pytest

from studbook_service.store import (
    AtHome,
    BookStore,
    Founded,
    MemberRow,
    NewEntry,
    NotHome,
    UnknownTeam,
    erase_entries,
    erase_name,
    mint,
    secret_hash,
)

LetIn = Callable[..., Awaitable[bytes]]
LINE = "car/7/sheet/baseline"


@pytest.fixture
async def laptop(book: BookStore, team: Founded, let_in: LetIn, event: bytes) -> Founded:
    """A team whose home is the shop."""
    await let_in("sam", "crew")
    await book.access.set_home(team.team, "shop", audit=event)
    return team


async def test_home_is_here_until_it_is_elsewhere(book: BookStore, team: Founded, event: bytes) -> None:
    assert await book.access.home(team.team) is None
    await book.access.set_home(team.team, "shop", audit=event)
    assert await book.access.home(team.team) == "shop"
    await book.access.set_home(team.team, None, audit=event)
    assert await book.access.home(team.team) is None
    with pytest.raises(UnknownTeam):
        await book.access.set_home(type(team.team)(int=7), "shop", audit=event)


async def test_away_from_home_nobody_decides(
    book: BookStore, laptop: Founded, owner_dsn: str, event: bytes, make: Callable[..., NewEntry]
) -> None:
    access, team = book.access, laptop.team
    until = datetime.now(UTC) + timedelta(days=1)
    hashed = secret_hash(mint())
    for change in (
        access.add_member(team, MemberRow("ada", "Ada", "crew"), audit=event),
        access.change_member(team, "sam", role="chief", audit=event),
        access.add_token(team, secret_hash=hashed, member="sam", role="node", label="", audit=event),
        access.add_share(team, id="s", secret_hash=hashed, line="a", label="", until=until, by="sam", audit=event),
        access.end_share(team, "s", audit=event),
        access.protect(team, LINE, by="chief", audit=event),
        access.unprotect(team, LINE, audit=event),
        erase_name(owner_dsn, team, "sam", audit=event),
        erase_entries(owner_dsn, team, make("e", kind="erasure", body=b'{"entries":[]}'), audit=event),
    ):
        with pytest.raises(NotHome) as refused:
            await change
        assert refused.value.home == "shop"


async def test_a_persons_token_may_be_made_and_ended_anywhere(book: BookStore, laptop: Founded, event: bytes) -> None:
    access, hashed = book.access, secret_hash(mint())
    await access.add_token(laptop.team, secret_hash=hashed, member="sam", role="crew", label="here", audit=event)
    assert await access.bearer(hashed) is not None
    assert await access.revoke_token(laptop.team, hashed.hex()[:12], audit=event)


async def test_what_home_gives_is_taken_over(book: BookStore, laptop: Founded, event: bytes) -> None:
    access, team = book.access, laptop.team
    hashed = secret_hash(mint())
    await access.add_token(team, secret_hash=hashed, member="sam", role="crew", label="here", audit=event)
    members = [
        MemberRow("sam", "", "viewer", ended=True, erased=True),
        MemberRow("m-ada", "Ada", "chief"),
    ]
    await access.take_home(team, members, [f"{LINE}-2", LINE, LINE])
    assert await access.members(team) == [MemberRow("chief", "Chris", "chief"), *reversed(members)]
    assert await access.protected(team) == {LINE, f"{LINE}-2"}
    assert await access.bearer(hashed) is None
    await access.take_home(team, [MemberRow("sam", "Sam", "crew")], [LINE])
    assert MemberRow("sam", "Sam", "crew") in await access.members(team)
    assert await access.protected(team) == {LINE}
    assert await access.bearer(hashed) is None  # whoever comes back gets a new token


async def test_what_is_no_news_moves_no_epoch(book: BookStore, laptop: Founded) -> None:
    access, from_home = book.access, ([MemberRow("m-ada", "Ada", "crew", ended=True)], [LINE])
    await access.take_home(laptop.team, *from_home)
    epoch = await access.epoch()
    await access.take_home(laptop.team, *from_home)
    await access.take_home(laptop.team, [], [LINE])
    assert await access.epoch() == epoch


async def test_home_takes_no_others_word(book: BookStore, team: Founded) -> None:
    with pytest.raises(AtHome):
        await book.access.take_home(team.team, [MemberRow("m-ada", "Ada", "chief")], [])
    assert len(await book.access.members(team.team)) == 1
