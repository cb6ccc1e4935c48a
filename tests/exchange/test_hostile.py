"""What a hostile peer sends is refused, in bounded memory, and nothing of it is kept."""

import tracemalloc
import zlib
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from exchange.making import BOOK, entry, run
from exchange.wire import exchange
from studbook.wire.exchange import VERSION, Cursor, Frame, FrameRow, Head, Refused
from studbook_service.exchange.book import OtherBook
from studbook_service.exchange.composing import Composer, digest
from studbook_service.exchange.frames import UP, BadFrames, Writer, whole
from studbook_service.exchange.initiator import Session
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import member_names, request_hash, respond

NOWHERE = "ab" * 32
CAR = [("car/9", "car")]


def packed(*frames: Head | Frame, head: Head | None = None) -> bytes:
    writer = Writer()
    writer.add(head or Head(v=VERSION, book=BOOK))
    for frame in frames:
        writer.add(frame)
    return writer.finish()


def frame_of(*rows: FrameRow, lines: Any = CAR, authors: Any = ("chief",), checks: bytes | None = None) -> Frame:
    checks = checks if checks is not None else bytes(4 * len(rows))
    return Frame(lines=list(lines), authors=list(authors), rows=list(rows), checks=checks, digest=bytes(16))


def raw(data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + zlib.crc32(data).to_bytes(4, "big") + data


HEAD = raw(msgspec.json.encode(Head(v=VERSION, book=BOOK)))
UNREADABLE = {
    "nothing": b"",
    "no zlib": b"PK\x03\x04 hello",
    "a bomb": zlib.compress(HEAD + raw(b"[" + b"0," * 400_000 + b"0]") * 40, 9),
    "a bomb in one frame": zlib.compress(HEAD + (2**31).to_bytes(4, "big") + bytes(50_000_000), 9),
    "a length beyond the end": zlib.compress(HEAD + (500).to_bytes(4, "big") + bytes(30)),
    "a length short of the frame": zlib.compress(HEAD + (5).to_bytes(4, "big") + bytes(30)),
    "cut": zlib.compress(HEAD + raw(b"{}"))[:-6],
    "more behind the end": zlib.compress(HEAD) + b"more",
    "no JSON": zlib.compress(HEAD + raw(b"{rows")),
    "bottomless": zlib.compress(HEAD + raw(b'{"rows":[{"body":' + b'{"a":' * 100_000 + b"1" + b"}" * 100_000 + b"}]}")),
    "another version": packed(head=Head(v=VERSION + 1, book=BOOK)),
    "a member no row has": zlib.compress(HEAD + raw(b'{"rows":[{"seq":1}],"checks":"AAAAAA=="}')),
    "too many rows": packed(Frame(rows=[FrameRow()] * 65, checks=bytes(4 * 65))),
    "rows without checks": packed(Frame(rows=[FrameRow()])),
    "more than is read": bytes(UP.most + 1),
}


@pytest.mark.parametrize("sent", UNREADABLE.values(), ids=UNREADABLE)
async def test_what_cannot_be_read_is_refused_in_bounded_memory(sent: bytes) -> None:
    shop = MemoryBook(BOOK)
    tracemalloc.start()
    with pytest.raises(BadFrames):
        await respond(shop, sent, via="n1")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 40_000_000
    assert await shop.end() == 0


@pytest.mark.parametrize("book", [b"book two", b""])
async def test_another_teams_book_is_refused(book: bytes) -> None:
    shop = MemoryBook(BOOK)
    with pytest.raises(OtherBook):
        await respond(shop, packed(frame_of(FrameRow(body={"n": 1})), head=Head(v=VERSION, book=book)), via="n1")
    assert await shop.end() == 0


ROWS: dict[str, tuple[str, Callable[[], list[FrameRow]]]] = {
    "a forged id": ("hash", lambda: [FrameRow(after=[], body={"n": 1})]),
    "itself as parent": ("cycle", lambda: [FrameRow(after=[0], put={"n": 1})]),
    "a later row as parent": ("cycle", lambda: [FrameRow(after=[-1]), FrameRow(after=[], body={})]),
    "a row before the first": ("form", lambda: [FrameRow(after=[7])]),
    "no such parent": ("missing_parent", lambda: [FrameRow(after=[NOWHERE])]),
    "no id as parent": ("missing_parent", lambda: [FrameRow(after=["../../etc"])]),
    "a parent twice": ("form", lambda: [FrameRow(after=[NOWHERE, NOWHERE])]),
    "65 parents": ("form", lambda: [FrameRow(after=[f"{n:064x}" for n in range(65)])]),
    "nothing to follow": ("form", lambda: [FrameRow(put={"n": 1})]),
    "an unnamed line": ("form", lambda: [FrameRow(on=5, after=[])]),
    "a line from behind": ("form", lambda: [FrameRow(on=-1, after=[])]),
    "an unnamed author": ("form", lambda: [FrameRow(by=5, after=[])]),
    "a null": ("form", lambda: [FrameRow(after=[], body={"n": None})]),
    "a number too large": ("form", lambda: [FrameRow(after=[], body={"n": 1e300})]),
    "a name that is none": ("form", lambda: [FrameRow(after=[], body={"N!": 1})]),
    "a document and edits": ("form", lambda: [FrameRow(after=[], body={"n": 1}, put={"m": 1})]),
    "too large": ("size", lambda: [FrameRow(after=[], body={"n": "x" * 300_000})]),
    "before 1970": ("form", lambda: [FrameRow(after=[], at=-1)]),
    "after the year 9999": ("form", lambda: [FrameRow(after=[], at=2**60)]),
    "a number of a thousand digits": ("form", lambda: [FrameRow(after=[], at=10**1000)]),
    "NUL in the note": ("form", lambda: [FrameRow(after=[], note="a\0b")]),
    "a long note": ("form", lambda: [FrameRow(after=[], note="x" * 2001)]),
    "carried from no id": ("form", lambda: [FrameRow(after=[], origin="here")]),
}


@pytest.mark.parametrize(("code", "rows"), ROWS.values(), ids=ROWS)
async def test_a_bad_entry_is_named_and_not_kept(code: str, rows: Callable[[], list[FrameRow]]) -> None:
    shop = MemoryBook(BOOK)
    response = await respond(shop, packed(frame_of(*rows())), via="n1")
    assert response.refused[0].code == code
    assert await shop.end() == 0


@pytest.mark.parametrize(
    ("lines", "authors"),
    [([("car/9/../8", "car")], ["chief"]), ([("car/9", "Car!")], ["chief"]), (CAR, ["Chief O'"])],
    ids=["line", "kind", "author"],
)
async def test_names_that_are_none_are_refused(lines: Any, authors: Any) -> None:
    shop = MemoryBook(BOOK)
    response = await respond(
        shop, packed(frame_of(FrameRow(after=[], body={}), lines=lines, authors=authors)), via="n1"
    )
    assert [each.code for each in response.refused] == ["form"]
    assert await shop.end() == 0


async def test_edits_on_a_parent_must_fit_it() -> None:
    shop = MemoryBook(BOOK)
    await shop.append([first := entry({"a": {"b": 1}, "c": 2}, line="car/9", kind="car")])
    unfit: list[dict[str, Any]] = [{"put": {"a": 1}}, {"put": {"c.d": 1}}, {"put": {"A!": 1}}, {"put": {"n": {}}}]
    for edits in ({"cut": ["x.y"]}, *unfit):
        response = await respond(shop, packed(frame_of(FrameRow(after=[first.id], **edits))), via="n1")
        assert [each.code for each in response.refused] == ["form"], edits
    assert await shop.end() == 1


async def test_a_parent_on_another_line_is_none() -> None:
    shop = MemoryBook(BOOK)
    await shop.append([first := entry({"n": 1}, line="car/8", kind="car")])
    response = await respond(shop, packed(frame_of(FrameRow(after=[first.id], put={"n": 2}))), via="n1")
    assert [each.code for each in response.refused] == ["missing_parent"]


async def test_good_entries_beside_a_bad_one_are_kept_and_its_descendants_are_not() -> None:
    shop = MemoryBook(BOOK)
    line = run(3)
    other = entry({"n": 1}, line="car/9", kind="car")
    frame = Composer().frame([*line, other], {})
    rows = [msgspec.structs.replace(frame.rows[0], note="another note"), *frame.rows[1:]]
    response = await respond(shop, packed(msgspec.structs.replace(frame, rows=rows)), via="n1")
    assert [(each.id, each.code) for each in response.refused] == [
        (line[0].id[:8], "hash"),
        (line[1].id[:8], "parent_refused"),
        (line[2].id[:8], "parent_refused"),
    ]
    assert [placed.entry.id for placed in await shop.since(0, most=9)] == [other.id]


async def test_entries_whose_checks_agree_and_whose_digest_does_not_are_refused_together() -> None:
    shop = MemoryBook(BOOK)
    frame = Composer().frame(list(run(3)), {})
    with pytest.raises(BadFrames):
        await respond(shop, packed(msgspec.structs.replace(frame, digest=digest([NOWHERE]))), via="n1")
    assert await shop.end() == 0


@pytest.mark.parametrize(
    "cursor", [Cursor(10**6, bytes(8)), Cursor(3, b"nonsense"), Cursor(-5, b""), Cursor(2**70, b"")]
)
async def test_a_cursor_from_the_future_or_from_nowhere_is_answered_from_the_start(cursor: Cursor) -> None:
    shop = MemoryBook(BOOK)
    await shop.append(run(5))
    head, frames = whole(
        (await respond(shop, packed(head=Head(v=VERSION, book=BOOK, cursor=cursor)), via="n1")).body, UP
    )
    assert head.restart
    assert sum(len(frame.rows) for frame in frames) == 5


async def test_an_answer_without_end_is_given_up() -> None:
    laptop = MemoryBook(BOOK)
    session = await Session.begin(laptop, "shop")
    request = await session.next_request()
    assert request is not None
    head = Head(v=VERSION, book=BOOK, to=request_hash(request))
    await session.receive(packed(Frame(more=True), head=head))
    with pytest.raises(BadFrames):
        await session.end_response()


async def test_names_are_taken_for_authors_of_entries_only() -> None:
    laptop, shop = MemoryBook(BOOK), MemoryBook(BOOK, home="track")
    await shop.append(run(1))
    await shop.name({"chief": "Chris", "robin": "Robin"})
    await exchange(laptop, shop)
    assert member_names(await laptop.decided()) == {"chief": "Chris"}


async def test_names_and_reasons_are_kept_fit_to_be_shown() -> None:
    laptop = MemoryBook(BOOK)
    await laptop.append(made := run(1))
    session = await Session.begin(laptop, "shop")
    request = await session.next_request()
    assert request is not None
    refused = [Refused(id=made[0].id[:8], line="x" * 10**5, code="\x1b[2J", detail="a\nb" * 1000)]
    refused += [Refused(id="00000000", code="hash")]
    head = Head(v=VERSION, book=BOOK, to=request_hash(request), refused=refused)
    names = {"chief": "Chris\x1b[2J\0", "../x": "X", "robin": "Robin"}
    await session.receive(packed(Frame(authors=["chief", "../x"], names=names, more=False), head=head))
    await session.end_response()
    assert member_names(await laptop.decided()) == {"chief": "Chris?[2J?"}
    [kept] = session.progress.refused
    assert kept.code == "?[2J"
    assert (len(kept.line), len(kept.detail), kept.detail[:3]) == (400, 200, "a?b")
