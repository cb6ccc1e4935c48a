"""One connection of one's own, for the owner's work and for checks."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import asyncpg

from studbook_service.store.errors import driver_errors

_CONNECT_WITHIN_S = 10.0


@asynccontextmanager
async def connected(dsn: str) -> AsyncIterator[asyncpg.Connection]:
    """Hold a connection for the length of a block.

    Args:
        dsn: `postgresql://` address.

    Raises:
        StoreUnavailable: nothing answers there.
    """
    with driver_errors():
        connection = await asyncpg.connect(dsn, timeout=_CONNECT_WITHIN_S)
        try:
            yield connection
        finally:
            await connection.close()
