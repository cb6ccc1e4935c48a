"""A book in a file: the frames of an exchange from the start, with no responder."""

from collections.abc import Awaitable, Callable, Iterable
from functools import partial

from studbook.wire.exchange import VERSION, Head, Refused
from studbook_service.exchange.admission import AdmissionRules, Gate
from studbook_service.exchange.book import ExchangeBook, OtherBook
from studbook_service.exchange.composing import Composer, chunks, cursor
from studbook_service.exchange.frames import FILE, CutShort, Reader, Writer
from studbook_service.exchange.rebuilding import Rebuilder, author_names
from studbook_service.exchange.responder import read_batches
from studbook_service.exchange.running import Runner, run_here

VIA = "file"


async def write_book_file(
    book: ExchangeBook, names: dict[str, str], write: Callable[[bytes], object], *, run: Runner = run_here
) -> int:
    """Write a whole book.

    Args:
        book: which.
        names: the members' names by their ids.
        write: takes the bytes, piece by piece.
        run: runs the long computations.

    Returns:
        How many entries were written.
    """
    writer, composer, count = Writer(), Composer(names), 0
    writer.add(Head(v=VERSION, book=await book.identity()))
    async for batch in read_batches(book, 0):
        for numbered in chunks(batch, FILE.frame_rows):
            entries = [each.entry for each in numbered]
            parents = await composer.parents(entries, book)
            frame = await run(partial(composer.frame, entries, parents, cursor=cursor(numbered[-1])))
            writer.add(frame)
            count += len(entries)
        write(writer.take())
    write(writer.finish())
    return count


async def read_book_file(
    book: ExchangeBook, pieces: Iterable[bytes], *, adopt: Callable[[bytes], Awaitable[bool]], run: Runner = run_here
) -> tuple[int, list[Refused]]:
    """Take the book in a file into another; what is there already is passed over.

    Args:
        book: which takes it.
        pieces: the bytes.
        adopt: gives the book the identity of the one in the file, where it may; says whether it has it now.
        run: runs the long computations.

    Returns:
        How many entries are new, and which were refused.

    Raises:
        OtherVersion: it was written before Studbook 0.2; nothing was taken.
        BadFrames: it holds no book, or it was damaged; the frames before the damage were taken.
        CutShort: it was cut short; the frames before the cut were taken.
        OtherBook: it holds another team's book; nothing was taken.
    """
    reader, rebuilder = Reader(FILE), Rebuilder(via=VIA)
    # An empty book takes erasures from a file too; any other only from its home.
    gate = Gate(VIA, AdmissionRules(erasures=await book.end() == 0))
    added, refused = 0, list[Refused]()
    for piece in pieces:
        for frame in reader.feed(piece):
            if isinstance(frame, Head):
                if frame.book != await book.identity() and not await adopt(frame.book):
                    raise OtherBook("the file holds another team's book")
                continue
            rebuilt = await run(partial(rebuilder.rebuild, frame, await rebuilder.parents(frame, book)))
            admitted = await gate.admit(rebuilt, book)
            if names := author_names(frame):
                await book.name(names)
            added += sum(await book.append(admitted.entries))
            refused += admitted.refused
    if not reader.ended:
        raise CutShort("the file was cut short: write it again")
    return added, refused
