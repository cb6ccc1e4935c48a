"""The initiator of an exchange: it sends requests, and keeps all that is to be remembered.

Rules:
    A session goes on until it has read all of the peer's book and the peer has all of this one. What it learns is kept
        together with the entries it takes, frame by frame, so a cut costs one frame at most.
    The peer has an entry that it acknowledged (`sent`) or that came from it (`floor`). Both hold only while its book
        has the places known of it. When it has lost them (restored from a backup, moved, cloned), it says `restart`:
        then all of its book is read first, and what was not in it is sent again.
    Where content was erased on one side, changes of it cannot be rebuilt there. Then the session goes on in whole
        documents, both ways, so nothing recorded meanwhile on an erased entry is lost.
    Where a response broke off with nothing of it come, the next request asks for a quarter (`shorter`), down to a 64th,
        for the rest of the session.
    Only the book's home is believed about members and protection, and only it has content erased here.
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
from studbook_service.exchange.admission import AdmissionRules, Gate
from studbook_service.exchange.book import (
    REFUSED_MOST,
    ExchangeBook,
    ExchangedEntry,
    NumberedEntry,
    OtherBook,
    PeerState,
    PeerStateMoved,
)
from studbook_service.exchange.composing import Composer, chunks
from studbook_service.exchange.frames import DOWN, SHORTER_MOST, UP, BadFrames, Bounds, CutShort, Reader, Writer
from studbook_service.exchange.rebuilding import Rebuilder, author_names, clean_home, printable
from studbook_service.exchange.responder import member_names, read_batches, request_hash
from studbook_service.exchange.running import Runner, run_here

_RESTARTS_MOST: Final = 3


@dataclass(slots=True)
class Progress:
    """What a session did so far.

    Attributes:
        requests: those responded to.
        sent, received: entries: that the peer took; that are new here.
        bytes_up, bytes_down: of the bodies.
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


def peer_via(peer: str) -> str:
    """Name who brought an entry that was read from a peer; no member can be called so.

    Example:
        >>> peer_via("shop")
        'peer:shop'
    """
    return f"peer:{peer}"


def new_peer_state(end: int) -> PeerState:
    """Give the state of a peer of whose book nothing is known yet.

    Args:
        end: number of the last entry here.
    """
    return PeerState(floor=end)


class Session:
    """One exchange with a peer: write a request, receive the response piece by piece, end it, until nothing is left.

    Example::

        session = await Session.begin(book, "shop")
        while (request := await session.next_request()) is not None:
            async for data in post(request):
                await session.receive(data)
            await session.end_response()
    """

    def __init__(
        self,
        book: ExchangeBook,
        peer: str,
        state: PeerState,
        home: str | None,
        names: Mapping[str, str],
        *,
        run: Runner,
        bounds: tuple[Bounds, Bounds],
    ) -> None:
        self._book = book
        self._peer = peer
        self._state = state
        self._home = home
        self._names = names
        self._run = run
        self._up, self._down = bounds
        self._seen: set[str] = set()
        self._whole = False
        self._shorter = 0
        self._sent_whole = 0
        self._read_all = False
        self._complete = False
        self._restarts = 0
        self._lines: set[str] = set()
        self._response: _OpenResponse | None = None
        self.progress = Progress()

    @classmethod
    async def begin(
        cls, book: ExchangeBook, peer: str, *, run: Runner = run_here, bounds: tuple[Bounds, Bounds] = (UP, DOWN)
    ) -> "Session":
        """Begin where the last exchange with the peer ended."""
        names = member_names(await book.decided())
        return cls(book, peer, await book.peer_state(peer), await book.home(), names, run=run, bounds=bounds)

    async def next_request(self) -> bytes | None:
        """Write the next request; None when nothing is left to send or to ask for."""
        sent = _SentEntries(self._state.sent)
        writer = Writer()
        writer.add(await self._head())
        if self._state.settled or self._read_all:
            await self._write_entries(writer, sent)
        if self._complete and not sent.numbers:
            # The peer has what was passed over, so it need not be looked at again.
            self._state = msgspec.structs.replace(self._state, sent=sent.upto)
            return None
        body = writer.finish()
        self.progress.bytes_up += len(body)
        self._complete = False
        self._response = _OpenResponse(
            sent,
            request_hash(body),
            Reader(self._down),
            Rebuilder(via=peer_via(self._peer)),
            Gate(peer_via(self._peer), AdmissionRules(erasures=self._peer == self._home)),
            whole=self._whole,
        )
        return body

    async def receive(self, data: bytes) -> None:
        """Take a piece of the response; each frame in it is kept by itself.

        Raises:
            BadFrames: this is no response to the request.
            OtherBook: it comes from another team's book.
            PeerStateMoved: another exchange with this peer is under way.
        """
        response = self._open_response()
        self.progress.bytes_down += len(data)
        for frame in response.reader.feed(data):
            if isinstance(frame, Head):
                await self._take_head(frame, response)
            elif response.stopped:
                continue
            elif response.more is not None:
                raise BadFrames("a frame follows the last one")
            else:
                await self._take(frame, response)

    async def end_response(self) -> None:
        """Note that the response has come completely.

        Raises:
            CutShort: it has not; what came is kept, and the next request goes on from there.
            BadFrames: the peer says that there is more, and sends nothing.
        """
        response, self._response = self._open_response(), None
        if response.stopped:
            self.progress.requests += 1
            return
        if response.more is None or not response.reader.ended:
            raise CutShort("the answer was cut short")
        if response.more and not response.moved:
            raise BadFrames("the peer has more to send and does not send it")
        self.progress.requests += 1
        self._complete = not response.more
        self._read_all |= self._complete

    def shorten(self) -> None:
        """Ask for a quarter from now on: the response broke off before anything of it came."""
        self._shorter = min(self._shorter + 2, SHORTER_MOST)

    async def finish(self, now: dt.datetime) -> Progress:
        """Keep that all went well, and give what was done."""
        await self._keep((), reached_at=now, failed_at=None, failure="")
        self.progress.split = [line for line in sorted(self._lines) if await self._is_split(line)]
        return self.progress

    async def _is_split(self, line: str) -> bool:
        """Whether a line has several tips that do not hold one document."""
        tips = await self._book.tips(line)
        if len(tips) < 2:
            return False
        found = (await self._book.get(tips)).values()
        return any(each.erased for each in found) or len({each.body for each in found}) > 1

    def _open_response(self) -> "_OpenResponse":
        if self._response is None:
            raise CutShort("no request is open")
        return self._response

    async def _head(self) -> Head:
        state = self._state
        beyond = state.end and (state.read is None or state.end.seq > state.read.seq)
        return Head(
            v=VERSION,
            book=await self._book.identity(),
            cursor=state.read or UNSET,
            end=(state.end or UNSET) if beyond else UNSET,
            whole=self._whole,
            shorter=self._shorter,
            knows=state.knows if self._peer == self._home else UNSET,
        )

    async def _write_entries(self, writer: Writer, sent: "_SentEntries") -> None:
        composer = Composer(self._names, whole=self._whole)
        async for batch in read_batches(self._book, self._state.sent):
            for numbered in chunks(batch, self._up.frame_rows):
                if self._up.full(writer):
                    return
                lacking = [each for each in numbered if not self._peer_has(each)]
                if lacking:
                    entries = [each.entry for each in lacking]
                    parents = await composer.parents(entries, self._book)
                    await self._run(partial(_add_frame, writer, composer, entries, parents))
                    sent.numbers |= {each.entry.id: each.seq for each in lacking}
                sent.upto = numbered[-1].seq

    def _peer_has(self, numbered: NumberedEntry) -> bool:
        """Whether the peer has an entry that it did not acknowledge, or is not to get it."""
        came_from_it = numbered.seq > self._state.floor and numbered.entry.via == peer_via(self._peer)
        # Erasures go from home outward. One that the home lost is sent there, so that it is known to be lost.
        not_for_it = numbered.entry.header.kind == erasures.KIND and self._peer != self._home
        return came_from_it or not_for_it or numbered.entry.id in self._seen

    async def _take_head(self, head: Head, response: "_OpenResponse") -> None:
        if head.to != response.request_hash:
            raise BadFrames("this answers another request")
        if head.book != await self._book.identity():
            raise OtherBook(f"the peer's is book {head.book.hex()}, not {(await self._book.identity()).hex()}")
        if head.restart:
            self._restarts += 1
            if self._restarts > _RESTARTS_MOST:
                raise BadFrames("the peer begins at the start again and again")
            self._state = msgspec.structs.replace(
                self._state, read=None, end=head.end or None, sent=0, floor=await self._book.end()
            )
            self._seen, self._read_all, self._sent_whole = set(), False, 0
        else:
            self._take_receipt(head, response.sent)
        if head.home is not UNSET and self._peer == self._home:
            # Should this be cut off, nothing may count as known: the home may return to what was known before.
            await self._keep((), knows=PeerState().knows)
            await self._book.take_home(clean_home(head.home))
            self._state = msgspec.structs.replace(self._state, knows=head.home.digest())

    def _take_receipt(self, head: Head, sent: "_SentEntries") -> None:
        """Note what the peer took of what was sent.

        What it refused only because it came as a change of something erased there is sent again, whole. So is all that
        was sent after it: most of it follows.
        """
        numbers = {id_[:8]: number for id_, number in sent.numbers.items()}
        refused = [_printable_refusal(each) for each in head.refused if each.id in numbers]
        unread = (numbers[each.id] for each in refused if each.code == "parent_erased")
        until = min((number - 1 for number in unread if number > self._sent_whole), default=sent.upto)
        if until < sent.upto:
            self._whole, self._sent_whole = True, sent.upto
        self._state = msgspec.structs.replace(self._state, end=head.end or None, sent=max(self._state.sent, until))
        refused = [each for each in refused if numbers[each.id] <= until]
        self._note_refused(refused)
        self.progress.sent += sum(number <= until for number in numbers.values()) - len(refused)

    async def _take(self, frame: Frame, response: "_OpenResponse") -> None:
        rebuilder = response.rebuilder
        rebuilt = await self._run(partial(rebuilder.rebuild, frame, await rebuilder.parents(frame, self._book)))
        if not response.whole and any(each.code == "parent_erased" for each in rebuilt.refused):
            self._whole = response.stopped = True
            return
        admitted = await response.gate.admit(rebuilt, self._book)
        if names := author_names(frame):
            await self._book.name(names)
        if not self._state.settled:
            self._seen.update(admitted.ids)
        # With a home elsewhere, an erasure that another node sends comes from there too.
        self._note_refused([each for each in admitted.refused if each.code != "not_home" or self._home is None])
        if isinstance(frame.cursor, Cursor):
            before = self._state.read.seq if self._state.read else 0
            response.moved |= frame.cursor.seq > before
            self._state = msgspec.structs.replace(self._state, read=frame.cursor)
        response.more = None if frame.more is UNSET else frame.more
        if admitted.entries:
            self.progress.received += sum(await self._keep(admitted.entries))
        self._lines.update(entry.header.line for entry in admitted.entries)

    async def _keep(self, entries: Sequence[ExchangedEntry], **changed: object) -> Sequence[bool]:
        self._state = msgspec.structs.replace(self._state, version=self._state.version + 1, **changed)
        return await self._book.append(entries, peer=self._peer, state=self._state)

    def _note_refused(self, refused: Sequence[Refused]) -> None:
        self.progress.refused += refused
        named = {each.id for each in refused}
        kept = (*reversed(refused), *(each for each in self._state.refused if each.id not in named))
        self._state = msgspec.structs.replace(self._state, refused=kept[:REFUSED_MOST])


@dataclass(slots=True)
class _SentEntries:
    """What a request sends: up to which number of this book, and the numbers of the entries by id."""

    upto: int
    numbers: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class _OpenResponse:
    """A response under way.

    Attributes:
        sent: what its request sent.
        whole: whole documents were requested.
        moved: it brought something.
        more: whether there is more to request, once the responder wrote so.
        stopped: the rest is requested again, in whole documents.
    """

    sent: _SentEntries
    request_hash: bytes
    reader: Reader
    rebuilder: Rebuilder
    gate: Gate
    whole: bool
    moved: bool = False
    more: bool | None = None
    stopped: bool = False


def _printable_refusal(refused: Refused) -> Refused:
    return Refused(
        id=refused.id,
        line=printable(refused.line, 400),
        code=printable(refused.code, 40),
        detail=printable(refused.detail),
    )


def _add_frame(
    writer: Writer, composer: Composer, entries: Sequence[ExchangedEntry], parents: Mapping[str, ExchangedEntry]
) -> None:
    writer.add(composer.frame(entries, parents))


async def note_failure(book: ExchangeBook, peer: str, now: dt.datetime, why: str) -> None:
    """Keep that an exchange failed, beside what it achieved; if another is under way, that one reports."""
    state = await book.peer_state(peer)
    changed = msgspec.structs.replace(state, version=state.version + 1, failed_at=now, failure=why[:200])
    with suppress(PeerStateMoved):
        await book.append((), peer=peer, state=changed)
