"""A book in memory: to compare a peer's book with this one, and for tests."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from hashlib import sha256

import msgspec

from studbook.wire.exchange import Home, HomeMember
from studbook_service.exchange import erasures
from studbook_service.exchange.book import ExchangedEntry, NumberedEntry, PeerState, PeerStateMoved, UnknownParent


class MemoryBook:
    """A book that ends with its process.

    Args:
        identity: 8 bytes that differ from those of other teams' books.
        home: the peer that is its home; None when it is itself.

    Example:
        >>> book = MemoryBook(b"8 bytes.")
    """

    def __init__(self, identity: bytes, home: str | None = None) -> None:
        self._identity = identity
        self._home = home
        self._decided = Home()
        self._numbered: list[NumberedEntry] = []
        self._entries: dict[str, ExchangedEntry] = {}
        self._tips: dict[str, set[str]] = {}
        self._gone: set[str] = set()
        self._peer_states: dict[str, PeerState] = {}

    def copy(self) -> "MemoryBook":
        """Give a book that is the same now and has its own future."""
        other = MemoryBook(self._identity, self._home)
        other._decided = self._decided
        other._numbered = list(self._numbered)
        other._entries = dict(self._entries)
        other._gone = set(self._gone)
        other._tips = {line: set(tips) for line, tips in self._tips.items()}
        other._peer_states = dict(self._peer_states)
        return other

    async def identity(self) -> bytes:
        """Give the 8 bytes that tell this book from other teams'."""
        return self._identity

    async def end(self) -> int:
        """Give the number of the last entry."""
        return len(self._numbered)

    async def at(self, seq: int) -> bytes | None:
        """Give the chain at a number."""
        if not 0 <= seq <= len(self._numbered):
            return None
        return self._numbered[seq - 1].chain if seq else bytes(32)

    async def since(self, seq: int, *, most: int) -> Sequence[NumberedEntry]:
        """Read entries after a number, in order."""
        return self._numbered[seq : seq + most]

    async def has(self, ids: Collection[str]) -> Mapping[str, tuple[str, str]]:
        """Give line and kind of those entries that are here."""
        held = (self._entries[id_] for id_ in ids if id_ in self._entries)
        return {entry.id: (entry.header.line, entry.header.kind) for entry in held}

    async def get(self, ids: Collection[str]) -> Mapping[str, ExchangedEntry]:
        """Read those entries that are here."""
        return {id_: self._entries[id_] for id_ in ids if id_ in self._entries}

    async def tips(self, line: str) -> Sequence[str]:
        """Name the tips of a line, sorted."""
        return sorted(self._tips.get(line, ()))

    async def append(
        self, entries: Sequence[ExchangedEntry], *, peer: str | None = None, state: PeerState | None = None
    ) -> Sequence[bool]:
        """Add entries and keep the state of a peer: both or neither."""
        if peer is not None and state is not None and state.version != (await self.peer_state(peer)).version + 1:
            raise PeerStateMoved(f"another exchange with {peer} is under way")
        self._check(entries)
        fresh = [self._add(entry) for entry in entries]
        if peer is not None and state is not None:
            self._peer_states[peer] = state
        return fresh

    async def peer_state(self, peer: str) -> PeerState:
        """Give the state of a peer."""
        return self._peer_states.get(peer, PeerState())

    async def name(self, names: Mapping[str, str]) -> None:
        """Keep another node's names for authors whom nobody here knows."""
        await self._add_members({id_: HomeMember(name, "viewer", ended=True) for id_, name in names.items()})

    async def introduce(self, names: Mapping[str, str], *, by: str) -> None:  # noqa: ARG002 - nothing is recorded of it
        """Make authors members of the crew, at home."""
        await self._add_members({id_: HomeMember(name, "crew") for id_, name in names.items()})

    async def _add_members(self, new: Mapping[str, HomeMember]) -> None:
        await self.take_home(msgspec.structs.replace(self._decided, members={**new, **self._decided.members}))

    async def home(self) -> str | None:
        """Name the peer that is the book's home."""
        return self._home

    async def decided(self) -> Home:
        """Give what is decided at the book's home."""
        return self._decided

    async def take_home(self, home: Home) -> None:
        """Keep what is decided at the book's home; members it does not know of stay."""
        self._decided = msgspec.structs.replace(home, members=self._decided.members | home.members)

    def _check(self, entries: Sequence[ExchangedEntry]) -> None:
        coming = {entry.id: entry.header for entry in entries}
        before: set[str] = set()
        for entry in entries:
            for parent in entry.header.parents:
                held = self._entries.get(parent)
                header = held.header if held else coming[parent] if parent in before else None
                if header is None or (header.line, header.kind) != (entry.header.line, entry.header.kind):
                    raise UnknownParent(parent)
            before.add(entry.id)

    def _add(self, entry: ExchangedEntry) -> bool:
        if entry.id in self._entries:
            return False
        if entry.id in self._gone:
            entry = replace(entry, note="", body=b"")
        last = self._numbered[-1].chain if self._numbered else bytes(32)
        chain = sha256(last + bytes.fromhex(entry.id)).digest()
        self._numbered.append(NumberedEntry(len(self._numbered) + 1, chain, entry))
        self._entries[entry.id] = entry
        tips = self._tips.setdefault(entry.header.line, set())
        tips -= set(entry.header.parents)
        tips.add(entry.id)
        for id_ in erasures.erased_ids(entry):
            self._gone.add(id_)
            self._erase(id_)
        return True

    def _erase(self, id_: str) -> None:
        held = self._entries.get(id_)
        if held is not None and held.header.kind != erasures.KIND:
            self._entries[id_] = gone = replace(held, note="", body=b"")
            place = next(place for place, each in enumerate(self._numbered) if each.entry.id == id_)
            self._numbered[place] = self._numbered[place]._replace(entry=gone)
