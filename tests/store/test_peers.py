"""Peers in the store: what is kept, who may join, and that each team keeps to its own."""

from collections.abc import Awaitable, Callable

import pytest

from studbook_service.store import BookStore, Founded, MemberRow, NewEntry, PeerMoved, found_team

CAR = NewEntry(
    id=b"i" * 32, kind="car", line="car/7", parents=(), content=b"c" * 32, note="", body=b"{}", author="chief", at_ms=0
)
THEIRS = b"another1"


async def test_a_peer_is_kept_and_begun_anew(book: BookStore, team: Founded) -> None:
    await book.peers.set(team.team, "shop", "https://shop.test", state=b"{}")
    await book.peers.receive(team.team, [CAR], peer="shop", version=1, state=b'{"sent":1}')
    [kept] = await book.peers.list(team.team)
    assert (kept.name, kept.url, kept.version, kept.state) == ("shop", "https://shop.test", 1, b'{"sent":1}')
    await book.peers.set(team.team, "shop", "https://new.test", state=b"{}")
    [kept] = await book.peers.list(team.team)
    assert (kept.url, kept.version) == ("https://new.test", 0)


async def test_nothing_is_received_from_a_peer_that_moved_or_is_not_there(book: BookStore, team: Founded) -> None:
    await book.peers.set(team.team, "shop", "https://shop.test", state=b"{}")
    for peer, version in (("shop", 2), ("shop", 0), ("other", 1)):
        with pytest.raises(PeerMoved):
            await book.peers.receive(team.team, [CAR], peer=peer, version=version, state=b"{}")
    assert (await book.team_head(team.team)).seq == 0


async def test_a_book_that_met_nobody_may_join(book: BookStore, team: Founded) -> None:
    await book.append(team.team, [CAR])
    assert await book.peers.join(team.team, THEIRS)
    assert (await book.team_head(team.team)).book == THEIRS


@pytest.mark.parametrize("met", ["a peer", "an entry", "a node"])
async def test_a_book_that_met_others_may_not(
    book: BookStore, team: Founded, met: str, let_in: Callable[..., Awaitable[bytes]]
) -> None:
    before = (await book.team_head(team.team)).book
    if met == "a peer":
        await book.peers.set(team.team, "shop", "https://shop.test", state=b"{}")
    elif met == "an entry":
        brought = NewEntry(
            **{name: getattr(CAR, name) for name in NewEntry.__dataclass_fields__ if name != "via"}, via="laptop"
        )
        await book.append(team.team, [brought])
    else:
        await let_in("laptop", "node")
    assert not await book.peers.join(team.team, THEIRS)
    assert (await book.team_head(team.team)).book == before
    assert await book.peers.join(team.team, before)


async def test_authors_nobody_knows_are_kept_by_name_and_let_in_by_nobody(book: BookStore, team: Founded) -> None:
    await book.peers.name_members(team.team, {"chief": "Somebody else", "robin": "Robin"})
    assert await book.access.members(team.team) == [
        MemberRow("chief", "Chris", "chief"),
        MemberRow("robin", "Robin", "viewer", ended=True),
    ]


async def test_each_team_has_its_own(book: BookStore, team: Founded, owner_dsn: str) -> None:
    other = await found_team(owner_dsn, team_name="Others", chief_name="Robin")
    await book.append(team.team, [CAR])
    await book.peers.set(team.team, "shop", "https://shop.test", state=b"{}")
    assert not await book.peers.list(other.team)
    assert not await book.peers.since(other.team, 0, limit=10)
    assert not await book.peers.places(other.team, [CAR.id])
    assert not await book.several(other.team, [CAR.id])
    assert await book.peers.chain_at(other.team, 1) is None
    assert await book.peers.waiting(team.team, after=0, via="peer:shop") == 1
    assert await book.peers.waiting(other.team, after=0, via="peer:shop") == 0
