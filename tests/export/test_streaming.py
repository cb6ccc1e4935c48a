"""How a table is sent: no faster than it is read, to nobody who may not, and with no connection held meanwhile."""

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator
from typing import Any

import pytest

from export.conftest import Served
from studbook import AsyncStudbook, ConnectionFailedError, NotAllowedError, Studbook, UnreadableAnswerError
from studbook.core.flows.export import Lines
from studbook.wire.export import ExportQuery, Table
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.export import export_table
from studbook_service.actions.refusals import Refusal
from studbook_service.http import export as http_export
from studbook_service.http.export import Rows
from studbook_service.store import Bearer, MemberRow, audit_event, mint, open_book, secret_hash

Message = dict[str, Any]


class Reader:
    """The other side of a reply: takes messages one by one, goes when told."""

    def __init__(self) -> None:
        self.took: list[Message] = []
        self.ready = asyncio.Semaphore(0)
        self.gone = asyncio.Event()

    async def send(self, message: Message) -> None:
        await self.ready.acquire()
        await asyncio.sleep(0)
        self.took.append(message)

    async def receive(self) -> Message:
        await self.gone.wait()
        return {"type": "http.disconnect"}

    @property
    def bodies(self) -> list[bytes]:
        return [message["body"] for message in self.took if message["type"] == "http.response.body"]


class Making:
    """Chunks that say how many were made, and whether they were ended."""

    def __init__(self, many: int, *, fails: bool = False) -> None:
        self.many, self.fails, self.made, self.ended = many, fails, 0, False

    async def chunks(self) -> AsyncGenerator[bytes, None]:
        try:
            if self.fails:
                raise Refusal("unavailable")
            for number in range(self.many):
                self.made += 1
                yield b"%d\n" % number
        finally:
            self.ended = True


async def allowed() -> None:
    """Nobody took the token away."""


def sending(making: Making, reader: Reader, may: Any = allowed) -> asyncio.Task[None]:
    rows = Rows(making.chunks(), may=may, media_type="text/plain", headers={})
    return asyncio.create_task(rows({}, reader.receive, reader.send))  # type: ignore[arg-type] # as much as it takes


async def settle() -> None:
    for _ in range(10):
        await asyncio.sleep(0)


async def test_nothing_is_made_before_the_reader_takes_what_is_there() -> None:
    making, reader = Making(1000), Reader()
    task = sending(making, reader)
    await settle()
    assert making.made == 1
    for taken in range(5):
        reader.ready.release()
        await settle()
        assert making.made <= taken + 2
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert making.ended


async def test_it_ends_where_the_reader_goes() -> None:
    making, reader = Making(1000), Reader()
    for _ in range(2000):
        reader.ready.release()
    reader.gone.set()
    await sending(making, reader)
    assert making.made <= 3
    assert making.ended


async def test_it_breaks_off_once_the_bearer_may_not_any_more() -> None:
    making, reader = Making(1000), Reader()

    async def may() -> None:
        if making.made > 3:
            raise Refusal("token_refused")

    for _ in range(2000):
        reader.ready.release()
    with pytest.raises(Refusal):
        await sending(making, reader, may)
    assert reader.bodies == [b"0\n", b"1\n", b"2\n"], "and no last chunk, so that the reader knows"
    assert making.ended


async def test_a_failure_before_the_first_rows_is_a_problem() -> None:
    reader = Reader()
    with pytest.raises(Refusal):
        await sending(Making(0, fails=True), reader)
    assert reader.took == []


@pytest.mark.parametrize("before", [0, 2])
async def test_rows_that_do_not_come_are_too_slow(before: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(http_export, "STEP_WITHIN_S", 0.05)
    reader, ended = Reader(), asyncio.Event()

    async def stuck() -> AsyncGenerator[bytes, None]:
        try:
            for number in range(before):
                yield b"%d\n" % number
            await asyncio.Event().wait()
        finally:
            ended.set()

    for _ in range(10):
        reader.ready.release()
    rows = Rows(stuck(), may=allowed, media_type="text/plain", headers={})
    with pytest.raises(Refusal, match="did not end within") as told:
        await rows({}, reader.receive, reader.send)  # type: ignore[arg-type] # as much as it takes
    assert told.value.code == "too_slow"
    assert len(reader.took) == (before + 1 if before else 0), "no head before the first rows, no last chunk after them"
    assert ended.is_set()


async def test_no_connection_is_held_between_pages(served: Served, shared_database: Any) -> None:
    book = await open_book(shared_database.serving_dsn, size=1)
    context = Context(book=book, bearers=Bearers(book.access), engine_thread=EngineThread())
    bearer = Bearer(
        served.team.team, "chief", "chief", "Chris", None, None, protected=False, introduces=False, token="0" * 12
    )
    extract = await export_table(context, bearer, "changes", ExportQuery())
    many = 0
    async for _ in extract.chunks:
        many += 1
        assert await book.team_head(served.team.team), "the pool's one connection is free"
        assert not context.exporting.locked(), "and so is the place of the one that lays out"
    assert many > 1
    context.engine_thread.close()
    await book.close()


async def test_people_of_the_team_export_and_nobody_else(served: Served) -> None:
    recorded = audit_event(actor="chief", action="member.add", subject="test")
    for role in ("viewer", "crew", "node"):
        token = mint()
        await served.book.access.add_member(served.team.team, MemberRow(role, role.title(), role), audit=recorded)
        await served.book.access.add_token(
            served.team.team, secret_hash=secret_hash(token), member=role, role=role, label="test", audit=recorded
        )
        with Studbook(served.url, token) as book:
            cars = asyncio.to_thread(list, book.export("cars"))
            if role == "node":
                with pytest.raises(NotAllowedError):
                    await cars
            else:
                assert {row["car"] for row in await cars} == {"7", "8", "9"}


async def test_an_answer_that_is_cut_short_is_no_table(cutting: str) -> None:
    table = Table(name="laps", about="", key=[], columns=[])
    with Studbook(cutting, "sbk_t") as book, pytest.raises(ConnectionFailedError, match="broke off"):
        await asyncio.to_thread(lambda: list(book.export(table)))
    async with AsyncStudbook(cutting, "sbk_t") as book:
        with pytest.raises(ConnectionFailedError, match="broke off"):
            [row async for row in book.export(table)]


@pytest.fixture
async def cutting() -> AsyncIterator[str]:
    """A server that promises more than it sends."""

    async def cut(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.readuntil(b"\r\n\r\n")
        writer.write(b"HTTP/1.1 200 OK\r\ntransfer-encoding: chunked\r\n\r\n8\r\n[[],[]]\n\r\n")
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(cut, "127.0.0.1", 0)
    yield f"http://127.0.0.1:{server.sockets[0].getsockname()[1]}"
    server.close()
    await server.wait_closed()


def test_what_is_no_line_of_the_table_is_told() -> None:
    with pytest.raises(UnreadableAnswerError):
        Lines(Table(name="laps", about="", key=[], columns=[])).rows(b"<html>\n")
