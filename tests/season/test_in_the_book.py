"""The report as it is read from a book: what was raced stays, split lines are said, access is asked for."""

import datetime as dt
from collections.abc import AsyncIterator
from typing import Any

import msgspec
import pytest

from night.conftest import Node
from season.making import BASE, SHIMS, STUD, laps, ran
from studbook.history.canonical import Tree, canonical, encode
from studbook.history.ids import Header, entry_id, hash_content
from studbook.wire.entries import Edit, NewCar, NewRevision
from studbook.wire.season import SeasonQuery, SeasonReport
from studbook_service.actions import cars, revisions, season
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.entries import Precondition
from studbook_service.actions.refusals import Refusal
from studbook_service.store import Bearer, NewEntry, StoredEntry, found_team, open_book

NIGHT = "2026-05-02-north"


class Shop(Node):
    """A node with a car, a sheet of it, and two outings.

    Attributes:
        first, second: the revisions raced.
        tag: of the sheet.
    """

    first: str
    second: str
    tag: str

    async def report(self, **asked: Any) -> SeasonReport:
        """Report the season."""
        answer = await season.report_season(self.context, self.bearer, msgspec.convert(asked, SeasonQuery))
        body = await answer.compute()
        return msgspec.json.decode(body, type=SeasonReport)

    async def record(self, *, at: str, note: str = "", **given: Any) -> str:
        """Push onto the sheet; gives the revision's id."""
        wanted = NewRevision(at=dt.datetime.fromisoformat(at), note=note, **given)
        tips = await self.context.book.tips(self.bearer.team, "car/7/sheet/race")
        precondition = Precondition(tags=frozenset({self.tag}) if tips else frozenset(), new=not tips)
        pushed = await revisions.push_revision(self.context, self.bearer, "7", "race", wanted, precondition)
        self.tag = pushed.tag
        return pushed.made


@pytest.fixture
async def shop(shared_database: Any) -> AsyncIterator[Shop]:
    """The shop's node."""
    book = await open_book(shared_database.serving_dsn, size=2)
    context = Context(book=book, bearers=Bearers(book.access), engine_thread=EngineThread())
    team = (await found_team(shared_database.owner_dsn, team_name="Crew", chief_name="Ada", chief_id="ada")).team
    bearer = Bearer(team, "ada", "chief", "ada", None, None, protected=False, introduces=False, token="0" * 12)
    node = Shop(context, bearer)
    await cars.add_car(context, bearer, NewCar(car="7", name="Old blue"), Precondition(new=True))
    node.first = await node.record(document=BASE, at="2026-05-01T12:00+00:00", note="as surveyed")
    longer = Edit(path=STUD, value=1.3)
    node.second = await node.record(edits=[longer], at="2026-05-02T19:00+00:00", note="too tight in")
    await node.enter("event", NIGHT, date="2026-05-02", place="North oval", surface="dirt")
    for run, revision, hour, median in (("heat-1", node.first, 18, 17.4), ("feature", node.second, 20, 17.2)):
        started = f"2026-05-02T{hour}:00Z"
        document: Tree = {"revision": revision, "lap_times_s": laps(median), "track_state": "slick"}
        await node.enter("outing", f"{NIGHT}/7/{run}", started_at=started, **document)
    yield node
    context.engine_thread.close()
    await book.close()


async def test_it_tells_what_the_book_does(shop: Shop) -> None:
    found = await shop.report()
    [car] = found.cars
    assert (car.car, car.name, car.totals.outings) == ("7", "Old blue", 2)
    told = ran(found, f"{NIGHT}/7/feature")
    assert (told.note, told.revision, told.factors) == ("too tight in", shop.second, ["RF upper stud"])
    assert [(each.path, each.before, each.after, each.unit) for each in told.changes] == [(STUD, 1.2, 1.3, "in")]
    assert (car.nights[0].place, car.nights[0].surface, car.nights[0].track) == ("North oval", "dirt", "north")


async def test_a_late_correction_never_rewrites_what_was_raced(shop: Shop) -> None:
    before = await shop.report()
    await shop.record(edits=[Edit(path=STUD, value=1.9)], at="2026-05-04T12:00+00:00", note="it was 1.9 all along")
    assert await shop.report() == before
    outing = await shop.read("outing", f"{NIGHT}/7/feature")
    await shop.correct(outing, finish_place=2)
    told = ran(await shop.report(), f"{NIGHT}/7/feature")
    assert (told.finish_place, told.revision) == (2, shop.second)
    assert [(each.before, each.after) for each in told.changes] == [(1.2, 1.3)]


async def test_a_log_that_becomes_a_revision_after_the_race_rewrites_nothing_either(shop: Shop) -> None:
    turned = {"changes": ["setup.front.rf.upper_shims.front_in+=0.0625"], "words": "RF shims +1/16", "by": "Chris"}
    log = await shop.enter("log", "7/2026-05-02-1930", at="2026-05-02T19:30:00Z", **turned)
    told = ran(await shop.report(), f"{NIGHT}/7/feature")
    assert [(each.log, each.changes, each.words, each.by) for each in told.logs] == [
        ("7/2026-05-02-1930", turned["changes"], "RF shims +1/16", "Chris")
    ]
    assert "7/2026-05-02-1930 was turned" in (told.left_out or "")
    shimmed = Edit(path=SHIMS, value=0.3125)
    after = await shop.record(edits=[shimmed], at="2026-05-02T23:00+00:00", note="as logged")
    await shop.correct(log, taken_into=after)
    again = ran(await shop.report(), f"{NIGHT}/7/feature")
    assert again.logs[0].taken_into == after
    assert (again.left_out, again.changes) == (told.left_out, told.changes)


async def test_a_log_without_a_time_stands_at_the_beginning_of_its_day_and_may_be_of_any_of_its_outings(
    shop: Shop,
) -> None:
    await shop.enter("log", "7/2026-05-02-1", changes=["setup.front.rf.upper_shims.front_in+=0.0625"])
    found = await shop.report()
    heat, feature = (ran(found, f"{NIGHT}/7/{run}") for run in ("heat-1", "feature"))
    assert [log.at.isoformat() for log in heat.logs] == ["2026-05-02T00:00:00+00:00"]
    assert [len(each.logs) for each in (heat, feature)] == [1, 1]
    for each in (heat, feature):
        assert (each.left_out or "").startswith("7/2026-05-02-1 has no time: nobody can say which came first")


async def test_an_evenings_log_is_of_the_day_on_the_crews_clock(shop: Shop) -> None:
    """At half past eight in the evening, five hours west, it is the next day in UTC."""
    await shop.enter("event", "2026-05-03-north", date="2026-05-03")
    await shop.enter("outing", "2026-05-03-north/7/heat-1", revision=shop.first, lap_times_s=[17.4, 17.5, 17.6])
    shims = ["setup.front.rf.upper_shims.front_in+=0.0625"]
    await shop.enter("log", "7/2026-05-03-2030", at="2026-05-03T20:30-05:00", changes=shims)
    heat = ran(await shop.report(), "2026-05-03-north/7/heat-1")
    assert [log.log for log in heat.logs] == ["7/2026-05-03-2030"]
    assert "the outing has no time, and 7/2026-05-03-2030 was turned that day" in (heat.left_out or "")


async def test_all_that_was_recorded_between_two_outings_is_told_with_who_and_when(shop: Shop) -> None:
    scaled = await shop.record(edits=[Edit(path="notes", value="on the pads")], at="2026-05-03T09:00+00:00", note="")
    last = await shop.record(
        edits=[Edit(path=SHIMS, value=0.3125)], at="2026-05-03T10:00+00:00", note="RF cold outside"
    )
    await shop.enter("event", "2026-05-03-north", date="2026-05-03")
    name = "2026-05-03-north/7/heat-1"
    await shop.enter("outing", name, revision=last, started_at="2026-05-03T18:00Z", track_state="slick")
    for asked in ({}, {"car": "7"}, {"from": "2026-05-03"}):
        told = ran(await shop.report(**asked), name)
        assert (told.since, told.descent) == (f"{NIGHT}/7/feature", "follows")
        assert [(each.revision, each.note, each.author.name) for each in told.revisions] == [
            (scaled, "", "Ada"),
            (last, "RF cold outside", "Ada"),
        ]
        assert [each.path for each in told.changes] == ["notes", SHIMS]


async def test_a_split_line_says_which_tip_was_read(shop: Shop) -> None:
    name = f"{NIGHT}/7/feature"
    line = f"outing/{name}"
    tip = (await shop.context.book.tip_entries(shop.bearer.team, line))[0]
    for number, words in enumerate(("loose off", "tight in")):
        body = msgspec.json.decode(tip.body) | {"words": {"entry": words}}
        entry = _child(tip, body, at_ms=tip.at_ms + 1 + number)
        await shop.context.book.append(shop.bearer.team, [entry])
    found = await shop.report()
    [split] = found.splits
    tips = await shop.context.book.tip_entries(shop.bearer.team, line)
    assert (split.line, sorted(split.tips)) == (line, sorted(each.id.hex() for each in tips))
    used = next(each for each in tips if each.id.hex() == split.used)
    shown = ran(found, name).words
    assert shown
    assert msgspec.json.decode(used.body)["words"] == {"entry": shown.entry} == {"entry": "tight in"}


def _child(tip: StoredEntry, body: Tree, *, at_ms: int) -> NewEntry:
    """Make an entry that follows another, as a laptop would bring it."""
    body = canonical(body)
    content = hash_content(note="", body=encode(canonical(body)))
    header = Header(kind=tip.kind, line=tip.line, parents=(tip.id.hex(),), author="ada", at=at_ms, content=content)
    return NewEntry(
        id=bytes.fromhex(entry_id(header)),
        kind=tip.kind,
        line=tip.line,
        parents=(tip.id,),
        content=bytes.fromhex(content),
        note="",
        body=encode(canonical(body)),
        author="ada",
        at_ms=at_ms,
    )


async def test_what_cannot_have_been_is_flagged_and_held_against_nothing(shop: Shop) -> None:
    """The outing came by exchange: it ran before its revision was recorded."""
    name = f"{NIGHT}/7/feature"
    tip = (await shop.context.book.tip_entries(shop.bearer.team, f"outing/{name}"))[0]
    body = msgspec.json.decode(tip.body) | {"started_at": "2026-05-02T18:30:00Z"}
    await shop.context.book.append(shop.bearer.team, [_child(tip, body, at_ms=tip.at_ms + 1)])
    told = ran(await shop.report(), name)
    assert "before the revision raced was recorded" in told.flags[0]
    assert told.against
    assert told.against.detail == "not compared with it: its record is impossible"


async def test_a_car_or_some_days_may_be_asked_for(shop: Shop) -> None:
    await cars.add_car(shop.context, shop.bearer, NewCar(car="12"), Precondition(new=True))
    assert [car.car for car in (await shop.report()).cars] == ["12", "7"]
    alone = await shop.report(car="7")
    assert [car.car for car in alone.cars] == ["7"]
    assert not alone.team
    assert (await shop.report(**{"from": "2026-05-03"})).cars[1].nights == []
    with pytest.raises(Refusal) as refused:
        await shop.report(car="99")
    assert refused.value.code == "not_found"
    with pytest.raises(Refusal) as refused:
        await shop.report(to="2026-02-31")
    assert refused.value.code == "bad_request"
    with pytest.raises(Refusal, match="from: 2026-05-04 is after to: 2026-05-03"):
        await shop.report(**{"from": "2026-05-04", "to": "2026-05-03"})


async def test_the_answer_s_tag_names_the_book_as_it_stands(shop: Shop) -> None:
    first = (await season.report_season(shop.context, shop.bearer, SeasonQuery())).tag
    again = (await season.report_season(shop.context, shop.bearer, SeasonQuery())).tag
    other = (await season.report_season(shop.context, shop.bearer, SeasonQuery(car="7"))).tag
    await shop.enter("part", "s-041", kind="stud")
    later = (await season.report_season(shop.context, shop.bearer, SeasonQuery())).tag
    assert first == again
    assert len({first, other, later}) == 3
