"""The application: everything put together for one process.

A cached read must not wait for a computation beside it. So the interpreter changes threads every 0.1 ms, and what the
start made is frozen out of garbage collection. What is left to collect are the rare cycles of frames and tasks, so
collections begin far later than by default: they were a third of a season's report.
"""

import asyncio
import gc
import sys
from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from litestar import Litestar
from litestar.types import ASGIApp

from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.known_peers import PeerTokens
from studbook_service.actions.operations import bound
from studbook_service.http import service
from studbook_service.http.envelope import Envelope
from studbook_service.http.limits import Limits
from studbook_service.http.metrics import Metrics
from studbook_service.http.problems import pass_on
from studbook_service.http.readiness import Readiness
from studbook_service.http.request import BODY_MOST_BYTES, ApiRequest
from studbook_service.http.routes import refuse_incomplete, route_of
from studbook_service.http.shortcut import Shortcut
from studbook_service.http.time_limit import TimeLimit
from studbook_service.settings import Settings
from studbook_service.store import AccessStore, open_book
from studbook_service.store.pool import open_pool

# With the default of 5 ms the thread that computes holds up each reply by about as much; measured with 0.5 ms a reply
# waits 0.9 ms (median), with 0.1 ms 0.5 ms, and the computation takes no longer.
SWITCH_EVERY_S = 0.0001

COLLECT_AFTER = (50_000, 20, 20)
"""Objects made, and collections of the younger ones, before a collection: cycles are rare here, walking them is not."""

ACCESS_CONNECTIONS = 3
"""Of their own for who holds which token and whether that changed: a busy book makes no revocation late."""


def create_app(*, dsn: str | None = None, peers: Path | None = None, rate: int | None = None) -> ASGIApp:
    """Make the ASGI application of one process; its lifespan opens and closes the book.

    Args:
        dsn: address of the serving role; None takes it from the settings (STUDBOOK_DATABASE).
        peers: data folder with the tokens of other nodes, to exchange with them in the background; None not to.
        rate: requests a second for one token; None takes it from the settings (STUDBOOK_RATE).

    Returns:
        The application.

    Raises:
        ValueError: no address was given and none is set.
        RuntimeError: an operation is not served once, or something is served without a row of its own.

    Example:
        >>> app = create_app(dsn="postgresql://studbook_serve@db/studbook")
    """
    routes = [*(route_of(operation, action) for operation, action in bound()), *service.ROUTES]
    refuse_incomplete(routes)
    settings, metrics = Settings.from_environment(), Metrics()
    address = dsn or settings.database
    if address is None:
        raise ValueError("no database: give a DSN, or set STUDBOOK_DATABASE")

    @asynccontextmanager
    async def open_context(app: Litestar) -> AsyncGenerator[None, None]:
        sys.setswitchinterval(SWITCH_EVERY_S)
        book, access = await open_book(address), await open_pool(address, size=ACCESS_CONNECTIONS)
        context = Context(book=book, bearers=Bearers(AccessStore(access)), engine_thread=EngineThread())
        app.state.context, app.state.readiness, app.state.metrics = context, Readiness(address), metrics
        metrics.exchange_refusals, metrics.pools = context.refused, {"book": book.pool, "access": access}
        tasks = [asyncio.create_task(context.watch())]
        if settings.background:
            context.bearers.met = context.background.wake
            tasks.append(asyncio.create_task(context.background.keep_up()))
        if peers is not None:
            context.exchanges = Exchanges(book, PeerTokens(peers), received=context.background.wake)
            tasks.append(asyncio.create_task(context.exchanges.keep_up()))
        # What is loaded by now lives as long as the process. Walked by every collection it costs a third of a hot read.
        gc.collect()
        gc.freeze()
        gc.set_threshold(*COLLECT_AFTER)
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
                with suppress(asyncio.CancelledError):
                    await task
            if context.exchanges is not None:
                await context.exchanges.close()
            context.engine_thread.close()
            context.search_process.close()
            await book.close()
            await access.close()

    app = Litestar(
        routes,
        lifespan=[open_context],
        exception_handlers={Exception: pass_on},
        request_class=ApiRequest,
        request_max_body_size=BODY_MOST_BYTES,
        openapi_config=None,
        logging_config=None,
    )
    limits = Limits(settings.rate if rate is None else rate)
    return Envelope(Shortcut(TimeLimit(app)), state=app.state, limits=limits, metrics=metrics)
