"""Pools of connections. Nothing here leaves state in a session: settings and locks last one transaction.

Nothing waits for ever either: not for a connection, not for a statement, not for a transaction that nobody ends.
"""

from typing import Any

import asyncpg

from studbook_service.store.errors import driver_errors

CONNECTION_WITHIN_S = 3.0
"""So long a call waits for a connection before it fails with StoreUnavailable."""

_STATEMENT_WITHIN_S = 15
# The driver's own patience, for a server that has gone silent: the server's must run out first.
_ANSWER_WITHIN_S = 20.0
_SESSION = {
    "application_name": "studbook",
    "statement_timeout": f"{_STATEMENT_WITHIN_S}s",
    "idle_in_transaction_session_timeout": f"{_STATEMENT_WITHIN_S}s",
}


class Pool(asyncpg.Pool):  # type: ignore[misc]  # the driver ships no types
    """A pool that waits for a free connection only so long, whichever method takes one."""

    def acquire(self, *, timeout: float | None = None) -> Any:
        """Take a connection.

        Raises:
            TimeoutError: none became free in time.
        """
        return super().acquire(timeout=CONNECTION_WITHIN_S if timeout is None else timeout)

    @property
    def in_use(self) -> int:
        """How many connections are at work now."""
        return int(self.get_size() - self.get_idle_size())


async def open_pool(dsn: str, *, size: int) -> Pool:
    """Connect.

    Args:
        dsn: `postgresql://` address of the serving role.
        size: most connections to hold.

    Returns:
        The pool, its first connection made.

    Raises:
        StoreUnavailable: nothing answers there.
    """
    pool = Pool(
        dsn,
        min_size=0,  # a floor is rebuilt in the background, a traceback each time, while PostgreSQL is down
        max_size=size,
        max_queries=50_000,
        max_inactive_connection_lifetime=300.0,
        loop=None,
        connection_class=asyncpg.Connection,
        record_class=asyncpg.Record,
        reset=_keep,
        command_timeout=_ANSWER_WITHIN_S,
        server_settings=_SESSION,
    )
    with driver_errors():
        await pool
        async with pool.acquire():
            return pool


async def _keep(_connection: asyncpg.Connection) -> None:
    """Hand the connection on as it is: the driver's own reset costs a round trip per use, half the throughput."""
