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
from studbook.wire.part_states import PartsQuery, PartStates
from studbook.wire.records import KINDS, NewRecord, Record, RecordChange
from studbook_service.actions import cars, pushing, records, shelf
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.desk import Desk
from studbook_service.actions.recording import Terms
from studbook_service.actions.team_book import TeamBook
from studbook_service.actions.worker import Worker
from studbook_service.exchange.initiator import new_peer_state
from studbook_service.store import Bearer, audit_event, found_team, open_book


@dataclass
class Node:
    """One node and who works there."""

    desk: Desk
    bearer: Bearer

    @property
    def book(self) -> TeamBook:
        """The book, as the exchange sees it."""
        return TeamBook(self.desk.book, self.bearer.team)

    async def enter(self, kind: str, name: str, /, **document: Any) -> Record:
        """Enter a record."""
        wanted = NewRecord(name=name, document=document)
        record, fresh = await records.add_record(self.desk, self.bearer, KINDS[kind], wanted, Terms(new=True))
        assert fresh
        return record

    async def read(self, kind: str, name: str) -> Record:
        """Read a record."""
        return await records.read_record(self.desk, self.bearer, KINDS[kind], name)

    async def listed(self, kind: str, **wanted: str) -> list[Record]:
        """List records."""
        return (await records.list_records(self.desk, self.bearer, KINDS[kind], wanted, limit=200, cursor=None)).items

    async def correct(self, record: Record, *, note: str = "", **edits: Any) -> Record:
        """Correct or settle a record as it was seen."""
        wanted = RecordChange(edits=[Edit(path=path, value=value) for path, value in edits.items()], note=note)
        terms = Terms(tags=frozenset({record.tag}))
        return await records.change_record(self.desk, self.bearer, KINDS[record.kind], record.name, wanted, terms)

    async def push(self, car: str, sheet: str, *, at: dt.datetime) -> str:
        """Push the first revision of a sheet; gives its id."""
        wanted = NewRevision(document={"notes": "tacky"}, at=at)
        return (await pushing.push(self.desk, self.bearer, car, sheet, wanted, Terms(new=True))).revision.id

    async def shelf(self, **asked: Any) -> PartStates:
        """Say how the parts stand."""
        return await shelf.read_shelf(self.desk, self.bearer, PartsQuery(**asked))

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
    desk = Desk(book=books, bearers=Bearers(books.access), worker=Worker())
    made = []
    for member in ("ada", "ben", "cleo"):
        team = (await found_team(shared_database.owner_dsn, team_name="Crew", chief_name=member, chief_id=member)).team
        bearer = Bearer(team, member, "chief", member, None, None, protected=False, introduces=False, token="0" * 12)
        made.append(Node(desk, bearer))
    shop, *laptops = made
    for laptop in laptops:
        assert await books.peers.join(laptop.bearer.team, await shop.book.identity())
        recorded = audit_event(actor="owner", action="home.set", subject="home")
        await books.peers.set(
            laptop.bearer.team, "shop", "https://shop.test", state=msgspec.json.encode(new_peer_state(0))
        )
        await books.access.set_home(laptop.bearer.team, "shop", audit=recorded)
    for car in ("7", "12"):
        await cars.add_car(desk, shop.bearer, NewCar(car=car), Terms(new=True))
    await shop.enter(
        "part", "s-041", kind="stud", stud={"length_in": 1.7}, preload={"target_in_lb": 10, "basis": "running"}
    )
    for laptop in laptops:
        await laptop.meet(shop)
    yield shop, laptops[0], laptops[1]
    desk.worker.close()
    await books.close()
