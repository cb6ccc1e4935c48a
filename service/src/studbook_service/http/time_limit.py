"""An end to waiting: for a body that does not arrive, for an answer that does not come.

It stands behind the shortcut: `asyncio.timeout` costs as much as a cached read.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Final

from litestar import Litestar
from litestar.enums import ScopeType
from litestar.types import Receive, Scope, Send

from studbook_service.actions.refusals import Refusal

ANSWER_WITHIN_S: Final = 30.0
EXCHANGE_WITHIN_S: Final = 120.0
"""Both with the time in which the body arrives: the largest takes 14 s over 256 kbit/s."""


class TimeLimit:
    """Gives a request up that takes too long.

    Example:
        >>> app = TimeLimit(Litestar())
    """

    def __init__(self, app: Litestar) -> None:
        self.app = app
        self.state = app.state

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one exchange, or what the application's whole life is.

        Raises:
            Refusal: `too_slow`.
        """
        if scope["type"] != ScopeType.HTTP:
            await self.app(scope, receive, send)
            return
        if scope["path"].startswith("/v1/export/"):  # streamed: each of its steps has an end of its own
            await self.app(scope, receive, send)
            return
        async with ending_within(EXCHANGE_WITHIN_S if scope["path"] == "/v1/exchange" else ANSWER_WITHIN_S):
            await self.app(scope, receive, send)


@asynccontextmanager
async def ending_within(within_s: float) -> AsyncIterator[None]:
    """Give a block up that takes too long.

    Raises:
        Refusal: `too_slow`.
    """
    try:
        async with asyncio.timeout(within_s) as patience:
            yield
    except TimeoutError:
        if not patience.expired():
            raise
        raise Refusal("too_slow", f"it did not end within {within_s:g} s", retry_after_s=1) from None
