"""One bit flipped, stored or sent: never another entry, and the bad one is named."""

import random
from dataclasses import replace

import pytest

from exchange.making import BOOK, entry, run
from exchange.wire import exchange
from studbook.wire.exchange import VERSION, Head
from studbook_service.exchange.book import NumberedEntry
from studbook_service.exchange.checking import verify
from studbook_service.exchange.composing import Composer
from studbook_service.exchange.frames import BadFrames, CutShort, Writer
from studbook_service.exchange.initiator import Session
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond

FLIPS = 1_000


def flipped(data: bytes, chance: random.Random) -> bytes:
    place = chance.randrange(len(data))
    return data[:place] + bytes([data[place] ^ 1 << chance.randrange(8)]) + data[place + 1 :]


@pytest.mark.parametrize("what", ["body", "note"])
async def test_a_stored_entry_with_a_flipped_bit_is_named_and_not_taken(what: str) -> None:
    chance = random.Random(4)  # noqa: S311 - chance that repeats is the point
    made = list(run(10))
    for _ in range(FLIPS // 2):
        shop = MemoryBook(BOOK)
        await shop.append(made)
        number = chance.randrange(len(made))
        placed = shop._numbered[number]
        if what == "body":
            damaged = replace(placed.entry, body=flipped(placed.entry.body, chance))
        else:
            damaged = replace(placed.entry, note=flipped(placed.entry.note.encode(), chance).decode("latin-1"))
        shop._numbered[number] = NumberedEntry(placed.seq, placed.chain, damaged)
        shop._entries[damaged.id] = damaged
        laptop = MemoryBook(BOOK)

        progress = await exchange(laptop, shop)

        assert progress.refused[0].id == damaged.id[:8]
        assert {each.entry.id for each in laptop._numbered} == {each.id for each in made[:number]}
        assert not (await verify(laptop)).faults
        assert [(fault.seq, fault.id) for fault in (await verify(shop)).faults] == [(placed.seq, placed.entry.id)]


async def test_a_request_with_a_flipped_bit_brings_nothing_else() -> None:
    chance = random.Random(5)  # noqa: S311 - chance that repeats is the point
    made = [*run(20), entry({"n": 1}, line="car/9", kind="car", carried_from="ab" * 32)]
    writer = Writer()
    writer.add(Head(v=VERSION, book=BOOK))
    writer.add(Composer().frame(made, {}))
    request = writer.finish()
    for _ in range(FLIPS):
        shop = MemoryBook(BOOK)
        try:
            response = await respond(shop, flipped(request, chance), via="n1")
        except BadFrames:
            assert await shop.end() == 0
        else:  # a bit that means nothing, such as the filling of an empty block
            assert [each.entry.id for each in shop._numbered] == [each.id for each in made]
            assert not response.refused


async def test_an_answer_with_a_flipped_bit_brings_nothing_else() -> None:
    chance = random.Random(6)  # noqa: S311 - chance that repeats is the point
    made = list(run(150))
    known = {each.id: each.body for each in made}
    shop = MemoryBook(BOOK)
    await shop.append(made)
    for _ in range(FLIPS // 10):
        laptop = MemoryBook(BOOK)
        session = await Session.begin(laptop, "shop")
        request = await session.next_request()
        assert request is not None
        try:
            await session.receive(flipped((await respond(shop, request, via="n1")).body, chance))
            await session.end_response()
        except (BadFrames, CutShort):
            pass
        assert all(known[each.entry.id] == each.entry.body for each in laptop._numbered)
        assert not session.progress.refused
        await exchange(laptop, shop)
        assert len(laptop._numbered) == len(made)
