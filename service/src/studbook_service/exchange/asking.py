"""The asking side of an exchange, which keeps all that is to be remembered.

A session asks until it has read all of the peer's book and told all of ours. What it learns is kept together with the
entries it takes, frame by frame, so a cut costs no more than one frame.

What the peer holds of ours is known in two ways: it acknowledged the entry (`sent`), or the entry came from it
(`floor`). Both hold only while the peer's book still has the places we know of it; when it has lost them (restored from
a backup, moved, cloned) it says so and begins at the start. Then all of its book is read first, and what was not in it
is told again.

Where content was erased on one side, changes of it cannot be read there. Then this side asks for whole documents and
tells whole ones, from there to the session's end.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Final

import msgspec
from msgspec import UNSET

from studbook.wire.exchange import VERSION, Cursor, Frame, Head, Refused
from studbook_service.exchange import erasures
from studbook_service.exchange.admitting import Gate, Terms
from studbook_service.exchange.answering import OtherBook, echo, names_of, walk
from studbook_service.exchange.book import REFUSED_MOST, Book, Entry, Placed, Standing, StandingMoved
from studbook_service.exchange.composing import Composer, chunks
from studbook_service.exchange.frames import DOWN, SHORTER_MOST, UP, BadFrames, Bounds, CutShort, Reader, Writer
from studbook_service.exchange.rebuilding import Rebuilder, fit, names_in, plain
from studbook_service.exchange.running import Run, here

_ANEW_MOST: Final = 3


@dataclass(slots=True)
class Progress:
    """What a session did so far.

    Attributes:
        requests: answered ones.
        sent, received: entries: told to the peer; new here.
        bytes_up, bytes_down: bodies.
        refused: what was not taken, either way.
        split: lines that have several tips now, and not of one document.
    """

    requests: int = 0
    sent: int = 0
    received: int = 0
    bytes_up: int = 0
    bytes_down: int = 0
    refused: list[Refused] = field(default_factory=list)
    split: list[str] = field(default_factory=list)


def via_of(peer: str) -> str:
    """Name who brought an entry that was read from a peer; no member can be called so.

    Example:
        >>> via_of("shop")
        'peer:shop'
    """
    return f"peer:{peer}"


def beginning(end: int) -> Standing:
    """Stand with a peer of whose book nothing is known yet.

    Args:
        end: where our own book stands.
    """
    return Standing(floor=end)


class Session:
    """One exchange with a peer: ask, hear the answer piece by piece, end it; until there is nothing to ask.

    Example::

        session = await Session.begin(book, "shop")
        while (request := await session.ask()) is not None:
            async for data in post(request):
                await session.hear(data)
            await session.end_answer()
    """

    def __init__(
        self,
        book: Book,
        peer: str,
        standing: Standing,
        home: str | None,
        names: Mapping[str, str],
        *,
        run: Run,
        bounds: tuple[Bounds, Bounds],
    ) -> None:
        self._book = book
        self._peer = peer
        self._standing = standing
        self._home = home
        self._names = names
        self._run = run
        self._up, self._down = bounds
        self._seen: set[str] = set()
        self._whole = False
        self._shorter = 0
        self._told_whole = 0
        self._read_all = False
        self._complete = False
        self._anew = 0
        self._lines: set[str] = set()
        self._hearing: _Hearing | None = None
        self.progress = Progress()

    @classmethod
    async def begin(
        cls, book: Book, peer: str, *, run: Run = here, bounds: tuple[Bounds, Bounds] = (UP, DOWN)
    ) -> "Session":
        """Begin where the last exchange with the peer ended."""
        names = names_of(await book.decided())
        return cls(book, peer, await book.standing(peer), await book.home(), names, run=run, bounds=bounds)

    async def ask(self) -> bytes | None:
        """Write the next request, or say that there is nothing more to ask."""
        telling = _Telling(self._standing.sent)
        writer = Writer()
        writer.add(await self._head())
        if self._standing.settled or self._read_all:
            await self._tell(writer, telling)
        if self._complete and not telling.places:
            # What was passed over is held by the peer, so it need not be looked at again.
            self._standing = msgspec.structs.replace(self._standing, sent=telling.upto)
            return None
        body = writer.finish()
        self.progress.bytes_up += len(body)
        self._complete = False
        self._hearing = _Hearing(
            telling,
            echo(body),
            Reader(self._down),
            Rebuilder(via=via_of(self._peer)),
            Gate(via_of(self._peer), Terms(erasures=self._peer == self._home)),
            whole=self._whole,
        )
        return body

    async def hear(self, data: bytes) -> None:
        """Take a piece of the answer; each frame in it is kept by itself.

        Raises:
            BadFrames: this is no answer to the request.
            OtherBook: it comes from another team's book.
            StandingMoved: another exchange with this peer is under way.
        """
        hearing = self._heard()
        self.progress.bytes_down += len(data)
        for frame in hearing.reader.feed(data):
            if isinstance(frame, Head):
                await self._begin_answer(frame, hearing)
            elif hearing.stopped:
                continue
            elif hearing.more is not None:
                raise BadFrames("a frame follows the last one")
            else:
                await self._take(frame, hearing)

    async def end_answer(self) -> None:
        """Note that the answer has come completely.

        Raises:
            CutShort: it has not; what came is kept, and the next request goes on from there.
            BadFrames: the peer says that there is more, and tells nothing.
        """
        hearing, self._hearing = self._heard(), None
        if hearing.stopped:
            self.progress.requests += 1
            return
        if hearing.more is None or not hearing.reader.ended:
            raise CutShort("the answer was cut short")
        if hearing.more and not hearing.moved:
            raise BadFrames("the peer has more to tell and does not tell it")
        self.progress.requests += 1
        self._complete = not hearing.more
        self._read_all |= self._complete

    def shorten(self) -> None:
        """Ask for a quarter from now on: the answer broke off before anything of it came."""
        self._shorter = min(self._shorter + 2, SHORTER_MOST)

    async def finish(self, now: dt.datetime) -> Progress:
        """Keep that all went well, and say what was done."""
        await self._keep((), reached_at=now, failed_at=None, failure="")
        self.progress.split = [line for line in sorted(self._lines) if await self._split(line)]
        return self.progress

    async def _split(self, line: str) -> bool:
        """Say whether a line has several tips that do not hold one document."""
        tips = await self._book.tips(line)
        if len(tips) < 2:
            return False
        found = (await self._book.get(tips)).values()
        return any(each.erased for each in found) or len({each.body for each in found}) > 1

    def _heard(self) -> "_Hearing":
        if self._hearing is None:
            raise CutShort("nothing was asked")
        return self._hearing

    async def _head(self) -> Head:
        standing = self._standing
        beyond = standing.stood and (standing.read is None or standing.stood.seq > standing.read.seq)
        return Head(
            v=VERSION,
            book=await self._book.identity(),
            cursor=standing.read or UNSET,
            stood=(standing.stood or UNSET) if beyond else UNSET,
            whole=self._whole,
            shorter=self._shorter,
            knows=standing.knows if self._peer == self._home else UNSET,
        )

    async def _tell(self, writer: Writer, telling: "_Telling") -> None:
        composer = Composer(self._names, whole=self._whole)
        async for batch in walk(self._book, self._standing.sent):
            for placed in chunks(batch, self._up.frame_rows):
                if self._up.full(writer):
                    return
                entries = [each.entry for each in placed if not self._holds(each)]
                if entries:
                    parents = await composer.parents(entries, self._book)
                    await self._run(partial(_add, writer, composer, entries, parents))
                    telling.places |= {each.entry.id: each.seq for each in placed if not self._holds(each)}
                telling.upto = placed[-1].seq

    def _holds(self, placed: Placed) -> bool:
        """Say whether the peer holds an entry of ours that it did not acknowledge."""
        came_from_it = placed.seq > self._standing.floor and placed.entry.via == via_of(self._peer)
        # Erasures go from home outward; one that home lost is told there, so that it is known to be lost.
        not_for_it = placed.entry.header.kind == erasures.KIND and self._peer != self._home
        return came_from_it or not_for_it or placed.entry.id in self._seen

    async def _begin_answer(self, head: Head, hearing: "_Hearing") -> None:
        if head.to != hearing.echo:
            raise BadFrames("this answers another request")
        if head.book != await self._book.identity():
            raise OtherBook(f"the peer's is book {head.book.hex()}, not {(await self._book.identity()).hex()}")
        if head.anew:
            self._anew += 1
            if self._anew > _ANEW_MOST:
                raise BadFrames("the peer begins at the start again and again")
            self._standing = msgspec.structs.replace(
                self._standing, read=None, stood=head.stood or None, sent=0, floor=await self._book.end()
            )
            self._seen, self._read_all, self._told_whole = set(), False, 0
        else:
            self._receipt(head, hearing.telling)
        if head.home is not UNSET and self._peer == self._home:
            # Cut off before the end of this, nothing must count as known: home may return to what was known before.
            await self._keep((), knows=Standing().knows)
            await self._book.take_home(fit(head.home))
            self._standing = msgspec.structs.replace(self._standing, knows=head.home.digest())

    def _receipt(self, head: Head, telling: "_Telling") -> None:
        """Note what the peer took of what it was told.

        What it refused only because it came as a change of something erased there is told again, whole, and so is all
        that was told after it: most of it follows.
        """
        numbers = {id_[:8]: number for id_, number in telling.places.items()}
        refused = [_fit(each) for each in head.refused if each.id in numbers]
        unread = (numbers[each.id] for each in refused if each.code == "parent_erased")
        until = min((number - 1 for number in unread if number > self._told_whole), default=telling.upto)
        if until < telling.upto:
            self._whole, self._told_whole = True, telling.upto
        self._standing = msgspec.structs.replace(
            self._standing, stood=head.stood or None, sent=max(self._standing.sent, until)
        )
        refused = [each for each in refused if numbers[each.id] <= until]
        self._refuse(refused)
        self.progress.sent += sum(number <= until for number in numbers.values()) - len(refused)

    async def _take(self, frame: Frame, hearing: "_Hearing") -> None:
        rebuilt = await self._run(
            partial(hearing.rebuilder.take, frame, await hearing.rebuilder.parents(frame, self._book))
        )
        if not hearing.whole and any(each.code == "parent_erased" for each in rebuilt.refused):
            self._whole = hearing.stopped = True
            return
        taken = await hearing.gate.admit(rebuilt, self._book)
        if names := names_in(frame):
            await self._book.name(names)
        if not self._standing.settled:
            self._seen.update(taken.ids)
        # With a home elsewhere, an erasure that another node tells of comes from there too.
        self._refuse([each for each in taken.refused if each.code != "not_home" or self._home is None])
        if isinstance(frame.cursor, Cursor):
            before = self._standing.read.seq if self._standing.read else 0
            hearing.moved |= frame.cursor.seq > before
            self._standing = msgspec.structs.replace(self._standing, read=frame.cursor)
        hearing.more = None if frame.more is UNSET else frame.more
        if taken.entries:
            self.progress.received += sum(await self._keep(taken.entries))
        self._lines.update(entry.header.line for entry in taken.entries)

    async def _keep(self, entries: Sequence[Entry], **changed: object) -> Sequence[bool]:
        version = self._standing.version + 1
        self._standing = msgspec.structs.replace(self._standing, version=version, **changed)
        return await self._book.append(entries, peer=self._peer, standing=self._standing)

    def _refuse(self, refused: Sequence[Refused]) -> None:
        self.progress.refused += refused
        named = {each.id for each in refused}
        kept = (*reversed(refused), *(each for each in self._standing.refused if each.id not in named))
        self._standing = msgspec.structs.replace(self._standing, refused=kept[:REFUSED_MOST])


@dataclass(slots=True)
class _Telling:
    """What a request tells: entries by id with their numbers, and up to which number of ours."""

    upto: int
    places: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class _Hearing:
    """An answer under way.

    Attributes:
        whole: whole documents were asked for.
        moved: it told something.
        more: whether there is more to ask for, once it said so.
        stopped: the rest is asked for again, in whole documents.
    """

    telling: _Telling
    echo: bytes
    reader: Reader
    rebuilder: Rebuilder
    gate: Gate
    whole: bool
    moved: bool = False
    more: bool | None = None
    stopped: bool = False


def _fit(refused: Refused) -> Refused:
    """Make what a peer says of a refusal fit to be shown."""
    return Refused(
        id=refused.id,
        line=plain(refused.line, 400),
        code=plain(refused.code, 40),
        detail=plain(refused.detail),
    )


def _add(writer: Writer, composer: Composer, entries: Sequence[Entry], parents: Mapping[str, Entry]) -> None:
    writer.add(composer.frame(entries, parents))


async def note_failure(book: Book, peer: str, now: dt.datetime, why: str) -> None:
    """Keep that an exchange failed, beside what it achieved; if another is under way, that one tells."""
    standing = await book.standing(peer)
    changed = msgspec.structs.replace(standing, version=standing.version + 1, failed_at=now, failure=why[:200])
    with suppress(StandingMoved):
        await book.append((), peer=peer, standing=changed)
