"""The pool of connections. Nothing here leaves state in a session: settings and locks last one transaction."""

import asyncpg

from studbook_service.store.errors import driver_errors

_ANSWER_WITHIN_S = 30.0


async def open_pool(dsn: str, *, size: int) -> asyncpg.Pool:
    """Connect.

    Args:
        dsn: `postgresql://` address of the serving role.
        size: most connections to hold.

    Returns:
        The pool, its first connection made.

    Raises:
        StoreUnavailable: nothing answers there.
    """
    pool = asyncpg.create_pool(
        dsn,
        min_size=0,  # a floor is rebuilt in the background, a traceback each time, while PostgreSQL is down
        max_size=size,
        reset=_keep,
        command_timeout=_ANSWER_WITHIN_S,
        server_settings={"application_name": "studbook"},
    )
    with driver_errors():
        await pool
        async with pool.acquire():
            return pool


async def _keep(_connection: asyncpg.Connection) -> None:
    """Hand the connection on as it is: the driver's own reset costs a round trip per use, half the throughput."""
