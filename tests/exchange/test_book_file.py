"""A book saved is the book loaded, and a damaged file says so."""

import pytest

from exchange.making import BOOK, entry, run
from studbook_service.exchange.book import OtherBook
from studbook_service.exchange.book_file import read_book_file, write_book_file
from studbook_service.exchange.frames import BadFrames, CutShort
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import member_names


async def saved(book: MemoryBook) -> bytes:
    parts: list[bytes] = []
    await write_book_file(book, {"chief": "Chris"}, parts.append)
    return b"".join(parts)


async def never(_: bytes) -> bool:
    return False


async def book_of_many() -> MemoryBook:
    book = MemoryBook(BOOK)
    await book.append([*run(700), entry({"n": 1}, line="car/9", kind="car")])
    return book


async def test_what_was_saved_is_loaded_piece_by_piece() -> None:
    book, other = await book_of_many(), MemoryBook(BOOK)
    data = await saved(book)
    assert await read_book_file(
        other, [data[place : place + 100] for place in range(0, len(data), 100)], adopt=never
    ) == (
        701,
        [],
    )
    assert [placed.entry.id for placed in other._numbered] == [placed.entry.id for placed in book._numbered]
    assert await other.at(701) == await book.at(701)
    assert member_names(await other.decided()) == {"chief": "Chris"}
    assert await read_book_file(other, [data], adopt=never) == (0, [])


async def test_another_teams_file_is_refused_unless_adopted() -> None:
    data = await saved(await book_of_many())
    other = MemoryBook(b"book two")
    with pytest.raises(OtherBook):
        await read_book_file(other, [data], adopt=never)
    assert await other.end() == 0

    async def adopt(book: bytes) -> bool:
        other._identity = book
        return True

    assert (await read_book_file(other, [data], adopt=adopt))[0] == 701


async def test_a_cut_file_gives_what_is_whole_and_says_that_it_is_cut() -> None:
    data = await saved(await book_of_many())
    other = MemoryBook(BOOK)
    with pytest.raises(CutShort):
        await read_book_file(other, [data[: len(data) // 2]], adopt=never)
    assert 0 < await other.end() < 701


async def test_a_damaged_file_is_refused() -> None:
    data = bytearray(await saved(await book_of_many()))
    data[len(data) // 2] ^= 1
    with pytest.raises((BadFrames, CutShort)):
        await read_book_file(MemoryBook(BOOK), [bytes(data)], adopt=never)
