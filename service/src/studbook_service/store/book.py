"""A team's book: entries that never change, read and added. Each call is one SQL function; see `schema/`."""

from collections.abc import Sequence
from dataclasses import fields
from typing import TypeVar
from uuid import UUID

import asyncpg

from studbook_service.store.access import AccessStore
from studbook_service.store.effects import EffectStore
from studbook_service.store.entries import (
    AppendOutcome,
    EntryHead,
    ExportedEntry,
    Judged,
    NewEntry,
    PushOutcome,
    StoredEntry,
    TeamHead,
    composite,
)
from studbook_service.store.errors import (
    BookMoved,
    KeyReused,
    ParentNotFound,
    ProtectedLine,
    StaleTips,
    UnknownTeam,
    driver_errors,
)
from studbook_service.store.peers import PeerStore
from studbook_service.store.pool import open_pool
from studbook_service.store.scoped import ScopedPool
from studbook_service.store.sql import QUERIES

_HEAD = ", ".join(field.name for field in fields(EntryHead))
_HEADS = {name: QUERIES[name].format(columns=_HEAD) for name in ("tips", "heads", "history")}
_ENTRIES = {
    name: QUERIES[name].format(columns=f"{_HEAD}, body")
    for name in ("get", "several", "tips", "heads", "head_page", "ancestors", "export_page")
}

# Above every generation and id: where a history read from its newest end begins.
_NEWEST = (2**31 - 1, b"\xff" * 32)
_FOUND_AT_MOST = 10

E = TypeVar("E", bound=EntryHead)


class BookStore:
    """The books of all teams behind one pool; each call names its team and makes one round trip.

    Every method raises StoreUnavailable when PostgreSQL does not answer.

    Attributes:
        pool: the connections.
        access: members, tokens and shares, over the same pool.
        peers: other nodes, and the book in its own order, over the same pool.
        effects: what is kept of what changes do, over the same pool.

    Example::

        book = await open_book("postgresql:///studbook?host=/run/studbook")
        await book.tips(team, "car/7/sheet/baseline")
    """

    def __init__(self, pool: asyncpg.Pool) -> None:
        self.pool = pool
        self.access = AccessStore(pool)
        self.peers = PeerStore(pool)
        self.effects = EffectStore(pool)

    async def close(self) -> None:
        """Give the connections back."""
        await self.pool.close()

    def within(self, scope: str) -> "BookStore":
        """Give the books as a share's holder sees them: one line and what is below it, and nothing written.

        Args:
            scope: the line, such as `car/7` or `car/7/sheet/baseline`.
        """
        return BookStore(ScopedPool(self.pool, scope))

    async def push(
        self,
        team: UUID,
        entry: NewEntry,
        *,
        expected: tuple[bytes, ...],
        key: str | None = None,
        fingerprint: bytes | None = None,
        may_protected: bool = False,
        judged: Judged | None = None,
    ) -> PushOutcome:
        """Record one entry on the tips the caller saw, or raise why not.

        One writer per team at a time; of several on the same tips exactly one wins. A key used before is answered
        first, with what it made then. Without a key, this very change by this author on the same parents counts as
        a retry too.

        Args:
            team: whose book.
            entry: what to record. Its parents are among `expected`: one advances that side of a split, all settle it.
            expected: ids of every tip the line had, in any order; empty for a new line.
            key: idempotency key, or None.
            fingerprint: hash of the request the key stands for; needed with a key.
            may_protected: record also on a line that only a chief may record on.
            judged: record only if nothing was written since on what the entry was judged by.

        Returns:
            The entry that now stands for this push.

        Raises:
            ProtectedLine: only a chief may record on the line.
            StaleTips: the line has other tips.
            BookMoved: look and judge again.
            KeyReused: the key stands for another request.
            ParentNotFound: a parent is not among the expected tips.
            UnknownTeam: no such team.
            ValueError: a key without a fingerprint, or no parents on a line that has tips.
        """
        if (key is None) is not (fingerprint is None):
            raise ValueError("a key and the fingerprint of its request come together")
        if expected and not entry.parents:
            raise ValueError("an entry on a line that has tips names its parents")
        for parent in entry.parents:
            if parent not in expected:
                raise ParentNotFound(parent)
        judged_seq, judged_lines = judged or (None, None)
        with driver_errors():
            row = await self.pool.fetchrow(
                *(QUERIES["push"], team, composite(entry), sorted(expected), key, fingerprint, may_protected),
                *(judged_seq, judged_lines),
            )
        match row["outcome"]:
            case "protected":
                raise ProtectedLine(f"only a chief may record on {entry.line}")
            case "stale":
                raise StaleTips(tuple(row["tips"]))
            case "moved":
                raise BookMoved(f"what {entry.line} was judged by changed meanwhile")
            case "key_reused":
                raise KeyReused(f"key {key!r} was used for another request")
            case outcome:
                return PushOutcome(row["id"], row["seq"], row["generation"], replayed=outcome == "replayed")

    async def append(
        self, team: UUID, entries: Sequence[NewEntry], *, apply_erasures: bool = False
    ) -> list[AppendOutcome]:
        """Add ready entries whatever the tips, all or none; a split may arise.

        Args:
            team: whose book.
            entries: parents before children; those the book holds already are passed over. One without a body was
                erased elsewhere; one that was erased here is added without.
            apply_erasures: apply the erasures among them, also those the book holds already.

        Returns:
            What became of each, in the same order.

        Raises:
            ParentNotFound: a parent is not on the entry's line.
            UnknownTeam: no such team.
        """
        with driver_errors():
            rows = await self.pool.fetch(
                QUERIES["append"], team, [composite(entry) for entry in entries], apply_erasures
            )
        return [AppendOutcome(*row) for row in rows]

    async def get(self, team: UUID, id: bytes) -> StoredEntry | None:  # noqa: A002 - the book's own word
        """Read one entry by its full id; None when the team has no such entry."""
        entries = await self._entries("get", team, id)
        return entries[0] if entries else None

    async def several(self, team: UUID, ids: Sequence[bytes]) -> list[StoredEntry]:
        """Read those entries that the team has, in no order."""
        return await self._entries("several", team, ids)

    async def document(self, team: UUID, id: bytes) -> tuple[bytes, bytes] | None:  # noqa: A002 - as above
        """Read an entry's content hash and body alone, the hottest read; None when the team has no such entry.

        The body is empty once it was erased.
        """
        with driver_errors():
            content, body = await self.pool.fetchrow(QUERIES["document"], team, id)
        return None if body is None else (content, body)

    async def find(self, team: UUID, prefix_hex: str) -> list[bytes]:
        """Resolve a short id.

        Args:
            team: whose book.
            prefix_hex: 1 to 64 hexadecimal digits.

        Returns:
            The ids that begin so, sorted, at most 10.

        Raises:
            ValueError: not 1 to 64 hexadecimal digits.
        """
        if not 1 <= len(prefix_hex) <= 64:
            raise ValueError(f"an id has 1 to 64 digits, not {len(prefix_hex)}")
        first, last = (bytes.fromhex(prefix_hex.ljust(64, digit)) for digit in "0f")
        with driver_errors():
            rows = await self.pool.fetch(QUERIES["find"], team, first, last, _FOUND_AT_MOST)
        return [row["id"] for row in rows]

    async def tips(self, team: UUID, line: str) -> list[EntryHead]:
        """Read a line's tips, sorted by id: none for no such line, several for a split."""
        return await self._heads("tips", team, line)

    async def tip_entries(self, team: UUID, line: str) -> list[StoredEntry]:
        """Read a line's tips with their bodies, sorted by id."""
        return await self._entries("tips", team, line)

    async def heads(self, team: UUID, line_prefix: str, kind: str) -> list[EntryHead]:
        """Read the tips of every line of one kind under a prefix, such as `car/7/sheet/`; sorted by line, then id."""
        return await self._heads("heads", team, line_prefix, kind)

    async def head_entries(self, team: UUID, line_prefix: str, kind: str) -> list[StoredEntry]:
        """Read the tips of every line of one kind under a prefix, with their bodies."""
        return await self._entries("heads", team, line_prefix, kind)

    async def head_page(
        self, team: UUID, line_prefix: str, kind: str, *, after: str = "", lines: int = 50
    ) -> list[StoredEntry]:
        """Read the tips of the next lines of one kind under a prefix, with their bodies.

        Args:
            team: whose book.
            line_prefix: such as `outing/2026-05-02-north/`.
            kind: of the lines.
            after: the last line of the page before; empty for the first page.
            lines: most lines to read, each with all its tips.

        Returns:
            The tips by line, then id.
        """
        return await self._entries("head_page", team, line_prefix, kind, after, lines)

    async def first_recorded(self, team: UUID, lines: Sequence[str]) -> dict[str, int]:
        """Read when lines were begun, in ms since 1970 UTC: the time of the first entry, of several the earliest."""
        with driver_errors():
            rows = await self.pool.fetch(QUERIES["first_recorded"], team, lines)
        return {row["line"]: row["at_ms"] for row in rows}

    async def export_page(
        self, team: UUID, kinds: Sequence[str] | None, *, bodies: bool, after: int, until: int, limit: int
    ) -> list[ExportedEntry]:
        """Read the next entries of some kinds in the order they were written, as the book was at a moment.

        Args:
            team: whose book.
            kinds: those wanted; None for all.
            bodies: whether their documents are wanted; they are empty else.
            after: number of the last entry known.
            until: number of the last one that was there at that moment.
            limit: most entries to return.

        Returns:
            The entries; fewer than `limit` only at the end.
        """
        with driver_errors():
            rows = await self.pool.fetch(_ENTRIES["export_page"], team, kinds, bodies, after, until, limit)
        return [_read(ExportedEntry, row) for row in rows]

    async def history(
        self, team: UUID, line: str, *, before: tuple[int, bytes] | None = None, limit: int = 50
    ) -> list[EntryHead]:
        """Read a page of a line's history, newest first: by generation, then id, both descending.

        Args:
            team: whose book.
            line: the line.
            before: generation and id of the last entry of the page before; None for the first page.
            limit: most entries to return.

        Returns:
            The page; shorter than `limit` only at the end.
        """
        return await self._heads("history", team, line, *(before or _NEWEST), limit)

    async def ancestors(self, team: UUID, id: bytes, *, limit: int = 1000) -> list[StoredEntry]:  # noqa: A002 - as above
        """Read an entry, its first parent, that one's first parent, and so on back, at most `limit` of them."""
        return await self._entries("ancestors", team, id, limit)

    async def team_head(self, team: UUID) -> TeamHead:
        """Read how far the team's book goes.

        Raises:
            UnknownTeam: no such team.
        """
        with driver_errors():
            row = await self.pool.fetchrow(QUERIES["team_head"], team)
        if row is None:
            raise UnknownTeam("no such team")
        return TeamHead(*row)

    async def _heads(self, query: str, *args: object) -> list[EntryHead]:
        with driver_errors():
            return [_read(EntryHead, row) for row in await self.pool.fetch(_HEADS[query], *args)]

    async def _entries(self, query: str, *args: object) -> list[StoredEntry]:
        with driver_errors():
            return [_read(StoredEntry, row) for row in await self.pool.fetch(_ENTRIES[query], *args)]


def _read(cls: type[E], row: asyncpg.Record) -> E:
    """Make an entry of a row in the order of the fields of EntryHead; arrays arrive as lists."""
    id_, seq, kind, line, parents, *rest = row
    return cls(id_, seq, kind, line, tuple(parents), *rest)


async def open_book(dsn: str, *, size: int = 10) -> BookStore:
    """Open the books behind a serving role's address.

    Args:
        dsn: `postgresql://` address.
        size: most connections to hold.

    Returns:
        The book; close it when done.

    Raises:
        StoreUnavailable: nothing answers there.
    """
    return BookStore(await open_pool(dsn, size=size))
