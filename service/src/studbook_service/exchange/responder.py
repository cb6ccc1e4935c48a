"""The responder of an exchange: it takes what a request brings, sends what the initiator lacks, and keeps no state.

Rules:
    A request is read completely before anything of it is kept; then each of its frames is kept by itself.
    A request names how far the initiator has read (`cursor`) and, beyond that, where this book ended when it last took
        entries (`end`). A book restored to a moment between the two would else keep a good cursor and lose what it had
        acknowledged. The simulation finds the loss when either place is left out.
    Where this book lacks one of these places, nothing of the request is taken and the response begins at the start
        (`restart`): the initiator sends all again after it has read this book.
    A response names its request by hash, so a late or cached response acknowledges nothing.
    A response is composed whole before its first byte, which takes seconds for thousands of entries on a slow machine;
        an initiator to which nothing came of one asks for a shorter one (`shorter`).
"""

from collections.abc import AsyncIterator, Collection, Sequence
from dataclasses import dataclass, field
from functools import partial
from hashlib import sha256
from typing import Final

from msgspec import UNSET

from studbook.wire.exchange import VERSION, Cursor, Frame, Head, Home, Refused
from studbook_service.exchange.admission import ANYTHING, AdmissionRules, Gate
from studbook_service.exchange.book import CHAIN_BYTES, ExchangeBook, ExchangedEntry, NumberedEntry, OtherBook
from studbook_service.exchange.composing import Composer, chunks, cursor
from studbook_service.exchange.frames import DOWN, UP, Bounds, Writer, whole
from studbook_service.exchange.rebuilding import Rebuilder
from studbook_service.exchange.running import Runner, run_here

HASH_BYTES: Final = 8
_BATCH: Final = 256
_REFUSED_MOST: Final = 1000


@dataclass(frozen=True, slots=True)
class ExchangeResponse:
    """A response, and what its request brought.

    Attributes:
        body: the stream.
        added: entries that are new here.
        refused: entries that were not taken.
    """

    body: bytes
    added: list[ExchangedEntry] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)


async def respond(
    book: ExchangeBook,
    request: bytes,
    *,
    via: str,
    rules: AdmissionRules = ANYTHING,
    bounds: tuple[Bounds, Bounds] = (UP, DOWN),
    run: Runner = run_here,
) -> ExchangeResponse:
    """Respond to one request.

    Args:
        book: ours.
        request: its body.
        via: who brings it, kept with its entries.
        rules: what they may bring.
        bounds: of the request and of the response.
        run: runs the long computations.

    Raises:
        BadFrames: the request cannot be read; nothing was kept.
        OtherBook: it comes from another team's book; nothing was kept.
    """
    up, down = bounds
    head, frames = await run(partial(whole, request, up))
    identity = await book.identity()
    if head.book != identity and (head.book or frames):
        raise OtherBook(f"this is book {identity.hex()}, not {head.book.hex() or 'any'}")
    read = await _read_place(book, head)
    frames = [] if read is None else frames
    taken = await _take(book, frames, Rebuilder(via=via), Gate(via, rules), run)
    writer = Writer()
    end, at_home = await book.end(), await book.home() is None
    decided = await book.decided() if head.book else Home()
    writer.add(
        Head(
            v=VERSION,
            book=identity,
            end=Cursor(end, (await book.at(end) or b"")[:CHAIN_BYTES]),
            to=request_hash(request),
            restart=read is None,
            refused=taken.refused[:_REFUSED_MOST],
            at_home=at_home,
            home=decided if at_home and head.knows not in {UNSET, decided.digest()} else UNSET,
        )
    )
    if not head.book:
        writer.add(Frame(more=True))
        return ExchangeResponse(writer.finish())
    # What home decides is whole in the head; another node sends only the names of the authors of entries.
    names = {} if at_home else member_names(decided)
    sender = EntryWriter(book, Composer(names, whole=head.whole), writer, run)
    skip = {entry.id for entry in taken.entries}
    reached = await sender.write(after=read or 0, until=down.shorter(head.shorter), skip=skip)
    writer.add(Frame(cursor=UNSET if reached is None else reached, more=sender.more))
    return ExchangeResponse(writer.finish(), taken.added, taken.refused)


def member_names(decided: Home) -> dict[str, str]:
    """Give the members' names by their ids; none of a member whose name was erased.

    Example:
        >>> from studbook.wire.exchange import HomeMember
        >>> member_names(Home(members={"m-1": HomeMember("Robin", "crew"), "m-2": HomeMember("", "crew", erased=True)}))
        {'m-1': 'Robin'}
    """
    return {id_: member.name for id_, member in decided.members.items() if member.name}


def request_hash(request: bytes) -> bytes:
    """Name a request, so that no response is taken for another request's."""
    return sha256(request).digest()[:HASH_BYTES]


@dataclass(slots=True)
class _TakenEntries:
    entries: list[ExchangedEntry] = field(default_factory=list)
    added: list[ExchangedEntry] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)


async def _take(
    book: ExchangeBook, frames: Sequence[Frame], rebuilder: Rebuilder, gate: Gate, run: Runner
) -> _TakenEntries:
    taken = _TakenEntries()
    for frame in frames:
        rebuilt = await run(partial(rebuilder.rebuild, frame, await rebuilder.parents(frame, book)))
        admitted = await gate.admit(rebuilt, book)
        if newcomers := gate.newcomers(admitted.entries, frame):
            await book.introduce(newcomers, by=gate.via)
        new = await book.append(admitted.entries)
        taken.entries += admitted.entries
        taken.added += (entry for entry, fresh in zip(admitted.entries, new, strict=True) if fresh)
        taken.refused += admitted.refused
    return taken


async def _read_place(book: ExchangeBook, head: Head) -> int | None:
    """Find how far the initiator has read; None where it names a place that this book lacks."""
    for place in (head.end, head.cursor):
        if place is not UNSET and not await _has_place(book, place):
            return None
    return 0 if head.cursor is UNSET else head.cursor.seq


async def _has_place(book: ExchangeBook, place: Cursor) -> bool:
    chain = await book.at(place.seq) if 0 <= place.seq < 2**63 else None
    return chain is not None and chain[:CHAIN_BYTES] == place.chain


class EntryWriter:
    """Writes the entries of a book after a place into a stream, frame by frame.

    Attributes:
        more: whether the bound came before the end.
    """

    def __init__(self, book: ExchangeBook, composer: Composer, writer: Writer, run: Runner) -> None:
        self._book = book
        self._composer = composer
        self._writer = writer
        self._run = run
        self.more = False

    async def write(self, *, after: int, until: Bounds, skip: Collection[str] = ()) -> Cursor | None:
        """Write what comes after a number, but for the entries to skip.

        Returns:
            How far the book is sent now, where no frame says it.
        """
        reached: Cursor | None = None
        written = False
        async for batch in read_batches(self._book, after):
            for numbered in chunks(batch, until.frame_rows):
                if written and until.full(self._writer):
                    self.more = True
                    return reached
                entries = [each.entry for each in numbered if each.entry.id not in skip]
                reached = cursor(numbered[-1])
                if entries:
                    await self._write_frame(entries, reached)
                    reached, written = None, True
        return reached

    async def _write_frame(self, entries: Sequence[ExchangedEntry], reached: Cursor) -> None:
        parents = await self._composer.parents(entries, self._book)
        await self._run(lambda: self._writer.add(self._composer.frame(entries, parents, cursor=reached)))


async def read_batches(book: ExchangeBook, after: int) -> AsyncIterator[Sequence[NumberedEntry]]:
    """Read a book from a number to its end, batch by batch."""
    while batch := await book.since(after, most=_BATCH):
        yield batch
        after = batch[-1].seq
