"""Whether this process may serve: anyone may ask, so the database is queried at most once a second."""

import asyncio
from time import monotonic

from studbook_service.store import StoreUnavailable, check_serving

HOLDS_S = 1.0
WITHIN_S = 2.0


class Readiness:
    """Remembers for a moment that the database answers, and that schema and role fit.

    It asks over a connection of its own, so that it never waits for one of the pool's.

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
                try:
                    async with asyncio.timeout(WITHIN_S):
                        await check_serving(self._dsn)
                except TimeoutError:
                    raise StoreUnavailable(f"PostgreSQL did not answer within {WITHIN_S:g} s") from None
                self._until = monotonic() + HOLDS_S
