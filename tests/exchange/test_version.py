"""What comes from before 0.2 is refused in one plain sentence, whichever side it is on, and nothing of it is kept."""

import json
import re

import pytest

from exchange.making import BOOK, run
from exchange.wire import served, spelled
from studbook.wire.exchange import VERSION, Head
from studbook_service.exchange.book_file import read_book_file
from studbook_service.exchange.composing import Composer
from studbook_service.exchange.driver import PeerFailed, ask_head, sync
from studbook_service.exchange.frames import BadFrames, OtherVersion, Writer
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond

SENTENCE = "books made before Studbook 0.2 cannot be exchanged or loaded"
ONLY = f"^{re.escape(SENTENCE)}$"
OF_THE_PEER = f"^shop: {re.escape(SENTENCE)}$"


def stream(version: int = 1) -> bytes:
    """Write a head and three entries as another version does."""
    writer = Writer()
    writer.add(Head(v=version, book=BOOK))
    writer.add(Composer().frame(run(3), {}))
    return writer.finish()


async def never(_: bytes) -> bool:
    return False


async def test_a_responder_refuses_an_old_initiator() -> None:
    shop = MemoryBook(BOOK)
    with pytest.raises(BadFrames, match=ONLY):
        await respond(shop, stream(), via="laptop")
    assert await shop.end() == 0


async def test_an_initiator_refuses_an_old_responder() -> None:
    """An old responder answers ours with a problem; one that answers with frames is refused by their version."""
    problem = {
        "type": "urn:studbook:problem:bad_frames",
        "title": "These are no frames of an exchange",
        "status": 400,
        "code": "bad_frames",
        "detail": f"version {VERSION} of the frames, 1 is spoken here",
        "request_id": "r1",
    }
    for reply in (spelled(json.dumps(problem).encode(), "400 Bad Request"), spelled(stream())):
        requests: list[bytes] = []

        async def answer(body: bytes, reply: bytes = reply, requests: list[bytes] = requests) -> bytes:
            requests.append(body)
            return reply

        async with served(answer) as peer:
            laptop = MemoryBook(BOOK)
            with pytest.raises(PeerFailed, match=OF_THE_PEER):
                await sync(laptop, peer)
            with pytest.raises(PeerFailed, match=OF_THE_PEER):
                await ask_head(peer)
        assert len(requests) == 2, "asking again does not help"
        assert await laptop.end() == 0
        assert (await laptop.peer_state("shop")).failure == SENTENCE


async def test_an_old_file_is_refused() -> None:
    for book in (MemoryBook(BOOK), MemoryBook(b"book two")):
        with pytest.raises(OtherVersion, match=ONLY):
            await read_book_file(book, [stream()], adopt=never)
        assert await book.end() == 0


async def test_a_later_version_is_told_by_its_number() -> None:
    with pytest.raises(OtherVersion, match=rf"\(exchange version {VERSION + 1}, here {VERSION}\): update this one$"):
        await respond(MemoryBook(BOOK), stream(VERSION + 1), via="laptop")
