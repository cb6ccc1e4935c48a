"""What each revision's change does, kept as it was computed: one row for a revision, of the newest engine.

It is derived from the revision's lineage alone, so whoever has the entries can compute it again. When an entry is
erased, what was computed of its whole line goes too, and what is computed from it at that moment is not kept. A crash
may take the last of it, since nobody waits for the disk.
"""

from collections.abc import Sequence
from uuid import UUID

import asyncpg

from studbook_service.store.errors import driver_errors
from studbook_service.store.sql import QUERIES


class EffectStore:
    """The effects kept of all teams behind one pool, as bytes that the store does not look into.

    Every method raises StoreUnavailable when PostgreSQL does not answer. Engines are numbered, a later one higher; an
    older engine neither reads nor replaces a newer one's answer, so that two may serve at once.

    Example::

        await book.effects.read(team, ids, engine=2)
    """

    def __init__(self, pool: asyncpg.Pool) -> None:
        self._pool = pool

    async def read(self, team: UUID, ids: Sequence[bytes], *, engine: int) -> dict[bytes, bytes]:
        """Read an engine's answers, by revision; a revision without one is left out."""
        with driver_errors():
            return dict(await self._pool.fetch(QUERIES["effects"], team, ids, engine))

    async def missing(self, team: UUID, *, engine: int, limit: int) -> list[bytes]:
        """List the newest revisions with a parent for which neither this engine nor a newer one has an answer."""
        with driver_errors():
            rows = await self._pool.fetch(QUERIES["without_effects"], team, engine, limit)
        return [row["id"] for row in rows]

    async def keep(self, team: UUID, id: bytes, answer: bytes, *, engine: int, computed_from: Sequence[bytes]) -> bool:  # noqa: A002 - the book's own word
        """Keep the answer for a revision; it may be lost in a crash, and is computed again then.

        Args:
            team: whose book.
            id: the revision.
            answer: what its change does.
            engine: number of the engine that computed it.
            computed_from: the entries whose documents it was computed from.

        Returns:
            Whether it may be shown: not if one of those entries was erased meanwhile.

        Raises:
            UnknownTeam: no such team.
        """
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["keep_effects"], team, id, engine, answer, computed_from))
