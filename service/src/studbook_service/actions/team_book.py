"""A team's book in the store, as the exchange sees a book."""

from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from typing import Final
from uuid import UUID

import msgspec

from studbook.history.canonical import encode
from studbook.history.ids import Header
from studbook.wire.access import Role
from studbook.wire.exchange import Home, HomeMember
from studbook_service import store
from studbook_service.exchange.book import ExchangedEntry, NumberedEntry, PeerState, PeerStateMoved, UnknownParent
from studbook_service.store import MemberExists, MemberRow, NewEntry, ParentNotFound, PeerMoved

NEWCOMER: Final[Role] = "crew"
"""What the author of an entry is who was never a member: somebody of whom nothing is known but the entries."""


class TeamBook:
    """One team's book.

    Args:
        books: the books of all teams.
        team: whose.

    Example::

        await respond(TeamBook(context.book, bearer.team), body, via=bearer.member)
    """

    def __init__(self, books: store.BookStore, team: UUID) -> None:
        self._books = books
        self._team = team

    async def identity(self) -> bytes:
        """Give the 8 bytes that tell this book from other teams'."""
        return (await self._books.team_head(self._team)).book

    async def end(self) -> int:
        """Give the number of the last entry, 0 for none."""
        return (await self._books.team_head(self._team)).seq

    async def at(self, seq: int) -> bytes | None:
        """Give the chain at a number, 32 zero bytes at 0; None beyond the end."""
        return bytes(32) if seq == 0 else await self._books.peers.chain_at(self._team, seq)

    async def since(self, seq: int, *, most: int) -> Sequence[NumberedEntry]:
        """Read entries after a number, in order."""
        read = await self._books.peers.since(self._team, seq, limit=most)
        return [NumberedEntry(each.seq, each.chain, _out(each.entry)) for each in read]

    async def has(self, ids: Collection[str]) -> Mapping[str, tuple[str, str]]:
        """Give line and kind of those entries that are here."""
        found = await self._books.peers.places(self._team, [bytes.fromhex(id_) for id_ in ids])
        return {id_.hex(): place for id_, place in found.items()}

    async def get(self, ids: Collection[str]) -> Mapping[str, ExchangedEntry]:
        """Read those entries that are here."""
        found = await self._books.several(self._team, [bytes.fromhex(id_) for id_ in ids])
        return {each.id.hex(): _out(each) for each in found}

    async def tips(self, line: str) -> Sequence[str]:
        """Name the tips of a line, sorted."""
        return [tip.id.hex() for tip in await self._books.tips(self._team, line)]

    async def append(
        self, entries: Sequence[ExchangedEntry], *, peer: str | None = None, state: PeerState | None = None
    ) -> Sequence[bool]:
        """Add entries, carry out erasures among them, and keep the state of a peer: all or nothing."""
        new = [entry_in(entry) for entry in entries]
        try:
            if peer is None or state is None:
                added = await self._books.append(self._team, new, apply_erasures=True) if new else []
            else:
                kept = msgspec.json.encode(state)
                added = await self._books.peers.receive(
                    self._team, new, peer=peer, version=state.version, state=kept, apply_erasures=True
                )
        except PeerMoved as error:
            raise PeerStateMoved(str(error)) from error
        except ParentNotFound as error:
            raise UnknownParent(str(error)) from error
        return [each.added for each in added]

    async def peer_state(self, peer: str) -> PeerState:
        """Give the state of a peer; of an unknown one, the state of a new peer."""
        for each in await self._books.peers.list(self._team):
            if each.name == peer:
                return read_peer_state(each)
        return PeerState()

    async def name(self, names: Mapping[str, str]) -> None:
        """Keep what another node calls authors whom nobody here knows."""
        if unknown := await self._unknown(names):
            await self._books.peers.name_members(self._team, unknown)

    async def introduce(self, names: Mapping[str, str], *, by: str) -> None:
        """Let authors be members, at home: crew without a token here, so that they go on recording on their laptop."""
        for id_, name in (await self._unknown(names)).items():
            event = store.audit_event(actor=by, action="member.add", subject=id_, role=NEWCOMER)
            with suppress(MemberExists):  # another request brought this author meanwhile
                await self._books.access.add_member(self._team, MemberRow(id_, name, NEWCOMER), audit=event)

    async def _unknown(self, names: Mapping[str, str]) -> dict[str, str]:
        known = {member.id for member in await self._books.access.members(self._team)}
        return {id_: name for id_, name in names.items() if id_ not in known}

    async def home(self) -> str | None:
        """Name the peer that is the book's home, None when that is here."""
        return await self._books.access.home(self._team)

    async def decided(self) -> Home:
        """Give what is decided at the book's home, as far as it is known here."""
        members = await self._books.access.members(self._team)
        return Home(
            members={each.id: HomeMember(each.name, _role(each), each.ended, each.erased) for each in members},
            protected=sorted(await self._books.access.protected(self._team)),
        )

    async def take_home(self, home: Home) -> None:
        """Keep what is decided at the book's home."""
        members = [MemberRow(id_, each.name, each.role, each.ended, each.erased) for id_, each in home.members.items()]
        await self._books.access.take_home(self._team, members, home.protected)


def _role(member: MemberRow) -> Role:
    role: Role = msgspec.convert(member.role, Role)
    return role


def read_peer_state(peer: store.PeerRow) -> PeerState:
    """Read what is kept about a peer."""
    return msgspec.structs.replace(msgspec.json.decode(peer.state, type=PeerState), version=peer.version)


def _out(entry: NewEntry | store.StoredEntry) -> ExchangedEntry:
    header = Header(
        kind=entry.kind,
        line=entry.line,
        parents=tuple(parent.hex() for parent in entry.parents),
        author=entry.author,
        at=entry.at_ms,
        content=entry.content.hex(),
        carried_from=None if entry.carried_from is None else msgspec.json.decode(entry.carried_from, type=str),
    )
    return ExchangedEntry(id=entry.id.hex(), header=header, note=entry.note or "", body=entry.body, via=entry.via)


def entry_in(entry: ExchangedEntry) -> NewEntry:
    """Spell an entry as the store takes it."""
    header = entry.header
    return NewEntry(
        id=bytes.fromhex(entry.id),
        kind=header.kind,
        line=header.line,
        parents=tuple(bytes.fromhex(parent) for parent in sorted(header.parents)),
        content=bytes.fromhex(header.content),
        note=entry.note,
        body=entry.body,
        author=header.author,
        at_ms=header.at,
        carried_from=None if header.carried_from is None else encode(header.carried_from),
        via=entry.via,
    )
