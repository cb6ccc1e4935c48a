"""Two books joined in memory, and a server on loopback that replies with any bytes."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime

from studbook_service.exchange.admission import ANYTHING, AdmissionRules
from studbook_service.exchange.book import ExchangeBook
from studbook_service.exchange.driver import Address
from studbook_service.exchange.frames import DOWN, UP, Bounds
from studbook_service.exchange.initiator import Progress, Session
from studbook_service.exchange.responder import respond

NOW = datetime(2026, 11, 25, tzinfo=UTC)


Send = Callable[[bytes], AsyncIterator[bytes]]
"""Carries a request and gives the response piece by piece."""


async def run_session(session: Session, send: Send, requests: int | None = None) -> None:
    """Carry requests until there is none, or so many."""
    while session.progress.requests != requests and (request := await session.next_request()) is not None:
        async for data in send(request):
            await session.receive(data)
        await session.end_response()


async def exchange(
    initiator: ExchangeBook,
    responder: ExchangeBook,
    *,
    peer: str = "shop",
    via: str = "laptop",
    rules: AdmissionRules = ANYTHING,
    bounds: tuple[Bounds, Bounds] = (UP, DOWN),
    requests: int | None = None,
) -> Progress:
    """Let two books exchange until nothing is left, or for so many requests."""

    async def send(request: bytes) -> AsyncIterator[bytes]:
        yield (await respond(responder, request, via=via, rules=rules, bounds=bounds)).body

    session = await Session.begin(initiator, peer, bounds=bounds)
    await run_session(session, send, requests)
    return await session.finish(NOW)


@asynccontextmanager
async def answering(reply: Callable[[bytes], Awaitable[bytes]]) -> AsyncIterator[str]:
    """Answer each HTTP request on loopback with whatever bytes are made of its body, and close; gives the address."""

    async def handle(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        head = (await reader.readuntil(b"\r\n\r\n")).lower()
        length = int(head.split(b"content-length: ")[1].split(b"\r\n")[0])
        writer.write(await reply(await reader.readexactly(length)))
        writer.close()

    server = await asyncio.start_server(handle, "127.0.0.1", 0)
    async with server:
        yield f"http://127.0.0.1:{server.sockets[0].getsockname()[1]}"


def spelled(body: bytes, status: str = "200 OK", extra: str = "") -> bytes:
    """Spell an HTTP response."""
    return f"HTTP/1.1 {status}\r\n{extra}content-length: {len(body)}\r\nconnection: close\r\n\r\n".encode() + body


@asynccontextmanager
async def served(reply: Callable[[bytes], Awaitable[bytes]]) -> AsyncIterator[Address]:
    """Do the same for a peer called shop; gives its address."""
    async with answering(reply) as url:
        yield Address("shop", url, "sbk_secret")
