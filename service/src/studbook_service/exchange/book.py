"""What an exchange needs of a book, and what it keeps about a peer."""

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
class Entry:
    """An entry as it is exchanged.

    Attributes:
        id: 64 hex digits.
        header: what the id covers.
        note: why, in the author's words.
        body: the document, canonical JSON; nothing at all once it was erased.
        via: who brought it here, or None when it was recorded here.
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


class Placed(NamedTuple):
    """An entry at its place in a book.

    Attributes:
        seq: from 1, without gaps; parents come before children.
        chain: SHA-256 of the chain before it and its id.
        entry: the entry.
    """

    seq: int
    chain: bytes
    entry: Entry


class Standing(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """How we stand with a peer. Kept with the book, so that a restored book remembers what it knew then.

    Attributes:
        version: counts the changes, so that two who exchange with one peer at once notice.
        read: how far the peer's book has been read.
        stood: where the peer's book stood when it last took entries from us.
        sent: the peer has, or refused, all our entries up to this number.
        floor: of our entries above this number the peer has all that came from it.
        knows: digest of what is known of the book's home, when the peer is that.
        refused: what was not taken, the last first.
        reached_at, failed_at, failure: how the last exchanges went.
    """

    version: int = 0
    read: Cursor | None = None
    stood: Cursor | None = None
    sent: int = 0
    floor: int = 0
    knows: bytes = b""
    refused: tuple[Refused, ...] = ()
    reached_at: dt.datetime | None = None
    failed_at: dt.datetime | None = None
    failure: str = ""

    @property
    def settled(self) -> bool:
        """Whether we know of each of our entries if the peer has it."""
        return self.sent >= self.floor


class StandingMoved(Exception):
    """Another exchange with the same peer is under way."""


class Book(Protocol):
    """A book to exchange. Ids are hex."""

    async def identity(self) -> bytes:
        """Give the 8 bytes that tell this book from other teams'."""

    async def end(self) -> int:
        """Give the number of the last entry, 0 for none."""

    async def at(self, seq: int) -> bytes | None:
        """Give the chain at a number, 32 zero bytes at 0; None beyond the end."""

    async def since(self, seq: int, *, most: int) -> Sequence[Placed]:
        """Read entries after a number, in order, at most so many; fewer only at the end."""

    async def has(self, ids: Collection[str]) -> Mapping[str, tuple[str, str]]:
        """Give line and kind of those entries that are here."""

    async def get(self, ids: Collection[str]) -> Mapping[str, Entry]:
        """Read those entries that are here."""

    async def tips(self, line: str) -> Sequence[str]:
        """Name the tips of a line, sorted."""

    async def append(
        self, entries: Sequence[Entry], *, peer: str | None = None, standing: Standing | None = None
    ) -> Sequence[bool]:
        """Add entries, parents before children, and keep how we stand with a peer: both or neither.

        An erasure among them is carried out.

        Returns:
            For each whether it is new here.

        Raises:
            StandingMoved: what is kept is not one version before the given standing.
        """

    async def standing(self, peer: str) -> Standing:
        """Give how we stand with a peer."""

    async def name(self, names: Mapping[str, str]) -> None:
        """Keep what another node calls authors whom nobody here knows."""

    async def introduce(self, names: Mapping[str, str], *, by: str) -> None:
        """Let authors be members who have left, at home."""

    async def home(self) -> str | None:
        """Name the peer that is the book's home, None when that is here."""

    async def decided(self) -> Home:
        """Give what is decided at the book's home, as far as it is known here."""

    async def take_home(self, home: Home) -> None:
        """Keep what is decided at the book's home."""
