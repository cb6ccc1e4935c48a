"""A wire in memory between two books, for tests that need no fault on it."""

from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime

from studbook_service.exchange.admission import ANYTHING, AdmissionRules
from studbook_service.exchange.book import ExchangeBook
from studbook_service.exchange.frames import DOWN, UP, Bounds
from studbook_service.exchange.initiator import Progress, Session
from studbook_service.exchange.responder import respond

NOW = datetime(2026, 11, 25, tzinfo=UTC)


Send = Callable[[bytes], AsyncIterator[bytes]]
"""Carries a request and gives the answer piece by piece."""


async def run_session(session: Session, send: Send, requests: int | None = None) -> None:
    """Ask until there is nothing more to ask, or so often."""
    while session.progress.requests != requests and (request := await session.next_request()) is not None:
        async for data in send(request):
            await session.receive(data)
        await session.end_response()


async def exchange(
    asking: ExchangeBook,
    answering: ExchangeBook,
    *,
    peer: str = "shop",
    via: str = "laptop",
    rules: AdmissionRules = ANYTHING,
    bounds: tuple[Bounds, Bounds] = (UP, DOWN),
    requests: int | None = None,
) -> Progress:
    """Let two books exchange until there is nothing more to say, or for so many requests."""

    async def send(request: bytes) -> AsyncIterator[bytes]:
        yield (await respond(answering, request, via=via, rules=rules, bounds=bounds)).body

    session = await Session.begin(asking, peer, bounds=bounds)
    await run_session(session, send, requests)
    return await session.finish(NOW)
