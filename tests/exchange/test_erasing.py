"""What is erased at home is erased everywhere, and what was recorded on it meanwhile is not lost."""

from collections.abc import AsyncIterator, Sequence
from dataclasses import replace

import msgspec
import pytest

from exchange.making import BOOK, entry, run
from exchange.test_book_file import never, saved
from exchange.test_hostile import frame_of, packed
from exchange.wire import NOW, exchange, run_session
from studbook.wire.exchange import VERSION, Frame, FrameRow, Head, Refused
from studbook_service.exchange.book import ExchangedEntry
from studbook_service.exchange.book_file import read_book_file
from studbook_service.exchange.checking import verify
from studbook_service.exchange.composing import Composer
from studbook_service.exchange.erasures import erasure
from studbook_service.exchange.frames import UP, Bounds
from studbook_service.exchange.initiator import Session
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import request_hash, respond

SMALL = Bounds(aim=500, most=100_000, inflated=4_000_000, rows=1_000, frame_rows=4)


def erasing(*entries: ExchangedEntry, at_ms: int = 1_790_000_000_000) -> ExchangedEntry:
    return erasure([each.id for each in entries], reason="asked for", at_ms=at_ms)


async def two(made: Sequence[ExchangedEntry]) -> tuple[MemoryBook, MemoryBook]:
    """A shop, and a laptop whose home it is, with the same entries."""
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK, home="shop")
    await shop.append(made)
    await exchange(laptop, shop)
    return shop, laptop


async def bodies(book: MemoryBook) -> dict[str, bytes]:
    return {placed.entry.id: placed.entry.body for placed in await book.since(0, most=10_000)}


async def test_an_erasure_travels_from_home() -> None:
    shop, laptop = await two(made := run(3))
    await shop.append([erasing(made[1])])
    await exchange(laptop, shop)
    assert await bodies(laptop) == await bodies(shop)
    assert (await laptop.get([made[1].id]))[made[1].id].erased
    assert not (await verify(laptop)).faults
    assert (await exchange(laptop, shop)).requests == 1


@pytest.mark.parametrize("count", [1, 60])
async def test_what_was_recorded_on_something_erased_is_offered_again_whole(count: int) -> None:
    shop, laptop = await two(made := run(3))
    later = list(run(3 + count)[3:])
    other = run(5, line="car/8/sheet/dirt")
    await laptop.append([*other, *later])
    await shop.append([erasing(*made)])

    progress = await exchange(laptop, shop, bounds=(SMALL, UP))

    assert not progress.refused
    assert progress.sent == len(other) + count
    assert await bodies(laptop) == await bodies(shop)
    assert {each.id: each.body for each in later}.items() <= (await bodies(shop)).items()
    assert not (await verify(shop)).faults
    assert not (await laptop.peer_state("shop")).refused
    assert (await exchange(laptop, shop)).sent == 0


async def test_it_is_offered_again_also_after_a_crash_in_between() -> None:
    shop, laptop = await two(made := run(3))
    await laptop.append([late := run(4)[3]])
    await shop.append([erasing(*made)])
    await exchange(laptop, shop, requests=1)
    assert late.id not in await bodies(shop)
    await exchange(laptop, shop)
    assert await bodies(laptop) == await bodies(shop)


async def test_one_who_is_not_home_gets_what_it_cannot_rebuild_whole() -> None:
    """A laptop brings changes of what another laptop knows to be erased, and does not hear of that from it."""
    shop, one = await two(made := run(3))
    other = one.copy()
    await shop.append([erasing(*made)])
    await exchange(other, shop)
    await one.append([late := run(4)[3]])

    progress = await exchange(one, other, peer="other")

    assert (progress.sent, progress.refused) == (4, [])
    assert (await bodies(other))[late.id] == late.body
    assert (await bodies(one))[made[0].id] == made[0].body


async def test_a_laptop_that_knows_more_than_home_asks_for_whole_documents() -> None:
    """The shop is restored to before the erasure, and goes on from what the laptop has no more."""
    shop, laptop = await two(made := run(3))
    backup = shop.copy()
    await shop.append([gone := erasing(*made)])
    await exchange(laptop, shop)
    shop = backup
    await shop.append([late := run(4)[3]])

    progress = await exchange(laptop, shop)

    assert (await bodies(laptop))[late.id] == late.body
    assert (await bodies(laptop))[made[0].id] == b""
    assert [(each.id, each.code) for each in progress.refused] == [(gone.id[:8], "not_home")]
    assert (await bodies(shop))[made[0].id] == made[0].body
    await shop.append([erasing(*made, at_ms=1)])
    assert not (await exchange(laptop, shop)).refused
    assert {id_: body for id_, body in (await bodies(laptop)).items() if id_ != gone.id} == await bodies(shop)


async def test_a_book_read_from_the_start_holds_what_is_left() -> None:
    shop, _ = await two(made := run(4))
    await shop.append([erasing(made[0], made[2])])
    clone = MemoryBook(BOOK, home="shop")
    progress = await exchange(clone, shop)
    assert (progress.received, progress.refused) == (5, [])
    assert [placed.entry for placed in clone._numbered] == [
        replace(placed.entry, via="peer:shop") for placed in shop._numbered
    ]
    assert not (await verify(clone)).faults
    assert await clone.at(5) == await shop.at(5)


async def test_a_laptop_restored_to_before_an_erasure_hears_of_it_again() -> None:
    shop, laptop = await two(made := run(3))
    backup = laptop.copy()
    await shop.append([erasing(made[0])])
    await exchange(laptop, shop)
    await exchange(backup, shop)
    assert await bodies(backup) == await bodies(shop)


async def test_an_entry_that_home_lost_comes_back_without_content() -> None:
    shop, laptop = await two(run(2))
    backup = shop.copy()
    await shop.append([more := entry({"n": 1}, line="car/9", kind="car")])
    await shop.append([erasing(more)])
    await exchange(laptop, shop)
    await exchange(laptop, backup)
    assert (await bodies(backup))[more.id] == b""
    [fault] = (await verify(backup)).faults
    assert fault.id == more.id
    await backup.append([erasing(more, at_ms=1)])
    assert not (await verify(backup)).faults


async def test_nobody_brings_an_erasure() -> None:
    shop, laptop = await two(made := run(3))
    await laptop.append([gone := erasing(*made)])
    progress = await exchange(laptop, shop)
    assert [(each.id, each.code) for each in progress.refused] == [(gone.id[:8], "not_home")]
    assert gone.id not in await bodies(shop)
    assert (await bodies(shop))[made[0].id] == made[0].body


async def test_an_erasure_from_another_than_home_is_passed_over() -> None:
    shop, one = await two(made := run(3))
    other = one.copy()
    await shop.append([gone := erasing(*made)])
    await exchange(other, shop)
    assert not (await exchange(one, other, peer="other")).refused
    assert gone.id not in await bodies(one)
    await exchange(one, shop)
    assert await bodies(one) == await bodies(shop)


ERASED = bytes.fromhex(run(1)[0].header.content)
UNFIT = {
    "of another entry": ("hash", FrameRow(after=[], content=bytes(32))),
    "too short": ("form", FrameRow(after=[], content=ERASED[:31])),
    "none": ("form", FrameRow(after=[], content=b"")),
    "with a document": ("form", FrameRow(after=[], content=ERASED, body={"n": 1})),
    "with a note": ("form", FrameRow(after=[], content=ERASED, note="why")),
    "with edits": ("form", FrameRow(after=[], content=ERASED, put={"n": 1})),
}


@pytest.mark.parametrize(("code", "row"), UNFIT.values(), ids=UNFIT)
async def test_an_entry_without_content_is_taken_by_its_headers_hash_alone(code: str, row: FrameRow) -> None:
    shop = MemoryBook(BOOK)
    response = await respond(shop, packed(frame_of(row)), via="n1")
    assert [each.code for each in response.refused] == [code]
    assert await shop.end() == 0


async def test_an_entry_whose_content_hash_was_changed_is_refused() -> None:
    gone = run(1)[0]
    frame = Composer().frame([replace(gone, note="", body=b"")], {})
    assert frame.rows[0].content == ERASED
    shop = MemoryBook(BOOK)

    async def brought(frame: Frame) -> list[str]:
        return [each.code for each in (await respond(shop, packed(frame), via="n1")).refused]

    forged = msgspec.structs.replace(frame, rows=[msgspec.structs.replace(frame.rows[0], content=bytes(32))])
    assert await brought(forged) == ["hash"]
    assert await brought(frame) == []
    assert await bodies(shop) == {gone.id: b""}


async def test_a_saved_book_with_erased_entries_is_loaded_as_it_is() -> None:
    shop, laptop = await two(made := run(3))
    await shop.append([erasing(made[1])])
    data, other = await saved(shop), MemoryBook(BOOK)
    assert await read_book_file(other, [data], adopt=never) == (4, [])
    assert await bodies(other) == await bodies(shop)
    assert not (await verify(other)).faults
    added, refused = await read_book_file(laptop, [data], adopt=never)
    assert (added, [each.code for each in refused]) == (0, ["not_home"])
    assert (await bodies(laptop))[made[1].id] == made[1].body


async def test_a_peer_that_refuses_whole_documents_too_is_not_told_for_ever() -> None:
    laptop = MemoryBook(BOOK, home="shop")
    await laptop.append(made := run(2))
    requests = 0

    async def send(request: bytes) -> AsyncIterator[bytes]:
        nonlocal requests
        requests += 1
        refused = [Refused(id=made[1].id[:8], code="parent_erased")]
        yield packed(Frame(more=False), head=Head(v=VERSION, book=BOOK, to=request_hash(request), refused=refused))

    session = await Session.begin(laptop, "shop")
    await run_session(session, send)
    progress = await session.finish(NOW)
    assert requests == 2
    assert (progress.sent, [each.id for each in progress.refused]) == (1, [made[1].id[:8]])
    assert (await laptop.peer_state("shop")).sent == 2
