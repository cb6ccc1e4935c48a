"""A wire in memory between two books, for tests that need no fault on it."""

from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime

from studbook_service.exchange.admitting import ANYTHING, Terms
from studbook_service.exchange.answering import answer
from studbook_service.exchange.asking import Progress, Session
from studbook_service.exchange.book import Book
from studbook_service.exchange.frames import DOWN, UP, Bounds

NOW = datetime(2026, 11, 25, tzinfo=UTC)


Send = Callable[[bytes], AsyncIterator[bytes]]
"""Carries a request and gives the answer piece by piece."""


async def run_session(session: Session, send: Send, requests: int | None = None) -> None:
    """Ask until there is nothing more to ask, or so often."""
    while session.progress.requests != requests and (request := await session.ask()) is not None:
        async for data in send(request):
            await session.hear(data)
        await session.end_answer()


async def exchange(
    asking: Book,
    answering: Book,
    *,
    peer: str = "shop",
    via: str = "laptop",
    terms: Terms = ANYTHING,
    bounds: tuple[Bounds, Bounds] = (UP, DOWN),
    requests: int | None = None,
) -> Progress:
    """Let two books exchange until there is nothing more to say, or for so many requests."""

    async def send(request: bytes) -> AsyncIterator[bytes]:
        yield (await answer(answering, request, via=via, terms=terms, bounds=bounds)).body

    session = await Session.begin(asking, peer, bounds=bounds)
    await run_session(session, send, requests)
    return await session.finish(NOW)
