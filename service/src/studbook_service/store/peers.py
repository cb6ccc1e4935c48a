"""Other nodes that hold the same book: what is kept about them, and the book in the order it was written."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

import asyncpg

from studbook_service.store.entries import AppendOutcome, NewEntry, composite
from studbook_service.store.errors import driver_errors
from studbook_service.store.sql import QUERIES


@dataclass(frozen=True, slots=True)
class PeerRow:
    """Another node.

    Attributes:
        name: how this node calls it.
        url: where it answers.
        version: counts the changes of `state`.
        state: how far each book knows the other, in the exchange's own form.
    """

    name: str
    url: str
    version: int
    state: bytes


@dataclass(frozen=True, slots=True)
class SequencedEntry:
    """An entry with its sequence number.

    Attributes:
        seq: from 1, without gaps; parents come before children.
        chain: SHA-256 over the previous chain and the id.
        entry: the entry.
    """

    seq: int
    chain: bytes
    entry: NewEntry


class PeerStore:
    """The peers of all teams behind one pool.

    Every method raises StoreUnavailable when PostgreSQL does not answer.

    Example::

        await book.peers.since(team, 0, limit=64)
    """

    def __init__(self, pool: asyncpg.Pool) -> None:
        self._pool = pool

    async def since(self, team: UUID, seq: int, *, limit: int) -> list[SequencedEntry]:
        """Read entries after a number, in order; fewer than `limit` only at the end."""
        with driver_errors():
            return [_sequenced(row) for row in await self._pool.fetch(QUERIES["since"], team, seq, limit)]

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
        state: bytes,
        apply_erasures: bool = False,
    ) -> list[AppendOutcome]:
        """Add what a peer brought, and keep its state: both or neither.

        Args:
            team: whose book.
            entries: parents before children; those the book holds already are passed over.
            peer: the peer's name.
            version: one more than the one kept.
            state: what is kept from now on.
            apply_erasures: apply the erasures among the entries, where the peer is the team's home.

        Raises:
            PeerMoved: another version is kept, or there is no such peer.
            ParentNotFound: a parent is not on the entry's line.
        """
        with driver_errors():
            rows = await self._pool.fetch(
                QUERIES["receive"], team, [composite(entry) for entry in entries], peer, version, state, apply_erasures
            )
        return [AppendOutcome(*row) for row in rows]

    async def list(self, team: UUID) -> list[PeerRow]:
        """Read a team's peers, sorted by name."""
        with driver_errors():
            return [PeerRow(*row) for row in await self._pool.fetch(QUERIES["peers"], team)]

    async def set(self, team: UUID, name: str, url: str, *, state: bytes) -> None:
        """Add a peer, or begin again with one."""
        with driver_errors():
            await self._pool.execute(QUERIES["set_peer"], team, name, url, state)

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


def _sequenced(row: asyncpg.Record) -> SequencedEntry:
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
        carried_from=carried_from,
        via=via,
    )
    return SequencedEntry(seq, chain, entry)
