"""Walking a book from its first entry: every hash, every parent, every link of the chain."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from hashlib import sha256

from studbook.history.canonical import UnrecordableError
from studbook.history.ids import entry_id, hash_content
from studbook_service.exchange.answering import walk
from studbook_service.exchange.book import Book, Placed
from studbook_service.exchange.erasures import named
from studbook_service.exchange.running import Run, here


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that cannot be, were the book as it was written.

    Attributes:
        seq: the entry's number.
        id: its id as it stands in the book.
        what: what is wrong.
    """

    seq: int
    id: str
    what: str


@dataclass(slots=True)
class Verified:
    """What a walk found.

    Attributes:
        places: line and kind of every entry, by id.
        erased: numbers of the entries without note and document, by id.
        named: entries that an erasure names.
        chain: the chain at the end.
    """

    places: dict[str, tuple[str, str]] = field(default_factory=dict)
    erased: dict[str, int] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)
    chain: bytes = bytes(32)
    faults: list[Fault] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Compared:
    """Two books side by side: ids that only one of them has."""

    only_here: list[str]
    only_there: list[str]


async def verify(book: Book, *, run: Run = here) -> Verified:
    """Walk a book.

    Example::

        assert not (await verify(book)).faults
    """
    found = Verified()
    async for batch in walk(book, 0):
        await run(partial(_check, batch, found))
    end = await book.end()
    if await book.home() is None:
        # Away from home an erased entry may come before the erasure; here they are recorded together.
        lost = [id_ for id_ in found.erased if id_ not in found.named]
        found.faults += (Fault(found.erased[id_], id_, "its content is gone, and no erasure says why") for id_ in lost)
    if await book.at(end) != found.chain or end < len(found.places):
        found.faults.append(Fault(end, "", "the chain at the end is not that of the entries"))
    return found


def compare(ours: Verified, theirs: Verified) -> Compared:
    """Set two verified books against each other, in the order of each book."""
    return Compared(
        [id_ for id_ in ours.places if id_ not in theirs.places],
        [id_ for id_ in theirs.places if id_ not in ours.places],
    )


def _check(batch: Sequence[Placed], found: Verified) -> None:
    for placed in batch:
        entry = placed.entry
        expected = len(found.places) + 1
        if placed.seq != expected:
            found.faults.append(Fault(placed.seq, entry.id, f"number {expected} was to follow"))
        found.chain = sha256(found.chain + bytes.fromhex(entry.id)).digest()
        wrong = _wrong(placed, found)
        if wrong:
            found.faults.append(Fault(placed.seq, entry.id, wrong))
        if entry.erased:
            found.erased[entry.id] = placed.seq
        found.named.update(named(entry))
        found.places[entry.id] = (entry.header.line, entry.header.kind)


def _wrong(placed: Placed, found: Verified) -> str:
    entry = placed.entry
    header = entry.header
    if entry.note if entry.erased else hash_content(note=entry.note, body=entry.body) != header.content:
        return "note or document is not what was recorded"
    try:
        id_ = entry_id(header)
    except (UnrecordableError, UnicodeEncodeError) as error:
        return f"its header cannot be: {error}"
    if id_ != entry.id:
        return "the id is not that of its header"
    if placed.chain != found.chain:
        return "the chain breaks here"
    for parent in header.parents:
        if found.places.get(parent) != (header.line, header.kind):
            return f"its parent {parent[:8]} is not before it on its line"
    return ""
