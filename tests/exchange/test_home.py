"""What is decided at home: sent when it changed, kept by laptops, and held to when they bring something."""

from collections.abc import AsyncIterator
from typing import Any

import msgspec
import pytest

from exchange.making import BOOK, entry, run
from exchange.wire import NOW, exchange, run_session
from studbook.wire.exchange import VERSION, Head, Home, HomeMember
from studbook_service.exchange.admission import NOBODYS, AdmissionRules
from studbook_service.exchange.book import ExchangeBook
from studbook_service.exchange.frames import UP, BadFrames, Writer, whole
from studbook_service.exchange.initiator import Session, new_peer_state
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import member_names, request_hash, respond

DECIDED = Home(
    members={f"m-{n:010}": HomeMember(f"Somebody {n}", "crew") for n in range(30)}, protected=["car/7/sheet/baseline"]
)
CLOSED = AdmissionRules(closed=DECIDED.protected)


async def ids(book: ExchangeBook) -> set[str]:
    return {placed.entry.id for placed in await book.since(0, most=10_000)}


async def test_members_and_protection_are_told_once_and_again_when_they_change() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    await shop.append(run(30))
    await shop.take_home(DECIDED)
    await exchange(laptop, shop)
    assert await laptop.decided() == DECIDED
    quiet = await exchange(laptop, shop)
    assert quiet.requests == 1
    assert quiet.bytes_up + quiet.bytes_down < 400
    gone = Home(members={"m-0000000003": HomeMember("", "viewer", ended=True, erased=True)})
    await shop.take_home(gone)
    changed = await exchange(laptop, shop)
    assert (changed.requests, changed.received) == (1, 0)
    assert await laptop.decided() == await shop.decided()
    assert "Somebody 3" not in member_names(await laptop.decided()).values()
    assert (await exchange(laptop, shop)).bytes_down < quiet.bytes_down + 20


async def test_only_home_is_believed() -> None:
    shop, other, laptop = MemoryBook(BOOK), MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    await other.take_home(DECIDED)
    await exchange(laptop, other, peer="other")
    assert await laptop.decided() == Home()
    await exchange(MemoryBook(BOOK), other, peer="other")
    request = await (await Session.begin(laptop, "other")).next_request()
    assert request is not None
    assert whole((await respond(other, request, via="n1")).body, UP)[0].home is msgspec.UNSET
    away = MemoryBook(BOOK, home="other")
    await away.take_home(DECIDED)
    request = await (await Session.begin(laptop, "shop")).next_request()
    assert request is not None
    head = whole((await respond(away, request, via="n1")).body, UP)[0]
    assert (head.at_home, head.home) == (False, msgspec.UNSET)
    assert await shop.home() is None


async def test_a_protected_sheet_takes_nothing_from_a_laptop_not_made_for_it() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    closed, free = run(3), run(2, line="car/7/sheet/dirt")
    await laptop.append([*closed, *free])
    progress = await exchange(laptop, shop, rules=CLOSED)
    assert [(each.id, each.code) for each in progress.refused] == [(each.id[:8], "protected") for each in closed]
    assert await ids(shop) == {each.id for each in free}
    assert len((await laptop.peer_state("shop")).refused) == 3
    assert (await exchange(laptop, shop, rules=CLOSED)).bytes_up < 200
    # The protection is lifted, and all is read and offered from the start.
    await begin_anew(laptop)
    assert not (await exchange(laptop, shop)).refused
    assert await ids(shop) == await ids(laptop)


async def test_what_was_let_in_before_the_sheet_was_protected_is_no_refusal() -> None:
    """The receipt got lost, the sheet was protected meanwhile, and the laptop tells it again with something new."""
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    await laptop.append(made := run(2))
    request = await (await Session.begin(laptop, "shop")).next_request()
    assert request is not None
    await respond(shop, request, via="laptop")
    await laptop.append([late := run(3)[2], entry({"n": 1}, line="car/9", kind="car")])
    progress = await exchange(laptop, shop, rules=CLOSED)
    assert [(each.id, each.code) for each in progress.refused] == [(late.id[:8], "protected")]
    assert {each.id for each in made} < await ids(shop)


async def test_what_follows_something_refused_is_refused_with_it() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    first = entry({"n": 1}, line="car/9", kind="car", author="stranger")
    follows = entry({"n": 2}, line="car/9", kind="car", parents=[first])
    last = entry({"n": 3}, line="car/9", kind="car", parents=[follows])
    await laptop.append([first, follows, last])
    progress = await exchange(laptop, shop, rules=AdmissionRules(authors=NOBODYS | {"chief"}))
    assert [each.code for each in progress.refused] == ["unknown_author", "parent_refused", "parent_refused"]
    assert [each.detail for each in progress.refused] == ["stranger", "", ""]
    assert not await ids(shop)


@pytest.mark.parametrize("introduces", [False, True])
async def test_a_laptop_that_began_alone_introduces_its_people(*, introduces: bool) -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    await laptop.take_home(Home(members={"m-ada": HomeMember("Ada", "chief")}))
    await laptop.append([*run(70, author="m-ada"), *run(2, author="m-sam", line="car/8/sheet/dirt")])
    progress = await exchange(laptop, shop, rules=AdmissionRules(authors=NOBODYS | {"chief"}, introduces=introduces))
    members = (await shop.decided()).members
    if introduces:
        assert not progress.refused
        assert members == {
            "m-ada": HomeMember("Ada", "crew"),
            "m-sam": HomeMember("m-sam", "crew"),
        }
    else:
        assert {each.code for each in progress.refused} == {"unknown_author"}
        assert not members
        assert not await ids(shop)


async def test_an_answer_cut_before_home_was_kept_tells_it_again() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    await shop.take_home(DECIDED)

    async def cut(request: bytes) -> AsyncIterator[bytes]:
        yield (await respond(shop, request, via="n1")).body[:40]

    session = await Session.begin(laptop, "shop")
    with pytest.raises(Exception, match="cut short"):
        await run_session(session, cut)
    await exchange(laptop, shop)
    assert await laptop.decided() == DECIDED


async def test_what_home_says_is_kept_fit_to_be_shown() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    decided = Home(
        members={"m-1": HomeMember("Rob\x1b[2J\nin", "crew"), "../x": HomeMember("X", "chief")},
        protected=["car/7", "car/7/../8"],
    )
    await shop.take_home(decided)
    await exchange(laptop, shop)
    assert await laptop.decided() == Home(members={"m-1": HomeMember("Rob?[2J?in", "crew")}, protected=["car/7"])
    assert (await exchange(laptop, shop)).bytes_down < 200


@pytest.mark.parametrize("home", [b'{"members":{"m-1":["X","boss"]}}', b'{"members":[]}', b'{"protected":{"a":1}}'])
async def test_a_home_of_another_form_is_no_answer(home: bytes) -> None:
    laptop = MemoryBook(BOOK, home="shop")
    session = await Session.begin(laptop, "shop")
    request = await session.next_request()
    assert request is not None
    writer = Writer()
    head = Head(v=VERSION, book=BOOK, to=request_hash(request), at_home=True)
    spoiled: Any = msgspec.to_builtins(head) | {"home": msgspec.Raw(home)}
    writer.add(spoiled)
    with pytest.raises(BadFrames):
        await session.receive(writer.finish())
    assert await laptop.decided() == Home()


async def begin_anew(book: MemoryBook) -> None:
    version = (await book.peer_state("shop")).version + 1
    state = msgspec.structs.replace(new_peer_state(await book.end()), version=version, reached_at=NOW)
    await book.append((), peer="shop", state=state)
