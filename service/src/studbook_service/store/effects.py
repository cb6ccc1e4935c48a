"""What each revision's change does, kept as it was computed: one row for a revision, of the newest engine that told."""

from collections.abc import Sequence
from uuid import UUID

import asyncpg

from studbook_service.store.errors import driver_errors
from studbook_service.store.sql import QUERIES


class Effects:
    """The effects kept of all teams behind one pool, as bytes that the store does not look into.

    Every method raises StoreUnavailable when PostgreSQL does not answer. Engines are numbered, a later one higher; what
    a newer one told is neither read nor replaced by an older one, so that two may serve at once.

    Example::

        await book.effects.told(team, ids, engine=2)
    """

    def __init__(self, pool: asyncpg.Pool) -> None:
        self._pool = pool

    async def told(self, team: UUID, ids: Sequence[bytes], *, engine: int) -> dict[bytes, bytes]:
        """Read what an engine told of those revisions that it told of."""
        with driver_errors():
            return dict(await self._pool.fetch(QUERIES["effects"], team, ids, engine))

    async def untold(self, team: UUID, *, engine: int, limit: int) -> list[bytes]:
        """List the newest revisions with a parent of which neither this engine nor a newer one told."""
        with driver_errors():
            rows = await self._pool.fetch(QUERIES["without_effects"], team, engine, limit)
        return [row["id"] for row in rows]

    async def keep(self, team: UUID, id: bytes, told: bytes, *, engine: int, computed_from: Sequence[bytes]) -> bool:  # noqa: A002 - the book's own word
        """Keep what is told of a revision; it may be lost in a crash, and is computed again then.

        Args:
            team: whose book.
            id: the revision.
            told: what is told of its change.
            engine: number of the engine that computed it.
            computed_from: the entries whose documents it was computed from.

        Returns:
            Whether it may be told: not if one of those entries was erased meanwhile.

        Raises:
            UnknownTeam: no such team.
        """
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["keep_effects"], team, id, engine, told, computed_from))
