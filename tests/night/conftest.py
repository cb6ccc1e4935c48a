"""Three nodes of one team, the shop and two laptops, as the actions see them. All numbers are invented."""

import datetime as dt
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from typing import Any

import msgspec
import pytest

from exchange.wire import exchange
from studbook.history.canonical import Tree
from studbook.wire.entries import Edit, NewCar, NewRevision
from studbook.wire.operations.records import list_of
from studbook.wire.records import KINDS, NewRecord, Record, RecordChange
from studbook.wire.shelf import Shelf, ShelfQuery
from studbook_service.actions import cars, records, revisions, shelf
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.entries import Precondition
from studbook_service.actions.team_book import TeamBook
from studbook_service.exchange.initiator import new_peer_state
from studbook_service.store import Bearer, audit_event, found_team, open_book


@dataclass
class Node:
    """One node and who works there."""

    context: Context
    bearer: Bearer

    @property
    def book(self) -> TeamBook:
        """The book, as the exchange sees it."""
        return TeamBook(self.context.book, self.bearer.team)

    async def enter(self, kind: str, name: str, /, **document: Any) -> Record:
        """Enter a record."""
        wanted = NewRecord(name=name, document=document)
        made = await records.add_record(self.context, self.bearer, KINDS[kind], wanted, Precondition(new=True))
        assert made.now
        record: Record = made.answer
        return record

    async def read(self, kind: str, name: str) -> Record:
        """Read a record."""
        return await records.read_record(self.context, self.bearer, KINDS[kind], name)

    async def listed(self, kind: str, **wanted: str) -> list[Record]:
        """List records."""
        page = list_of(KINDS[kind])(limit=200, **wanted)
        return (await records.list_records(self.context, self.bearer, KINDS[kind], page)).items

    async def correct(self, record: Record, *, note: str = "", **edits: Any) -> Record:
        """Correct or settle a record as it was seen."""
        wanted = RecordChange(edits=[Edit(path=path, value=value) for path, value in edits.items()], note=note)
        precondition = Precondition(tags=frozenset({record.tag}))
        kind = KINDS[record.kind]
        corrected = await records.change_record(self.context, self.bearer, kind, record.name, wanted, precondition)
        shown: Record = corrected.answer
        return shown

    async def push(self, car: str, sheet: str, *, at: dt.datetime) -> str:
        """Push the first revision of a sheet; gives its id."""
        wanted = NewRevision(document={"notes": "tacky"}, at=at)
        new = Precondition(new=True)
        return (await revisions.push_revision(self.context, self.bearer, car, sheet, wanted, new)).made

    async def shelf(self, **asked: Any) -> Shelf:
        """Say how the parts stand."""
        return await shelf.read_shelf(self.context, self.bearer, ShelfQuery(**asked))

    async def meet(self, shop: "Node") -> None:
        """Exchange with the shop."""
        await exchange(self.book, shop.book, via=self.bearer.member)

    async def held(self) -> Mapping[str, Tree]:
        """Every entry's document by id."""
        return {each.entry.id: msgspec.json.decode(each.entry.body) for each in await self.book.since(0, most=10_000)}


@pytest.fixture
async def nodes(shared_database: Any) -> AsyncIterator[tuple[Node, Node, Node]]:
    """The shop and two laptops, each with a chief of its own, who all hold car 7 and car 12 and a stud."""
    books = await open_book(shared_database.serving_dsn, size=4)
    context = Context(book=books, bearers=Bearers(books.access), engine_thread=EngineThread())
    made = []
    for member in ("ada", "ben", "cleo"):
        team = (await found_team(shared_database.owner_dsn, team_name="Crew", chief_name=member, chief_id=member)).team
        bearer = Bearer(team, member, "chief", member, None, None, protected=False, introduces=False, token="0" * 12)
        made.append(Node(context, bearer))
    shop, *laptops = made
    for laptop in laptops:
        assert await books.peers.join(laptop.bearer.team, await shop.book.identity())
        recorded = audit_event(actor="owner", action="home.set", subject="home")
        await books.peers.set(
            laptop.bearer.team, "shop", "https://shop.test", state=msgspec.json.encode(new_peer_state(0))
        )
        await books.access.set_home(laptop.bearer.team, "shop", audit=recorded)
    for car in ("7", "12"):
        await cars.add_car(context, shop.bearer, NewCar(car=car), Precondition(new=True))
    await shop.enter(
        "part", "s-041", kind="stud", stud={"length_in": 1.7}, preload={"target_in_lb": 10, "basis": "running"}
    )
    for laptop in laptops:
        await laptop.meet(shop)
    yield shop, laptops[0], laptops[1]
    context.engine_thread.close()
    await books.close()
