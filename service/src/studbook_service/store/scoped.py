"""The pool as a share's holder has it: the database shows nothing but one line and what is below it."""

from typing import Any

import asyncpg

from studbook_service.store.sql import QUERIES


class ScopedPool:
    """Statements run in a transaction that names the scope, which row-level security holds them to.

    Args:
        pool: the connections.
        scope: the line to be seen, such as `car/7`.

    Raises:
        ValueError: no scope, which would be the whole book.

    Example::

        await ScopedPool(pool, "car/7").fetch(query, team)
    """

    def __init__(self, pool: asyncpg.Pool, scope: str) -> None:
        if not scope:
            raise ValueError("a scope names a line")
        self._pool = pool
        self._scope = scope

    async def execute(self, query: str, *args: object) -> Any:
        """Run a statement."""
        return await self._run("execute", query, args)

    async def fetch(self, query: str, *args: object) -> Any:
        """Read rows."""
        return await self._run("fetch", query, args)

    async def fetchrow(self, query: str, *args: object) -> Any:
        """Read the first row."""
        return await self._run("fetchrow", query, args)

    async def fetchval(self, query: str, *args: object) -> Any:
        """Read the first value."""
        return await self._run("fetchval", query, args)

    async def _run(self, method: str, query: str, args: tuple[object, ...]) -> Any:
        # Cut off in between, the driver takes the transaction back before the pool hands the connection on.
        async with self._pool.acquire() as connection, connection.transaction():
            await connection.execute(QUERIES["set_scope"], self._scope)
            return await getattr(connection, method)(query, *args)
