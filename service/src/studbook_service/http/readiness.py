"""Whether this process may serve: asked by anyone, so the database is asked at most once a second."""

import asyncio
from time import monotonic

from studbook_service.store import check_serving

HOLDS_S = 1.0


class Readiness:
    """Remembers for a moment that the database answers, and that schema and role fit.

    Example::
        await Readiness("postgresql:///studbook").check()
    """

    def __init__(self, dsn: str) -> None:
        self._dsn = dsn
        self._until = 0.0
        self._asking = asyncio.Lock()

    async def check(self) -> None:
        """Check, unless that was done a moment ago.

        Raises:
            StoreError: it may not serve.
        """
        async with self._asking:
            if monotonic() >= self._until:
                await check_serving(self._dsn)
                self._until = monotonic() + HOLDS_S
