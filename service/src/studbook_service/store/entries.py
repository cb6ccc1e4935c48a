"""What the store takes and gives: entries, and what became of them."""

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEntry:
    """An entry ready to be recorded: hashed by the caller, never re-hashed here.

    Attributes:
        id: SHA-256 of the header, 32 bytes.
        kind: what the line holds, such as `sheet`.
        line: the slug of the line, such as `car/7/sheet/baseline`.
        parents: ids of the parents in that line, sorted; empty for a line's first entry.
        content: SHA-256 of note and body, 32 bytes.
        note: the author's note, or None.
        body: the document, canonical JSON; empty of an entry whose content was erased.
        author: member id.
        at_ms: when the author recorded it, UTC, ms since 1970.
        carried_from: canonical JSON of where the content was carried from, or None.
        via: the node that brought it, or None.

    Example:
        >>> NewEntry(id=b"i" * 32, kind="car", line="car/7", parents=(), content=b"c" * 32, note=None,
        ...          body=b"{}", author="chris", at_ms=1_790_000_000_000).line
        'car/7'
    """

    id: bytes
    kind: str
    line: str
    parents: tuple[bytes, ...]
    content: bytes
    note: str | None
    body: bytes
    author: str
    at_ms: int
    carried_from: bytes | None = None
    via: str | None = None


@dataclass(frozen=True, slots=True)
class EntryHead:
    """A recorded entry without its body.

    Attributes:
        id: SHA-256 of the header, 32 bytes.
        seq: place in the team's book, from 1, without gaps.
        kind: what the line holds.
        line: the slug of the line.
        parents: ids of the parents, as recorded.
        generation: 0 for a line's first entry, else one more than the highest parent's.
        content: SHA-256 of note and body.
        note: the author's note, or None.
        author: member id.
        author_name: the member's name, or None when the team does not know the author.
        at_ms: when the author recorded it, UTC, ms since 1970.
        received_at: when this node received it.
        carried_from: canonical JSON of where the content was carried from, or None.
        via: the node that brought it, or None.
        erased: its note and body were erased.
    """

    id: bytes
    seq: int
    kind: str
    line: str
    parents: tuple[bytes, ...]
    generation: int
    content: bytes
    note: str | None
    author: str
    author_name: str | None
    at_ms: int
    received_at: datetime
    carried_from: bytes | None
    via: str | None
    erased: bool


@dataclass(frozen=True, slots=True)
class StoredEntry(EntryHead):
    """A recorded entry.

    Attributes:
        body: the document, canonical JSON as it was given; empty once it was erased.
    """

    body: bytes


@dataclass(frozen=True, slots=True)
class ExportedEntry(StoredEntry):
    """An entry as the book was at a moment.

    Attributes:
        current: none that was there then followed it.
    """

    current: bool


@dataclass(frozen=True, slots=True)
class PushOutcome:
    """What a push left in the book.

    Attributes:
        id: the entry that stands for this push: the given one, or with `replayed` the one recorded before.
        seq: its place in the team's book.
        generation: its distance from the line's first entry.
        replayed: nothing was written, because this key or this very change by this author was recorded before.
    """

    id: bytes
    seq: int
    generation: int
    replayed: bool


class Judged(NamedTuple):
    """On what an entry was judged fit to be recorded.

    A part's shop records decide whether it may be fitted. Two fittings judged at one moment could both be found good:
    so a push is refused if one of these lines moved meanwhile, and is judged again.

    Attributes:
        seq: the book's last sequence number before the lines were read.
        lines: beginnings of the lines that were read.
    """

    seq: int
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AppendOutcome:
    """What became of one appended entry.

    Attributes:
        id: the entry.
        seq: its place in the team's book.
        generation: its distance from the line's first entry.
        added: False when the book held it already.
    """

    id: bytes
    seq: int
    generation: int
    added: bool


@dataclass(frozen=True, slots=True)
class TeamHead:
    """How far a team's book goes.

    Attributes:
        seq: sequence number of the last entry; 0 for an empty book.
        chain: SHA-256 over the previous chain and the last id; 32 zero bytes for an empty book.
        book: 8 random bytes that tell this team's book from any other.
    """

    seq: int
    chain: bytes
    book: bytes


def composite(entry: NewEntry) -> tuple[object, ...]:
    """Spell an entry as the columns of the type studbook.new_entry."""
    return (
        entry.id,
        entry.kind,
        entry.line,
        list(entry.parents),
        entry.content,
        entry.note if entry.body else None,
        entry.body or None,
        entry.author,
        entry.at_ms,
        entry.carried_from,
        entry.via,
    )
