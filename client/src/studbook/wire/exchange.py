"""What two books say to each other: a head, then frames of entries, and what each says of its peers.

A body is one zlib stream of frames, flushed after each. A frame is the length and the CRC-32 of what follows (4 bytes
each, big-endian) and JSON. The first is a `Head`, all others are `Frame`s. A revision travels as the leaves that differ
from its first parent; the receiver rebuilds it and hashes it anew.
"""

import datetime as dt
from typing import Any, Final

import msgspec
from msgspec import UNSET, UnsetType

from studbook.wire.entries import Answer
from studbook.wire.units import Opt

MEDIA_TYPE: Final = "application/vnd.studbook.frames"
VERSION: Final = 1

REFUSALS: Final = {
    "hash": "what arrived is not what its id says",
    "form": "it is not of an entry's form",
    "size": "its document is too large to keep",
    "cycle": "it follows itself or what comes after it",
    "missing_parent": "what it follows is not in this book",
    "parent_refused": "what it follows was refused",
    "unknown_author": "the team never had its author; add the member here, then read from the start",
}
"""Every reason to refuse one entry, and what it means."""


class Cursor(msgspec.Struct, frozen=True, array_like=True):
    """A place in a book: the number of an entry, and the first 8 bytes of the chain there."""

    seq: int
    chain: bytes


class Refused(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One entry that was not taken.

    Attributes:
        id: the first 8 digits of its id.
        line: the line it is on, where that was readable.
        code: a key of `REFUSALS`.
        detail: what is wrong with it in particular.
    """

    id: str
    code: str
    line: str = ""
    detail: str = ""


class Head(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The first frame each way.

    Attributes:
        book: the 8 bytes that tell one team's book from any other; none asks which it is.
        cursor: in a request, how far the other's book has been read; none for from the start.
        stood: in a request, where the other's book stood when it last took entries, if beyond `cursor`; in an answer,
            where it stands now.
        to: in an answer, the first 8 bytes of the SHA-256 of the request.
        anew: in an answer, a cursor was not known: nothing of the request was taken, and this begins at the start.
        refused: in an answer, what was not taken of the request.
    """

    v: int = 0
    book: bytes = b""
    cursor: Cursor | UnsetType = UNSET
    stood: Cursor | UnsetType = UNSET
    to: bytes = b""
    anew: bool = False
    refused: list[Refused] = []


class Row(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """One entry.

    Attributes:
        on: its line, by place in the lines that came so far.
        by: its author, likewise.
        at: ms after the row before (after 1970 for the first).
        note: why.
        after: its parents: how many rows ago, or an id; left out for the last row on the same line.
        origin: id of the entry its content was carried from.
        body: the whole document: of an entry without parents, or where that is shorter than what differs.
        put: leaves that its first parent has otherwise or not at all, by dotted path.
        cut: leaves that its first parent has and it has not.
    """

    on: int = 0
    by: int = 0
    at: int = 0
    note: str = ""
    after: list[int | str] | UnsetType = UNSET
    origin: str | UnsetType = UNSET
    body: dict[str, Any] | UnsetType = UNSET
    put: dict[str, Any] = {}
    cut: list[str] = []


class Frame(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Entries that are taken together, parents before children.

    Attributes:
        lines: lines not named before, each with its kind.
        authors: authors not named before.
        names: what the crew calls them.
        rows: the entries.
        checks: the first 4 bytes of each entry's id.
        digest: the first 16 bytes of the SHA-256 of all their ids.
        cursor: how far the sender's book has been told once this frame is taken.
        more: on the last frame of an answer: whether there is more to ask for.
    """

    lines: list[tuple[str, str]] = []
    authors: list[str] = []
    names: dict[str, str] = {}
    rows: list[Row] = []
    checks: bytes = b""
    digest: bytes = b""
    cursor: Cursor | UnsetType = UNSET
    more: bool | UnsetType = UNSET


class Peer(Answer):
    """Another book that this one exchanges with.

    Attributes:
        reached_at: when an exchange with it was last completed.
        failed_at, failure: the last attempt that failed since then, and why.
        waiting: entries here that it has not had yet.
        refused: entries that were not taken, by it or from it, the last first.
    """

    name: str
    url: str
    waiting: int
    reached_at: Opt[dt.datetime] = UNSET
    failed_at: Opt[dt.datetime] = UNSET
    failure: Opt[str] = UNSET
    refused: list[Refused] = []


class Peers(Answer):
    """All books that this one exchanges with."""

    items: list[Peer]
