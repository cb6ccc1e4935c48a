"""The answering side of an exchange: takes what the other brings, gives what it lacks. Keeps nothing about it."""

from collections.abc import AsyncIterator, Collection, Sequence
from dataclasses import dataclass, field
from functools import partial
from hashlib import sha256
from typing import Final

from msgspec import UNSET, UnsetType

from studbook.wire.exchange import VERSION, Cursor, Frame, Head, Home, Refused
from studbook_service.exchange.admitting import ANYTHING, Gate, Terms
from studbook_service.exchange.book import CHAIN_BYTES, Book, Entry, Placed
from studbook_service.exchange.composing import Composer, chunks, cursor
from studbook_service.exchange.frames import DOWN, UP, Bounds, Writer, whole
from studbook_service.exchange.rebuilding import Rebuilder
from studbook_service.exchange.running import Run, here

ECHO_BYTES: Final = 8
_BATCH: Final = 256
_REFUSED_TOLD: Final = 1000


class OtherBook(Exception):
    """The other book is another team's."""


@dataclass(frozen=True, slots=True)
class Answered:
    """An answer, and what came with the request.

    Attributes:
        body: the stream.
        added: entries that are new here.
        refused: entries that were not taken.
    """

    body: bytes
    added: list[Entry] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)


async def answer(
    book: Book,
    asked: bytes,
    *,
    via: str,
    terms: Terms = ANYTHING,
    bounds: tuple[Bounds, Bounds] = (UP, DOWN),
    run: Run = here,
) -> Answered:
    """Answer one request.

    The request is read completely before anything of it is kept; then each of its frames is kept by itself.

    Args:
        book: ours.
        asked: the request's body.
        via: who brings it, kept with its entries.
        terms: what they may bring.
        bounds: of the request and of the answer.
        run: does the long computations.

    Raises:
        BadFrames: the request cannot be read; nothing was kept.
        OtherBook: it comes from another team's book; nothing was kept.
    """
    up, down = bounds
    head, frames = await run(partial(whole, asked, up))
    identity = await book.identity()
    if head.book != identity and (head.book or frames):
        raise OtherBook(f"this is book {identity.hex()}, not {head.book.hex() or 'any'}")
    read = await _read(book, head)
    # A book that lost places the other knew may have lost what these entries follow: they are told again later.
    frames = [] if read is None else frames
    taken = await _take(book, frames, Rebuilder(via=via), Gate(via, terms), run)
    writer = Writer()
    end, at_home = await book.end(), await book.home() is None
    decided = await book.decided() if head.book else Home()
    writer.add(
        Head(
            v=VERSION,
            book=identity,
            stood=Cursor(end, (await book.at(end) or b"")[:CHAIN_BYTES]),
            to=echo(asked),
            anew=read is None,
            refused=taken.refused[:_REFUSED_TOLD],
            at_home=at_home,
            home=decided if at_home and head.knows not in {UNSET, decided.digest()} else UNSET,
        )
    )
    if not head.book:
        writer.add(Frame(more=True))
        return Answered(writer.finish())
    # What home decides comes whole in the head; another node tells only what it calls the authors of entries.
    names = {} if at_home else names_of(decided)
    teller = Teller(book, Composer(names, whole=head.whole), writer, run)
    skip = {entry.id for entry in taken.entries}
    reached = await teller.tell(after=read or 0, until=down.shorter(head.shorter), skip=skip)
    last = UNSET if reached is None else reached
    writer.add(Frame(cursor=last, more=teller.more))
    return Answered(writer.finish(), taken.added, taken.refused)


def names_of(decided: Home) -> dict[str, str]:
    """Give what the crew calls its members, as far as the names stand.

    Example:
        >>> from studbook.wire.exchange import HomeMember
        >>> names_of(Home(members={"m-1": HomeMember("Robin", "crew"), "m-2": HomeMember("", "crew", erased=True)}))
        {'m-1': 'Robin'}
    """
    return {id_: member.name for id_, member in decided.members.items() if member.name}


def echo(asked: bytes) -> bytes:
    """Name a request, so that no answer is taken for another's."""
    return sha256(asked).digest()[:ECHO_BYTES]


@dataclass(slots=True)
class _Taken:
    entries: list[Entry] = field(default_factory=list)
    added: list[Entry] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)


async def _take(book: Book, frames: Sequence[Frame], rebuilder: Rebuilder, gate: Gate, run: Run) -> _Taken:
    taken = _Taken()
    for frame in frames:
        rebuilt = await run(partial(rebuilder.take, frame, await rebuilder.parents(frame, book)))
        found = await gate.admit(rebuilt, book)
        if newcomers := gate.newcomers(found.entries, frame):
            await book.introduce(newcomers, by=gate.via)
        new = await book.append(found.entries)
        taken.entries += found.entries
        taken.added += (entry for entry, fresh in zip(found.entries, new, strict=True) if fresh)
        taken.refused += found.refused
    return taken


async def _read(book: Book, head: Head) -> int | None:
    """Find how far the other has read; None when it speaks of places that this book does not have."""
    for place in (head.stood, head.cursor):
        if place is not UNSET and not await _knows(book, place):
            return None
    return 0 if head.cursor is UNSET else head.cursor.seq


async def _knows(book: Book, place: Cursor) -> bool:
    chain = await book.at(place.seq) if 0 <= place.seq < 2**63 else None
    return chain is not None and chain[:CHAIN_BYTES] == place.chain


class Teller:
    """Writes the entries of a book after a place into a stream, frame by frame.

    Attributes:
        more: whether the bound came before the end.
    """

    def __init__(self, book: Book, composer: Composer, writer: Writer, run: Run) -> None:
        self._book = book
        self._composer = composer
        self._writer = writer
        self._run = run
        self.more = False

    async def tell(self, *, after: int, until: Bounds, skip: Collection[str] = ()) -> Cursor | UnsetType | None:
        """Write what comes after a number, but for the entries to skip.

        Returns:
            How far the book is told now, where no frame says it.
        """
        reached: Cursor | None = None
        told = False
        async for batch in walk(self._book, after):
            for placed in chunks(batch, until.frame_rows):
                if told and until.full(self._writer):
                    self.more = True
                    return reached
                entries = [each.entry for each in placed if each.entry.id not in skip]
                reached = cursor(placed[-1])
                if entries:
                    await self._write(entries, reached)
                    reached, told = None, True
        return reached

    async def _write(self, entries: Sequence[Entry], reached: Cursor) -> None:
        parents = await self._composer.parents(entries, self._book)
        await self._run(lambda: self._writer.add(self._composer.frame(entries, parents, cursor=reached)))


async def walk(book: Book, after: int) -> AsyncIterator[Sequence[Placed]]:
    """Read a book from a number to its end, batch by batch."""
    while batch := await book.since(after, most=_BATCH):
        yield batch
        after = batch[-1].seq
