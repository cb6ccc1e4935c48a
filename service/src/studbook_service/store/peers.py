"""Other nodes that hold the same book: what is kept about them, and the book in the order it was written."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

import asyncpg

from studbook_service.store.entries import Appended, NewEntry, composite
from studbook_service.store.errors import driver_errors
from studbook_service.store.sql import QUERIES


@dataclass(frozen=True, slots=True)
class Peer:
    """Another node.

    Attributes:
        name: how this node calls it.
        url: where it answers.
        version: counts the changes of `standing`.
        standing: how we stand with it, in the exchange's own form.
    """

    name: str
    url: str
    version: int
    standing: bytes


@dataclass(frozen=True, slots=True)
class Placed:
    """An entry at its place in the book.

    Attributes:
        seq: from 1, without gaps; parents come before children.
        chain: SHA-256 over the previous chain and the id.
        entry: the entry.
    """

    seq: int
    chain: bytes
    entry: NewEntry


class Peers:
    """The peers of all teams behind one pool.

    Every method raises StoreUnavailable when PostgreSQL does not answer.

    Example::

        await book.peers.since(team, 0, limit=64)
    """

    def __init__(self, pool: asyncpg.Pool) -> None:
        self._pool = pool

    async def since(self, team: UUID, seq: int, *, limit: int) -> list[Placed]:
        """Read entries after a number, in order; fewer than `limit` only at the end."""
        with driver_errors():
            return [_placed(row) for row in await self._pool.fetch(QUERIES["since"], team, seq, limit)]

    async def chain_at(self, team: UUID, seq: int) -> bytes | None:
        """Read the chain at an entry's number; None where there is no such entry."""
        with driver_errors():
            chain: bytes | None = await self._pool.fetchval(QUERIES["chain_at"], team, seq)
        return chain

    async def places(self, team: UUID, ids: Sequence[bytes]) -> dict[bytes, tuple[str, str]]:
        """Read line and kind of those entries that the team has."""
        with driver_errors():
            rows = await self._pool.fetch(QUERIES["places"], team, ids)
        return {id_: (line, kind) for id_, line, kind in rows}

    async def receive(
        self,
        team: UUID,
        entries: Sequence[NewEntry],
        *,
        peer: str,
        version: int,
        standing: bytes,
        carry_out: bool = False,
    ) -> list[Appended]:
        """Add what a peer brought, and keep how we stand with it now: both or neither.

        Args:
            team: whose book.
            entries: parents before children; those the book holds already are passed over.
            peer: the peer's name.
            version: one more than the one kept.
            standing: what is kept from now on.
            carry_out: carry out the erasures among the entries, where the peer is the team's home.

        Raises:
            PeerMoved: another version is kept, or there is no such peer.
            MissingParent: a parent is not on the entry's line.
        """
        with driver_errors():
            rows = await self._pool.fetch(
                QUERIES["receive"], team, [composite(entry) for entry in entries], peer, version, standing, carry_out
            )
        return [Appended(*row) for row in rows]

    async def list(self, team: UUID) -> list[Peer]:
        """Read a team's peers, sorted by name."""
        with driver_errors():
            return [Peer(*row) for row in await self._pool.fetch(QUERIES["peers"], team)]

    async def set(self, team: UUID, name: str, url: str, *, standing: bytes) -> None:
        """Add a peer, or begin anew with one."""
        with driver_errors():
            await self._pool.execute(QUERIES["set_peer"], team, name, url, standing)

    async def waiting(self, team: UUID, *, after: int, via: str) -> int:
        """Count the entries after a number that one bringer did not bring."""
        with driver_errors():
            return int(await self._pool.fetchval(QUERIES["waiting"], team, after, via))

    async def join(self, team: UUID, book: bytes) -> bool:
        """Let the team's book become one with another; False when it has met others already."""
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["join_book"], team, book))

    async def name_members(self, team: UUID, names: Mapping[str, str]) -> None:
        """Keep what another node calls authors whom nobody here knows: as members who left, for nobody let them in."""
        ids = sorted(names)
        with driver_errors():
            await self._pool.execute(QUERIES["name_members"], team, ids, [names[id_] for id_ in ids])


def _placed(row: asyncpg.Record) -> Placed:
    seq, chain, id_, kind, line, parents, content, note, author, at_ms, carried_from, via, body = row
    entry = NewEntry(
        id=id_,
        kind=kind,
        line=line,
        parents=tuple(parents),
        content=content,
        note=note,
        body=body,
        author=author,
        at_ms=at_ms,
        from_=carried_from,
        via=via,
    )
    return Placed(seq, chain, entry)
