"""Verifying a book from its first entry: every hash, every parent, every link of the chain.

Content that is gone without an erasure is a fault at home only: there an erasure and what it erases are recorded
together. Elsewhere the erased entry may come before the erasure.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from hashlib import sha256

from studbook.history.canonical import UnrecordableError
from studbook.history.ids import entry_id, hash_content
from studbook_service.exchange.book import ExchangeBook, NumberedEntry
from studbook_service.exchange.erasures import erased_ids
from studbook_service.exchange.responder import read_batches
from studbook_service.exchange.running import Runner, run_here


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that cannot be in a sound book.

    Attributes:
        seq: the entry's number.
        id: its id as kept.
        what: what is wrong.
    """

    seq: int
    id: str
    what: str


@dataclass(slots=True)
class Verified:
    """What verifying found.

    Attributes:
        places: line and kind of every entry, by id.
        erased: numbers of the entries without note and document, by id.
        explained: ids that erasures name.
        chain: the chain at the end.
    """

    places: dict[str, tuple[str, str]] = field(default_factory=dict)
    erased: dict[str, int] = field(default_factory=dict)
    explained: set[str] = field(default_factory=set)
    chain: bytes = bytes(32)
    faults: list[Fault] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Compared:
    """Two books side by side: ids that only one of them has."""

    only_here: list[str]
    only_there: list[str]


async def verify(book: ExchangeBook, *, run: Runner = run_here) -> Verified:
    """Verify a book.

    Example::

        assert not (await verify(book)).faults
    """
    found = Verified()
    async for batch in read_batches(book, 0):
        await run(partial(_check, batch, found))
    end = await book.end()
    if await book.home() is None:
        lost = [id_ for id_ in found.erased if id_ not in found.explained]
        found.faults += (Fault(found.erased[id_], id_, "its content is gone, and no erasure says why") for id_ in lost)
    if await book.at(end) != found.chain or end < len(found.places):
        found.faults.append(Fault(end, "", "the chain at the end is not that of the entries"))
    return found


def compare(ours: Verified, theirs: Verified) -> Compared:
    """Compare two verified books, each in its own order."""
    return Compared(
        [id_ for id_ in ours.places if id_ not in theirs.places],
        [id_ for id_ in theirs.places if id_ not in ours.places],
    )


def _check(batch: Sequence[NumberedEntry], found: Verified) -> None:
    for numbered in batch:
        entry = numbered.entry
        expected = len(found.places) + 1
        if numbered.seq != expected:
            found.faults.append(Fault(numbered.seq, entry.id, f"number {expected} was to follow"))
        found.chain = sha256(found.chain + bytes.fromhex(entry.id)).digest()
        wrong = _wrong(numbered, found)
        if wrong:
            found.faults.append(Fault(numbered.seq, entry.id, wrong))
        if entry.erased:
            found.erased[entry.id] = numbered.seq
        found.explained.update(erased_ids(entry))
        found.places[entry.id] = (entry.header.line, entry.header.kind)


def _wrong(numbered: NumberedEntry, found: Verified) -> str:
    entry = numbered.entry
    header = entry.header
    if entry.note if entry.erased else hash_content(note=entry.note, body=entry.body) != header.content:
        return "note or document is not what was recorded"
    try:
        id_ = entry_id(header)
    except (UnrecordableError, UnicodeEncodeError) as error:
        return f"its header cannot be: {error}"
    if id_ != entry.id:
        return "the id is not that of its header"
    if numbered.chain != found.chain:
        return "the chain breaks here"
    for parent in header.parents:
        if found.places.get(parent) != (header.line, header.kind):
            return f"its parent {parent[:8]} is not before it on its line"
    return ""
