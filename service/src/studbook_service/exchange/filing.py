"""A book in a file: the frames of an exchange from the start, with nobody at the other end."""

from collections.abc import Awaitable, Callable, Iterable
from functools import partial

from studbook.wire.exchange import VERSION, Head, Refused
from studbook_service.exchange.admitting import Gate, Terms
from studbook_service.exchange.answering import OtherBook, walk
from studbook_service.exchange.book import Book
from studbook_service.exchange.composing import Composer, chunks, cursor
from studbook_service.exchange.frames import FILE, CutShort, Reader, Writer
from studbook_service.exchange.rebuilding import Rebuilder, names_in
from studbook_service.exchange.running import Run, here

VIA = "file"


async def save(book: Book, names: dict[str, str], write: Callable[[bytes], object], *, run: Run = here) -> int:
    """Write a whole book.

    Args:
        book: which.
        names: what the crew calls its members.
        write: takes the bytes, piece by piece.
        run: does the long computations.

    Returns:
        How many entries were written.
    """
    writer, composer, count = Writer(), Composer(names), 0
    writer.add(Head(v=VERSION, book=await book.identity()))
    async for batch in walk(book, 0):
        for placed in chunks(batch, FILE.frame_rows):
            entries = [each.entry for each in placed]
            parents = await composer.parents(entries, book)
            frame = await run(partial(composer.frame, entries, parents, cursor=cursor(placed[-1])))
            writer.add(frame)
            count += len(entries)
        write(writer.take())
    write(writer.finish())
    return count


async def load(
    book: Book, pieces: Iterable[bytes], *, adopt: Callable[[bytes], Awaitable[bool]], run: Run = here
) -> tuple[int, list[Refused]]:
    """Take a saved book into one; what is there already is passed over.

    Args:
        book: which takes it.
        pieces: the bytes.
        adopt: makes the book one with the saved one of another identity, if it may be; says whether it is now.
        run: does the long computations.

    Returns:
        How many entries are new, and which were refused.

    Raises:
        BadFrames: it is no saved book, or it was damaged; the frames before the damage were taken.
        CutShort: it ends before its end; what is there was taken.
        OtherBook: it is another team's.
    """
    reader, rebuilder = Reader(FILE), Rebuilder(via=VIA)
    # Into an empty book it brings all that was decided; else content is erased only where that is decided.
    gate = Gate(VIA, Terms(erasures=await book.end() == 0))
    added, refused = 0, list[Refused]()
    for piece in pieces:
        for frame in reader.feed(piece):
            if isinstance(frame, Head):
                if frame.book != await book.identity() and not await adopt(frame.book):
                    raise OtherBook("the file holds another team's book")
                continue
            rebuilt = await run(partial(rebuilder.take, frame, await rebuilder.parents(frame, book)))
            taken = await gate.admit(rebuilt, book)
            if names := names_in(frame):
                await book.name(names)
            added += sum(await book.append(taken.entries))
            refused += taken.refused
    if not reader.ended:
        raise CutShort("the file ends before its end")
    return added, refused
