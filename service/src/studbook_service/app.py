"""The application: everything put together for one process."""

import asyncio
import gc
import sys
from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from litestar import Litestar
from litestar.types import ASGIApp

from studbook_service.actions.bearers import Bearers
from studbook_service.actions.desk import Desk
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.peering import Tokens
from studbook_service.actions.rights import check_complete
from studbook_service.actions.worker import Worker
from studbook_service.http import (
    around_scales,
    cars,
    exchange,
    export,
    granting,
    members,
    records,
    revisions,
    searches,
    season,
    service,
    working,
)
from studbook_service.http.asked import BODY_MOST_BYTES, Asked
from studbook_service.http.envelope import Envelope
from studbook_service.http.limits import Limits
from studbook_service.http.metrics import Metrics
from studbook_service.http.patience import Patience
from studbook_service.http.problems import pass_on
from studbook_service.http.readiness import Readiness
from studbook_service.http.shortcut import Shortcut
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

HANDLERS = [
    *members.HANDLERS,
    *granting.HANDLERS,
    *cars.HANDLERS,
    *revisions.HANDLERS,
    *around_scales.HANDLERS,
    *working.HANDLERS,
    *searches.HANDLERS,
    *records.HANDLERS,
    *exchange.HANDLERS,
    *export.HANDLERS,
    *season.HANDLERS,
    *service.HANDLERS,
]


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
        RuntimeError: it was not decided for every handler who may.

    Example:
        >>> app = create_app(dsn="postgresql://studbook_serve@db/studbook")
    """
    check_complete(handler.fn.__name__ for handler in HANDLERS)
    settings, metrics = Settings.from_environment(), Metrics()
    address = dsn or settings.database
    if address is None:
        raise ValueError("no database: give a DSN, or set STUDBOOK_DATABASE")

    @asynccontextmanager
    async def open_desk(app: Litestar) -> AsyncGenerator[None, None]:
        sys.setswitchinterval(SWITCH_EVERY_S)
        book, access = await open_book(address), await open_pool(address, size=ACCESS_CONNECTIONS)
        desk = Desk(book=book, bearers=Bearers(AccessStore(access)), worker=Worker())
        app.state.desk, app.state.readiness, app.state.metrics = desk, Readiness(address), metrics
        metrics.exchange_refusals, metrics.pools = desk.refused, {"book": book.pool, "access": access}
        tasks = [asyncio.create_task(desk.watch())]
        if settings.background:
            desk.bearers.met = desk.clerk.wake
            tasks.append(asyncio.create_task(desk.clerk.keep_up()))
        if peers is not None:
            desk.exchanges = Exchanges(book, Tokens(peers), received=desk.clerk.wake)
            tasks.append(asyncio.create_task(desk.exchanges.keep_up()))
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
            if desk.exchanges is not None:
                await desk.exchanges.close()
            desk.worker.close()
            desk.searcher.close()
            await book.close()
            await access.close()

    app = Litestar(
        HANDLERS,
        lifespan=[open_desk],
        exception_handlers={Exception: pass_on},
        request_class=Asked,
        request_max_body_size=BODY_MOST_BYTES,
        openapi_config=None,
        logging_config=None,
    )
    limits = Limits(settings.rate if rate is None else rate)
    return Envelope(Shortcut(Patience(app)), state=app.state, limits=limits, metrics=metrics)
