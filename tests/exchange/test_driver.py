"""The carrier: it follows no redirect, goes on after a cut, and says why it gave up."""

import asyncio
import traceback
from contextlib import suppress

import pytest

from exchange.making import BOOK, run
from exchange.wire import served, spelled
from studbook_service.exchange import driver
from studbook_service.exchange.driver import Address, PeerFailed, ask_head, sync
from studbook_service.exchange.frames import DOWN, UP, Bounds
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond

SECRET = "Q" * 38
SMALL_FRAMES = Bounds(aim=DOWN.aim, most=DOWN.most, inflated=DOWN.inflated, rows=DOWN.rows, frame_rows=10)


async def test_redirects_are_refused_and_the_token_stays() -> None:
    requests: list[bytes] = []

    async def elsewhere(body: bytes) -> bytes:
        requests.append(body)
        return spelled(b"")

    async with served(elsewhere) as trap:

        async def redirect(_: bytes) -> bytes:
            return spelled(b"", "307 Temporary Redirect", f"location: {trap.url}/v1/exchange\r\n")

        async with served(redirect) as peer:
            laptop = MemoryBook(BOOK)
            with pytest.raises(PeerFailed, match="redirects are not followed"):
                await sync(laptop, peer)
            with pytest.raises(PeerFailed, match="redirects are not followed"):
                await ask_head(peer)
    assert not requests
    assert "redirects" in (await laptop.peer_state("shop")).failure


async def test_it_goes_on_after_a_cut_where_the_last_frame_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(driver, "_WAIT_FIRST_S", 0.0)
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    made = run(100)
    await shop.append(made)
    sent: list[int] = []

    async def cut(body: bytes) -> bytes:
        whole = spelled((await respond(shop, body, via="n1", bounds=(UP, SMALL_FRAMES))).body)
        part = whole if len(whole) < 1_000 else whole[:1_000]
        sent.append(len(part))
        return part

    async with served(cut) as peer:
        progress = await sync(laptop, peer)
    assert progress.received == 100
    assert len(sent) > 2
    assert [placed.entry.id for placed in laptop._numbered] == [each.id for each in made]


async def test_it_asks_for_less_where_nothing_came_before_the_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """As of a slow machine on a link that does not last: no long response is ever begun."""
    monkeypatch.setattr(driver, "_WAIT_FIRST_S", 0.0)
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    await shop.append(run(1500))
    sent: list[int] = []

    async def cut(body: bytes) -> bytes:
        body_sent = (await respond(shop, body, via="n1")).body
        sent.append(len(body_sent))
        return spelled(body_sent) if len(body_sent) < sent[0] / 3 else b""

    async with served(cut) as peer:
        progress = await sync(laptop, peer)
    assert progress.received == 1500
    assert max(sent[3:]) < sent[0] / 3
    assert 3 < len(sent) < 12


async def test_a_peer_that_never_answers_in_full_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(driver, "_WAIT_FIRST_S", 0.0)

    async def nothing(_: bytes) -> bytes:
        return b""

    async with served(nothing) as peer:
        laptop = MemoryBook(BOOK)
        with pytest.raises(PeerFailed):
            await sync(laptop, peer)
    assert (await laptop.peer_state("shop")).failed_at is not None


@pytest.mark.parametrize(
    "reply",
    [spelled(b"<html>hello</html>"), spelled(b"<html>no</html>", "502 Bad Gateway"), spelled(b"{}", "403 Forbidden")],
    ids=["a page", "a proxy's page", "a problem of nobody's"],
)
async def test_what_is_no_studbook_is_said_to_be_none(monkeypatch: pytest.MonkeyPatch, reply: bytes) -> None:
    monkeypatch.setattr(driver, "_WAIT_FIRST_S", 0.0)

    async def other(_: bytes) -> bytes:
        return reply

    async with served(other) as peer:
        with pytest.raises(PeerFailed):
            await sync(MemoryBook(BOOK), peer)
        with pytest.raises(PeerFailed):
            await ask_head(peer)


async def test_a_problem_is_told_in_its_words() -> None:
    body = b'{"type":"urn:x","title":"That is another team\'s book","status":409,"code":"other_book","request_id":"r"}'

    async def refuse(_: bytes) -> bytes:
        return spelled(body, "409 Conflict")

    async with served(refuse) as peer:
        with pytest.raises(PeerFailed, match="another team's book"):
            await sync(MemoryBook(BOOK), peer)


async def refused(answer: bytes) -> PeerFailed:
    """Ask a peer that answers so, with a token, and give the error."""

    async def reply(_: bytes) -> bytes:
        return answer

    async with served(reply) as peer:
        with pytest.raises(PeerFailed) as caught:
            await ask_head(Address("shop", peer.url, f"sbk_{SECRET}"))
    return caught.value


@pytest.mark.parametrize(
    "answer",
    [
        f"sbk_{SECRET}\r\n\r\n".encode(),
        spelled(b"", extra=f"sbk_{SECRET} x\r\n"),
        spelled(f'{{"type":"t","title":"sbk_{SECRET}","status":403,"code":"x","request_id":"r"}}'.encode(), "403 No"),
        b"",
    ],
    ids=["no status line", "no header", "a refusal", "nothing"],
)
async def test_no_error_holds_the_token_though_the_peer_says_it(answer: bytes) -> None:
    error: BaseException | None = await refused(answer)
    while error is not None:
        report = traceback.TracebackException.from_exception(error, capture_locals=True)
        told = [str(frame.locals) for frame in report.stack if "tests" not in frame.filename]
        assert SECRET not in repr(error) + str(error) + "".join(told)
        error = error.__cause__ or error.__context__


async def test_a_head_is_bounded() -> None:
    sent = 0

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        nonlocal sent
        await reader.readuntil(b"\r\n\r\n")
        writer.write(b"HTTP/1.1 200 OK\r\ncontent-type: application/octet-stream\r\n\r\n")
        with suppress(OSError):
            while sent < 3 << 30:
                writer.write(bytes(1 << 16))
                await writer.drain()
                sent += 1 << 16
        writer.close()

    async with await asyncio.start_server(serve, "127.0.0.1", 0) as server:
        url = f"http://127.0.0.1:{server.sockets[0].getsockname()[1]}"
        with pytest.raises(PeerFailed, match="more than"):
            await ask_head(Address("shop", url, "sbk_x"))
    assert sent < 64 << 20
