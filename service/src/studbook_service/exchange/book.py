"""What an exchange needs of a book, and what it keeps about a peer.

The state of a peer is a row beside the entries and changes in their transaction, so a restored database remembers what
it knew then. It is versioned, so two exchanges with one peer at once notice each other. Only the token is a file.

A book has one home: the node that keeps members, tokens and protection. Every other node keeps a copy of what its home
decided. The copy replaces what was known; a name that comes with entries from elsewhere is kept only of a member nobody
here knows, so no old copy brings an erased name back.
"""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple, Protocol

import msgspec

from studbook.history.ids import Header
from studbook.wire.exchange import Cursor, Home, Refused

CHAIN_BYTES: Final = 8
"""How much of the chain a cursor carries."""

REFUSED_MOST: Final = 100
"""How many refusals are kept for each peer, the last ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExchangedEntry:
    """An entry as it is exchanged.

    Attributes:
        id: 64 hex digits.
        header: what the id covers.
        note: why, in the author's words.
        body: the document, canonical JSON; nothing at all once it was erased.
        via: who brought it here; None when it was recorded here.
    """

    id: str
    header: Header
    note: str
    body: bytes
    via: str | None = None

    @property
    def erased(self) -> bool:
        """Whether note and document were erased; an empty document is `{}`."""
        return not self.body


class NumberedEntry(NamedTuple):
    """An entry with its number in a book.

    Attributes:
        seq: from 1, without gaps; parents come before children.
        chain: SHA-256 of the chain before it and its id.
        entry: the entry.
    """

    seq: int
    chain: bytes
    entry: ExchangedEntry


class PeerState(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What this book knows of a peer and its book.

    Attributes:
        version: counts the changes.
        read: how far the peer's book has been read.
        end: where the peer's book ended when it last took entries from here.
        sent: the peer has, or refused, all entries up to this number.
        floor: the peer has all entries above this number that came from it.
        knows: digest of what is known of the book's home, when the peer is the home.
        refused: what was not taken, the last first.
        reached_at, failed_at, failure: how the last exchanges went.
    """

    version: int = 0
    read: Cursor | None = None
    end: Cursor | None = None
    sent: int = 0
    floor: int = 0
    knows: bytes = b""
    refused: tuple[Refused, ...] = ()
    reached_at: dt.datetime | None = None
    failed_at: dt.datetime | None = None
    failure: str = ""

    @property
    def settled(self) -> bool:
        """Whether it is known of each entry here if the peer has it."""
        return self.sent >= self.floor


class PeerStateMoved(Exception):
    """Another exchange with the same peer is under way."""


class OtherBook(Exception):
    """The other book is another team's."""


class UnknownParent(Exception):
    """An entry follows one that is not before it on its line."""


class ExchangeBook(Protocol):
    """A book to exchange. Ids are hex."""

    async def identity(self) -> bytes:
        """Give the 8 bytes that tell this book from other teams'."""

    async def end(self) -> int:
        """Give the number of the last entry, 0 for none."""

    async def at(self, seq: int) -> bytes | None:
        """Give the chain at a number, 32 zero bytes at 0; None beyond the end."""

    async def since(self, seq: int, *, most: int) -> Sequence[NumberedEntry]:
        """Read entries after a number, in order, at most so many; fewer only at the end."""

    async def has(self, ids: Collection[str]) -> Mapping[str, tuple[str, str]]:
        """Give line and kind of those entries that are here."""

    async def get(self, ids: Collection[str]) -> Mapping[str, ExchangedEntry]:
        """Read those entries that are here."""

    async def tips(self, line: str) -> Sequence[str]:
        """Name the tips of a line, sorted."""

    async def append(
        self, entries: Sequence[ExchangedEntry], *, peer: str | None = None, state: PeerState | None = None
    ) -> Sequence[bool]:
        """Add entries, parents before children, and keep the state of a peer: both or neither.

        An erasure among them is carried out.

        Returns:
            For each whether it is new here.

        Raises:
            PeerStateMoved: the state kept is not one version before the given one.
            UnknownParent: an entry follows one that is not before it on its line; nothing was added.
        """

    async def peer_state(self, peer: str) -> PeerState:
        """Give the state of a peer; of an unknown one, the state of a new peer."""

    async def name(self, names: Mapping[str, str]) -> None:
        """Keep another node's names for authors whom nobody here knows."""

    async def introduce(self, names: Mapping[str, str], *, by: str) -> None:
        """Make authors members of the crew, at home; they have no token here."""

    async def home(self) -> str | None:
        """Name the peer that is the book's home, None when that is here."""

    async def decided(self) -> Home:
        """Give what is decided at the book's home, as far as it is known here."""

    async def take_home(self, home: Home) -> None:
        """Keep what is decided at the book's home; members it does not name stay."""
