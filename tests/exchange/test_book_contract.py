"""What an exchange relies on, proved alike on the book in memory and on PostgreSQL."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from hashlib import sha256
from typing import Any

import msgspec
import pytest

from exchange.making import BOOK, entry, run
from studbook.wire.exchange import Home, HomeMember
from studbook_service.actions.team_book import TeamBook
from studbook_service.exchange.book import ExchangeBook, PeerStateMoved, UnknownParent
from studbook_service.exchange.checking import verify
from studbook_service.exchange.erasures import erasure
from studbook_service.exchange.initiator import new_peer_state
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import member_names
from studbook_service.store import audit_event, found_team, open_book

ABSENT = "00" * 32


@asynccontextmanager
async def opened(kind: str, database: Any, home: str | None) -> AsyncIterator[ExchangeBook]:
    """Open an empty book of a kind, with a peer called shop."""
    if kind == "memory":
        yield MemoryBook(BOOK, home)
        return
    founded = await found_team(database.owner_dsn, team_name="Studbook crew", chief_name="Chris")
    books = await open_book(database.serving_dsn, size=2)
    await books.peers.set(founded.team, "shop", "https://shop.test", state=msgspec.json.encode(new_peer_state(0)))
    if home is not None:
        await books.access.set_home(
            founded.team, home, audit=audit_event(actor="owner", action="home.set", subject="home")
        )
    yield TeamBook(books, founded.team)
    await books.close()


@pytest.fixture(params=["memory", "postgres"])
async def book(request: pytest.FixtureRequest, shared_database: Any) -> AsyncIterator[ExchangeBook]:
    """A book at home."""
    async with opened(request.param, shared_database, None) as book:
        yield book


@pytest.fixture(params=["memory", "postgres"])
async def away(request: pytest.FixtureRequest, shared_database: Any) -> AsyncIterator[ExchangeBook]:
    """A book whose home is the shop."""
    async with opened(request.param, shared_database, "shop") as book:
        yield book


async def test_an_empty_book(book: ExchangeBook) -> None:
    assert len(await book.identity()) == 8
    assert await book.end() == 0
    assert await book.at(0) == bytes(32)
    assert await book.at(1) is None
    assert not await book.since(0, most=10)
    assert not await book.get([ABSENT])
    assert not await book.has([ABSENT])
    assert not await book.tips("car/7")


async def test_entries_stand_in_order_with_their_chain(book: ExchangeBook) -> None:
    made = run(5)
    assert list(await book.append(made)) == [True] * 5
    placed = await book.since(0, most=10)
    chain = bytes(32)
    for number, each in enumerate(placed, start=1):
        chain = sha256(chain + bytes.fromhex(each.entry.id)).digest()
        assert (each.seq, each.chain) == (number, chain)
        assert await book.at(number) == chain
    assert [each.entry for each in placed] == list(made)
    assert await book.end() == 5
    assert await book.at(6) is None


async def test_since_gives_a_part(book: ExchangeBook) -> None:
    made = run(5)
    await book.append(made)
    assert [each.entry.id for each in await book.since(1, most=2)] == [each.id for each in made[1:3]]
    assert not await book.since(5, most=2)


async def test_everything_of_an_entry_is_kept(book: ExchangeBook) -> None:
    first = entry({"n": 1}, note="why not", at=0)
    carried = entry({"n": [1, 2.5, "x"]}, parents=[first], carried_from=ABSENT, author="robin", note="ünïcode")
    await book.append([first, carried])
    assert dict(await book.get([first.id, carried.id, ABSENT])) == {first.id: first, carried.id: carried}
    assert dict(await book.has([carried.id, ABSENT])) == {carried.id: ("car/7/sheet/baseline", "sheet")}


async def test_what_is_there_is_not_added_again(book: ExchangeBook) -> None:
    made = run(3)
    await book.append(made[:2])
    assert list(await book.append(made)) == [False, False, True]
    assert await book.end() == 3


async def test_tips_move_and_split(book: ExchangeBook) -> None:
    common = run(2)
    sides = [entry({"n": n}, parents=common[-1:]) for n in (1, 2)]
    await book.append([*common, *sides])
    line = "car/7/sheet/baseline"
    assert list(await book.tips(line)) == sorted(side.id for side in sides)
    await book.append([settled := entry({"n": 3}, parents=sides)])
    assert list(await book.tips(line)) == [settled.id]


@pytest.mark.parametrize(
    "made",
    [
        lambda: [entry({"n": 1}, parents=run(1))],
        lambda: [*(known := run(1, line="car/8/sheet/dirt")), entry({"n": 1}, parents=known)],
        lambda: [*(known := run(1, kind="other")), entry({"n": 1}, parents=known)],
        lambda: [*reversed(run(2))],
    ],
    ids=["missing", "other line", "other kind", "child before parent"],
)
async def test_an_entry_follows_what_is_on_its_line_or_nothing_is_added(
    book: ExchangeBook, made: Callable[[], Any]
) -> None:
    with pytest.raises(UnknownParent):
        await book.append([*run(1, line="car/9", kind="car"), *made()])
    assert await book.end() == 0


async def test_standing_is_kept_with_the_entries_or_neither(book: ExchangeBook) -> None:
    known = await book.peer_state("shop")
    assert known.version == 0
    moved = msgspec.structs.replace(known, version=1, sent=7)
    await book.append(run(1), peer="shop", state=moved)
    assert await book.peer_state("shop") == moved
    with pytest.raises(PeerStateMoved):
        await book.append(run(2), peer="shop", state=msgspec.structs.replace(moved, version=1))
    assert await book.end() == 1
    with pytest.raises(UnknownParent):
        await book.append(run(3)[2:], peer="shop", state=msgspec.structs.replace(moved, version=2, sent=9))
    assert await book.peer_state("shop") == moved


async def test_who_brought_an_entry_is_kept(book: ExchangeBook) -> None:
    made = run(1)[0]
    brought = type(made)(id=made.id, header=made.header, note=made.note, body=made.body, via="peer:shop")
    await book.append([brought])
    assert (await book.since(0, most=1))[0].entry.via == "peer:shop"


async def test_an_erasure_takes_note_and_document_and_leaves_all_else(book: ExchangeBook) -> None:
    made = run(3)
    await book.append(made)
    before = [
        (placed.seq, placed.chain, placed.entry.id, placed.entry.header) for placed in await book.since(0, most=9)
    ]
    await book.append([gone := erasure([made[1].id], reason="asked for", at_ms=1)])
    placed = await book.since(0, most=9)
    assert [(each.seq, each.chain, each.entry.id, each.entry.header) for each in placed[:3]] == before
    assert [each.entry.body for each in placed] == [made[0].body, b"", made[2].body, gone.body]
    assert [each.entry.note for each in placed] == ["turn 0", "", "turn 2", "asked for"]
    assert (await book.get([made[1].id]))[made[1].id].erased
    assert not (await verify(book)).faults


async def test_what_is_erased_stays_so_however_it_comes_again(book: ExchangeBook) -> None:
    made = run(2)
    await book.append(made[:1])
    await book.append([erasure([each.id for each in made], reason="asked for", at_ms=1)])
    assert list(await book.append(made)) == [False, True]
    found = await book.get([each.id for each in made])
    assert [found[each.id].body for each in made] == [b"", b""]


async def test_an_entry_that_comes_without_content_is_kept_so(book: ExchangeBook) -> None:
    made = run(2)
    await book.append([replace(made[0], body=b"", note=""), made[1]])
    assert [placed.entry.body for placed in await book.since(0, most=9)] == [b"", made[1].body]
    [fault] = (await verify(book)).faults
    assert (fault.seq, fault.id) == (1, made[0].id)
    assert list(await book.append(made)) == [False, False]


async def test_who_is_introduced_belongs_to_the_crew(book: ExchangeBook) -> None:
    await book.introduce({"robin": "Robin"}, by="laptop")
    await book.introduce({"robin": "Somebody else", "sam": "Sam"}, by="laptop")
    members = (await book.decided()).members
    assert members["robin"] == HomeMember("Robin", "crew")
    assert members["sam"] == HomeMember("Sam", "crew")


async def test_names_are_kept_of_those_whom_nobody_here_knows(book: ExchangeBook) -> None:
    await book.name({"robin": "Robin"})
    await book.name({"robin": "Robin R.", "sam": "Sam"})
    names = member_names(await book.decided())
    assert (names["robin"], names["sam"]) == ("Robin", "Sam")


async def test_what_home_says_replaces_what_was_known_of_it(away: ExchangeBook) -> None:
    assert await away.home() == "shop"
    known = (await away.decided()).members
    first = Home(members={"robin": HomeMember("Robin", "chief"), "sam": HomeMember("Sam", "node")}, protected=["car/7"])
    await away.take_home(first)
    assert await away.decided() == Home(members=known | first.members, protected=["car/7"])
    then = Home(members={"robin": HomeMember("", "viewer", ended=True, erased=True)}, protected=["car/8/sheet/dirt"])
    await away.take_home(then)
    assert await away.decided() == Home(members=known | first.members | then.members, protected=then.protected)
