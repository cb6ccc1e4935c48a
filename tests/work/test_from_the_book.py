"""A card made from the book: parts on their shelf, contact, the team's own times, and what is ticked off."""

from collections.abc import AsyncIterator
from typing import Any

import pytest

from studbook.wire.entries import NewCar, NewRevision
from studbook.wire.records import KINDS, NewRecord
from studbook.wire.work import Job, SinceWork, WorkCard
from studbook_service.actions import cars, records, revisions, work
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.entries import Precondition
from studbook_service.actions.refusals import Refusal
from studbook_service.store import Bearer, found_team, open_book
from work.sheets import car, edited

STUD = {"setup.front.rf.upper_stud.length_in": 1.7, "setup.front.rf.upper_stud.part": "S-041"}
GEAR = {"setup.drivetrain.spur_ratio": 1.29}


class Crew:
    """A team with car 7 and two revisions of it."""

    def __init__(self, context: Context, bearer: Bearer) -> None:
        self.context, self.bearer = context, bearer
        self.raced = self.wanted = ""

    async def enter(self, kind: str, name: str, /, **document: Any) -> None:
        wanted = NewRecord(name=name, document=document)
        await records.add_record(self.context, self.bearer, KINDS[kind], wanted, Precondition(new=True))

    async def push(self, sheet: str, document: dict[str, Any]) -> str:
        wanted = NewRevision(document=document)
        pushed = await revisions.push_revision(self.context, self.bearer, "7", sheet, wanted, Precondition(new=True))
        return pushed.made

    async def card(self, **wanted: Any) -> WorkCard:
        return await work.read_work(self.context, self.bearer, self.wanted, SinceWork(since=self.raced, **wanted))


@pytest.fixture
async def crew(shared_database: Any) -> AsyncIterator[Crew]:
    books = await open_book(shared_database.serving_dsn, size=4)
    context = Context(book=books, bearers=Bearers(books.access), engine_thread=EngineThread())
    team = (await found_team(shared_database.owner_dsn, team_name="Crew", chief_name="ada", chief_id="ada")).team
    bearer = Bearer(team, "ada", "chief", "ada", None, None, protected=False, introduces=False, token="0" * 12)
    made = Crew(context, bearer)
    await cars.add_car(context, bearer, NewCar(car="7"), Precondition(new=True))
    made.raced = await made.push("heat", car())
    made.wanted = await made.push("feature", edited(STUD | GEAR))
    await made.enter("part", "s-041", kind="stud", stud={"length_in": 1.7}, price_usd=45)
    yield made
    context.engine_thread.close()
    await books.close()


def job(card: WorkCard, id_: str) -> Job:
    return next(each for each in card.jobs if each.id == id_)


async def test_a_card_with_all_that_the_book_knows(crew: Crew) -> None:
    await crew.enter(
        "shop_record", "s-041/2026-05-02-moved-1", what="moved", at="2026-05-02T10:00Z", place={"where": "trailer"}
    )
    await crew.enter("shop_times", "times", jobs={"upper_stud": {"time_min": 18, "price_usd": 12}})
    card = await crew.card(crew=3)
    assert (card.since, card.revision) == (crew.raced, crew.wanted)
    assert job(card, "stud-rf-upper").minutes == 18
    [part] = job(card, "stud-rf-upper").parts
    assert (part.tag, part.in_trailer, part.price_usd) == ("s-041", True, 45)
    assert card.sign_first == []


async def test_own_times_are_for_jobs_that_there_are(crew: Crew) -> None:
    with pytest.raises(Refusal) as refused:
        await crew.enter("shop_times", "times", jobs={"uper_stud": {"time_min": 18}})
    [fault] = refused.value.errors
    assert fault.detail == "jobs.uper_stud: uper_stud is no kind of job; the nearest is upper_stud"
    await crew.enter("shop_times", "times", jobs={"upper_stud": {"time_min": 18}, "gear": {"price_usd": 12}})
    table = {each.kind: each for each in (await work.read_jobs(crew.context, crew.bearer)).items}
    assert {kind for kind, each in table.items() if each.own} == {"upper_stud", "gear"}
    assert (table["upper_stud"].time_min, table["upper_stud"].default_min, table["upper_stud"].people) == (18, 14, 2)
    assert (table["gear"].time_min, table["gear"].price_usd) == (10, 12)


async def test_contact_comes_onto_the_cars_next_card_until_it_is_inspected_and_signed(crew: Crew) -> None:
    place = {"where": "car", "car": "7", "corner": "rf", "slot": "lower_stud"}
    await crew.enter("part", "s-007", kind="stud")
    await crew.enter("shop_record", "s-007/2026-05-02-fitted-1", what="fitted", at="2026-05-02T10:00Z", place=place)
    await crew.enter("shop_record", "s-007/2026-05-02-contact-1", what="contact", at="2026-05-02T20:00Z", place=place)
    card = await crew.card()
    assert card.sign_first == ["inspect-rf"]
    assert card.jobs[0].id == "inspect-rf"


async def test_an_inspection_ticked_on_a_card_is_done_there_and_settles_the_contact(crew: Crew) -> None:
    place = {"where": "car", "car": "7", "corner": "rf", "slot": "lower_stud"}
    await crew.enter("part", "s-007", kind="stud")
    await crew.enter("shop_record", "s-007/2026-05-02-contact-1", what="contact", at="2026-05-02T20:00Z", place=place)
    for name, found in (("2010", {"straight": False}), ("2020", {"straight": True})):
        tick = {"at": f"2026-05-02T{name[:2]}:{name[2:]}Z", "inspected": found | {"signed_by": "Ada"}}
        document = {"since": crew.raced, "revision": crew.wanted, "done": {"inspect-rf": tick}}
        await crew.enter("work", f"7/2026-05-02-{name}", **document)
        card = await crew.card(card=f"7/2026-05-02-{name}")
        # Found bent it is to be done again; found straight it is done, with the wheel torque that it brings.
        assert job(card, "inspect-rf").state == ("done" if found["straight"] else "planned")
        assert card.sign_first == ([] if found["straight"] else ["inspect-rf"])
        assert job(card, "torque-rf").because
    assert (await crew.card()).sign_first == []


async def test_what_is_ticked_off_takes_no_more_time_and_is_what_there_is_to_undo(crew: Crew) -> None:
    ticked = {"gear": {"at": "2026-05-02T19:10Z", "by": "Ada"}}
    await crew.enter("work", "7/2026-05-02-1", since=crew.raced, revision=crew.wanted, done=ticked)
    card = await crew.card(card="7/2026-05-02-1")
    assert job(card, "gear").state == "done"
    back = await crew.card(card="7/2026-05-02-1", undo=True)
    assert (back.since, back.revision, back.back) == (crew.wanted, crew.raced, True)
    assert [each.id for each in back.jobs] == ["gear"]
    assert "stud-rf-upper" in back.unneeded


async def test_what_cannot_be_asked_is_refused(crew: Crew) -> None:
    with pytest.raises(Refusal, match="priorities: geer is no change") as priority:
        await crew.card(priorities="geer")
    assert priority.value.code == "bad_request"
    assert [fault.pointer for fault in priority.value.errors] == ["priorities"]
    with pytest.raises(Refusal, match="no card") as name:
        await crew.card(card="card one")
    assert name.value.code == "bad_reference"
    with pytest.raises(Refusal) as missing:
        await crew.card(card="7/2026-05-02-9")
    assert missing.value.code == "not_found"
