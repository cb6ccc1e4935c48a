"""What initiator and responder of an exchange send each other: a head, then frames of entries.

A body is one zlib stream of frames, flushed after each. A frame is the length and the CRC-32 of what follows (4 bytes
each, big-endian) and JSON. The first is a `Head`, all others are `Frame`s. A revision travels as the leaves that differ
from its first parent; the receiver rebuilds it and hashes it again.
"""

import datetime as dt
from hashlib import sha256
from typing import Annotated, Any, Final

import msgspec
from msgspec import UNSET, Meta, UnsetType

from studbook.wire.access import Role
from studbook.wire.entries import Answer, Request
from studbook.wire.units import Opt

MEDIA_TYPE: Final = "application/vnd.studbook.frames"
VERSION: Final = 2
"""Of the exchange and of a book in a file. Version 1, of before Studbook 0.2, is refused."""

_DIGEST_BYTES: Final = 8

REFUSALS: Final = {
    "hash": "what arrived is not what its id says",
    "form": "it is not of an entry's form",
    "size": "its document is too large to keep",
    "cycle": "it follows itself or what comes after it",
    "missing_parent": "what it follows is not in this book",
    "parent_refused": "what it follows was refused",
    "parent_erased": "it came as a change of something whose content was erased here",
    "unknown_author": "its author is no member there: add them at the home, or let the token that brings it introduce",
    "protected": "only a chief records on its sheet, and the token that brought it is not made for that",
    "not_home": "content is erased at the book's home, and nobody brings that there",
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


class HomeMember(msgspec.Struct, frozen=True, array_like=True, omit_defaults=True):
    """A member as the book's home knows them; the name is empty once it was erased."""

    name: str
    role: Role
    ended: bool = False
    erased: bool = False


class Home(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What is decided at the book's home and known everywhere.

    Attributes:
        members: by id, those who left included.
        protected: lines that only a chief records on, sorted.
    """

    members: dict[str, HomeMember] = {}
    protected: list[str] = []

    def digest(self) -> bytes:
        """Name this state in 8 bytes.

        Example:
            >>> Home().digest() == Home(protected=["car/7/sheet/baseline"]).digest()
            False
        """
        return sha256(msgspec.json.encode(self, order="sorted")).digest()[:_DIGEST_BYTES]


class Head(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The first frame each way.

    Attributes:
        v: `VERSION`.
        book: the 8 bytes that tell one team's book from any other; empty asks which it is.
        cursor: in a request, how far the responder's book has been read; none for from the start.
        end: in a request, where the responder's book ended when it last took entries, if beyond `cursor`; in a
            response, where it ends now.
        to: in a response, the first 8 bytes of the SHA-256 of the request.
        restart: in a response, a place was not known: nothing of the request was taken, and this begins at the start.
        refused: in a response, what was not taken of the request.
        whole: in a request, that documents are to come whole: what some are changes of was erased at the initiator.
        shorter: in a request, how often the response is to be halved: nothing came of longer ones before they broke
            off.
        knows: in a request to the book's home, the digest of what is known of it; empty for nothing.
        at_home: in a response, that this is the book's home.
        home: in a response from the home, what is decided there, unless the request knows.
    """

    v: int = 0
    book: bytes = b""
    cursor: Cursor | UnsetType = UNSET
    end: Cursor | UnsetType = UNSET
    to: bytes = b""
    restart: bool = False
    refused: list[Refused] = []
    whole: bool = False
    shorter: int = 0
    knows: bytes | UnsetType = UNSET
    at_home: bool = False
    home: Home | UnsetType = UNSET


class FrameRow(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
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
        content: of an entry whose note and document were erased, their hash.
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
    content: bytes | UnsetType = UNSET


class Frame(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Entries that are taken together, parents before children.

    Attributes:
        lines: lines not named before, each with its kind.
        authors: authors not named before.
        names: what the crew calls them.
        rows: the entries.
        checks: the first 4 bytes of each entry's id.
        digest: the first 16 bytes of the SHA-256 of all their ids.
        cursor: how far the sender's book has been sent once this frame is taken.
        more: on the last frame of a response: whether there is more to ask for.
    """

    lines: list[tuple[str, str]] = []
    authors: list[str] = []
    names: dict[str, str] = {}
    rows: list[FrameRow] = []
    checks: bytes = b""
    digest: bytes = b""
    cursor: Cursor | UnsetType = UNSET
    more: bool | UnsetType = UNSET


class SyncQuery(Request):
    """Which exchange with a peer, and how long to wait for its end."""

    number: Opt[Annotated[int, Meta(ge=1, description="of an exchange requested before; none is begun then")]] = UNSET
    within_s: Annotated[float, Meta(ge=0, le=20, description="answer after so long with how far it is, seconds")] = 10.0


class Exchanged(Answer):
    """How far an exchange with a peer is, or what it came to.

    Attributes:
        number: of the exchanges that this service made.
        running: whether it goes on.
        requests: those responded to.
        sent, received: entries: that the peer took; that are new here.
        bytes_up, bytes_down: compressed.
        split: lines that have several tips now, and not of one document.
        refused: what was not taken, either way.
    """

    peer: str
    number: int
    running: bool = False
    requests: int = 0
    sent: int = 0
    received: int = 0
    bytes_up: int = 0
    bytes_down: int = 0
    split: list[str] = []
    refused: list[Refused] = []


class Peer(Answer):
    """Another book that this one exchanges with.

    Attributes:
        home: members and protection are decided there.
        running: the exchange with it that goes on now.
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
    home: bool = False
    running: Opt[Exchanged] = UNSET


class Peers(Answer):
    """All books that this one exchanges with."""

    items: list[Peer]
