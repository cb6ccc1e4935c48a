"""The season: nights that can have been, parts that were in one place, and laps that say what the notes say."""

import datetime as dt
import statistics
from collections import defaultdict
from functools import cache
from hashlib import sha256

import pytest

from studbook.history.canonical import Tree
from studbook.history.changes import diff
from studbook.history.leaves import at, dotted, steps
from studbook.wire.fields import check, unknown, unusual
from studbook.wire.records import KINDS
from studbook.wire.work import WorkRequest
from studbook_service.demo.scenario import DemoStep, story, team
from studbook_service.demo.season.demo_record import DemoCard, DemoRecord
from studbook_service.demo.season.records import season
from studbook_service.night.facts import Facts, RevisionOrigin, StudSeat
from studbook_service.night.impossible import impossible
from studbook_service.night.shelf import OutingLaps, shelf
from studbook_service.night.times import moment_ms
from studbook_service.night.whereabouts import DatedRecord
from studbook_service.work.card import work_card

TODAY = dt.date(2026, 6, 1)
TEST_DAY = "2026-04-26-harbor"


@cache
def entered() -> list[DemoRecord]:
    return season(team(), today=TODAY)


def of(kind: str) -> dict[str, DemoRecord]:
    return {each.name: each for each in entered() if each.kind == kind}


def id_of(step: DemoStep) -> str:
    """Stand in for the id that the step's revision has in a book."""
    return sha256(f"{step.car}/{step.sheet} {step.at}".encode()).hexdigest()


def document(each: DemoRecord) -> Tree:
    return each.document if each.raced is None else {**each.document, "revision": id_of(each.raced)}


def told() -> dict[str, list[DatedRecord]]:
    found = defaultdict(list)
    for name, each in of("shop_record").items():
        at_ms = moment_ms(each.document["at"])
        assert at_ms is not None
        found[name.partition("/")[0]].append(DatedRecord(name=name, tip="", at_ms=at_ms, body=each.document))
    return found


def ran() -> list[OutingLaps]:
    found = []
    for name, each in of("outing").items():
        at_ms = moment_ms(each.document["started_at"])
        assert at_ms is not None
        found.append(
            OutingLaps(event=name.split("/")[0], car=name.split("/")[1], at_ms=at_ms, laps=each.document["laps"])
        )
    return found


def facts() -> Facts:
    pages = [step for car in team().cars for step in story(car, today=TODAY)]
    tapers = {
        StudSeat(step.car, corner, slot): frozenset(
            {step.document["setup"]["front"][corner][slot]["taper_included_deg"]}
        )
        for step in pages
        for corner in ("lf", "rf")
        for slot in ("upper_stud", "lower_stud")
    }
    return Facts(
        cars=frozenset(car.slug for car in team().cars),
        events={name: each.document for name, each in of("event").items()},
        outings=frozenset(of("outing")),
        revisions={id_of(step): RevisionOrigin(step.car, int(step.at.timestamp() * 1000)) for step in pages},
        parts={name: each.document for name, each in of("part").items()},
        tapers_deg=tapers,
        shop_records=told(),
    )


def test_every_record_has_known_fields_and_sane_values() -> None:
    for each in entered():
        kind, tree = KINDS[each.kind], document(each)
        assert kind.form.fullmatch(each.name)
        assert (check(tree, kind.body), unknown(tree, of=kind.body), unusual(tree, kind.body)) == ([], [], [])


def test_no_night_is_impossible() -> None:
    known = facts()
    for each in entered():
        assert impossible(each.kind, each.name, document(each), known) == []


def test_names_are_told_once_and_before_they_are_used() -> None:
    seen: set[str] = set()
    for each in entered():
        if each.kind == "outing":
            assert f"event {each.name.split('/')[0]}" in seen
        if each.kind == "shop_record":
            assert f"part {each.name.split('/')[0]}" in seen
            assert "outing" not in each.document or f"outing {each.document['outing']}" in seen
        if each.raced is not None:
            assert each.raced.at < each.at
        name = f"{each.kind} {each.name}"
        assert name not in seen
        seen.add(name)


def test_three_cars_ran_a_test_day_and_ten_nights() -> None:
    nights = set(of("event"))
    assert {name.split("/")[0] for name in of("outing")} == nights
    assert len(nights - {TEST_DAY}) == 10
    assert {name.split("/")[1] for name in of("outing")} == {car.slug for car in team().cars}


def cards() -> list[DatedRecord]:
    """The cards as they are in the end."""
    found = []
    for name, each in of("work").items():
        assert isinstance(each, DemoCard)
        done = {job: tick for job, _, _, tick in each.ticks}
        found.append(DatedRecord(name=name, tip="", at_ms=int(each.at.timestamp() * 1000), body={"done": done}))
    return found


def test_a_card_was_started_after_contact_ticked_off_in_order_and_signed_last() -> None:
    [card] = of("work").values()
    assert isinstance(card, DemoCard)
    assert card.raced
    asked = WorkRequest(crew=card.document["crew"], minutes=card.document["available_min"], contact=["lf"])
    made = work_card(card.since.document, card.raced.document, request=asked)
    assert {job.id for job in made.jobs if job.state == "planned"} == {job for job, *_ in card.ticks}
    times = [card.since.at, card.raced.at, card.at, *(at for _, at, *_ in card.ticks), card.signed[0]]
    assert times == sorted(times)
    assert (card.signed[0] - card.at).total_seconds() / 60 <= card.document["available_min"]


def test_a_bent_stud_is_out_and_its_corner_waits() -> None:
    states, corners = shelf({name: each.document for name, each in of("part").items()}, told(), ran(), cards())
    assert [(alert.code, alert.car, alert.corner, alert.part) for alert in corners] == [
        ("inspect", "12", "rf", "l-12-rf")
    ]
    assert [(state.part, alert.code) for state in states for alert in state.alerts] == [("l-12-rf", "bent")]
    standing = {state.part: state for state in states}
    assert [place.where for place in standing["l-12-rf"].places] == ["shelf"]
    fitted = [place for state in states for place in state.places if place.car == "12" and place.corner == "rf"]
    assert len({place.slot for place in fitted}) == len(fitted) == 6
    assert all(state.places or state.scrapped for state in states)


def test_a_joint_was_found_tight_and_put_right() -> None:
    states, _ = shelf({name: each.document for name, each in of("part").items()}, told(), ran())
    joint = next(state for state in states if state.part == "j-7-rf-l")
    assert [(read.torque_in_lb, read.drift_in_lb) for read in joint.preloads] == [(48, 40), (9, 1)]
    survey, reset = story(team().cars[0], today=TODAY)[:2]
    path = steps("measured.front.rf.lower_joint.breakaway_in_lb")
    assert [at(step.document, path) for step in (survey, reset)] == [48, 9]


def test_a_setup_was_carried_from_one_car_to_another() -> None:
    cars = {car.slug: story(car, today=TODAY) for car in team().cars}
    [carried] = [step for step in cars["12"] if step.fields]
    assert (carried.sheet, carried.carried_from) == ("dry-slick", "7/dry-slick")
    source = [step for step in cars["7"] if step.sheet == "dry-slick" and step.at < carried.at][-1]
    for field in carried.fields:
        assert at(carried.document, steps(field)) == at(source.document, steps(field))
    [before] = [step for step in cars["12"] if step.sheet == "dry-slick" and step.at < carried.at]
    assert {dotted(each.path) for each in diff(before.document, carried.document)} == set(carried.fields)


def test_the_test_day_tells_two_clicks_apart_and_a_single_stud_does_not() -> None:
    medians = defaultdict(list)
    for name, each in of("outing").items():
        assert each.raced is not None
        if name.startswith(TEST_DAY) and each.document["track_state"] == "green":
            clicks = at(each.raced.document, steps("setup.front.rf.shock.rebound.clicks"))
            medians[clicks].append(statistics.median(each.document["lap_times_s"]))
    stiffer, softer = medians[4], medians[6]
    assert len(stiffer) == len(softer) == 3
    assert max(stiffer) < min(softer)
    assert 0.05 < statistics.mean(softer) - statistics.mean(stiffer) < 0.2
    longer = {
        name.split("/")[0]
        for name, each in of("outing").items()
        if each.raced and at(each.raced.document, steps("setup.front.rf.upper_stud.length_in")) == pytest.approx(1.3)
    }
    assert len(longer) == 1


def test_a_later_demo_tells_the_same_laps() -> None:
    later = [each for each in season(team(), today=TODAY + dt.timedelta(days=17)) if each.kind == "outing"]
    assert [each.document["lap_times_s"] for each in later] == [
        each.document["lap_times_s"] for each in entered() if each.kind == "outing"
    ]
