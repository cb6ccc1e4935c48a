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
from studbook_service.actions.peers import Tokens, keep_exchanging
from studbook_service.actions.worker import Worker
from studbook_service.http import cars, exchange, members, revisions, searches, service
from studbook_service.http.asked import BODY_MOST_BYTES, Asked
from studbook_service.http.envelope import Envelope
from studbook_service.http.problems import pass_on
from studbook_service.http.readiness import Readiness
from studbook_service.http.shortcut import Shortcut
from studbook_service.settings import Settings
from studbook_service.store import open_book

# With the default of 5 ms the thread that computes holds up each reply by about as much; measured with 0.5 ms a reply
# waits 0.9 ms (median), with 0.1 ms 0.5 ms, and the computation takes no longer.
SWITCH_EVERY_S = 0.0001

HANDLERS = [
    *members.HANDLERS,
    *cars.HANDLERS,
    *revisions.HANDLERS,
    *searches.HANDLERS,
    *exchange.HANDLERS,
    *service.HANDLERS,
]


def create_app(*, dsn: str | None = None, peers: Path | None = None) -> ASGIApp:
    """Make the ASGI application of one process; its lifespan opens and closes the book.

    Args:
        dsn: address of the serving role; None takes it from the settings (STUDBOOK_DATABASE).
        peers: data folder with the tokens of other nodes, to exchange with them in the background; None not to.

    Returns:
        The application.

    Raises:
        ValueError: no address was given and none is set.

    Example:
        >>> app = create_app(dsn="postgresql://studbook_serve@db/studbook")
    """
    address = dsn or Settings.from_environment().database
    if address is None:
        raise ValueError("no database: give a DSN, or set STUDBOOK_DATABASE")

    @asynccontextmanager
    async def open_desk(app: Litestar) -> AsyncGenerator[None, None]:
        sys.setswitchinterval(SWITCH_EVERY_S)
        book = await open_book(address)
        desk = Desk(book=book, bearers=Bearers(book.access), worker=Worker())
        app.state.desk, app.state.readiness = desk, Readiness(address)
        tasks = [asyncio.create_task(desk.bearers.watch())]
        if peers is not None:
            tasks.append(asyncio.create_task(keep_exchanging(book, Tokens(peers))))
        # What is loaded by now lives as long as the process. Walked by every collection it costs a third of a hot read.
        gc.collect()
        gc.freeze()
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
                with suppress(asyncio.CancelledError):
                    await task
            desk.worker.close()
            desk.searcher.close()
            await book.close()

    app = Litestar(
        HANDLERS,
        lifespan=[open_desk],
        exception_handlers={Exception: pass_on},
        request_class=Asked,
        request_max_body_size=BODY_MOST_BYTES,
        openapi_config=None,
        logging_config=None,
    )
    return Envelope(Shortcut(app))
