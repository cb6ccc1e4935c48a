"""Part life, preload history, money and time."""

import datetime as dt
from typing import Any

import pytest

from season.making import RATE, STUD, Written, laps, night
from studbook.wire.season import PartLife
from studbook_service.night.times import moment_ms
from studbook_service.night.whereabouts import DatedRecord
from studbook_service.work.jobs import JOB_KINDS


def told(part: str, what: str, at: str, **body: Any) -> DatedRecord:
    """Make a shop record."""
    name = f"{part}/{at[:10]}-{what}-1"
    return DatedRecord(name=name, tip=f"{name}@", at_ms=moment_ms(at) or 0, body={"what": what, "at": at, **body})


def on(car: str) -> dict[str, str]:
    """Say a place on a car."""
    return {"where": "car", "car": car, "corner": "rf", "slot": "upper_stud"}


@pytest.fixture
def book() -> Written:
    """Three nights of two cars; a stud that went from one to the other, one that was scrapped, and a tire."""
    written = Written()
    for number in range(3):
        for car in ("7", "12"):
            written.ran(night(number), "heat-1", written.setup(car), laps(17), car=car)
    stud = {"kind": "stud", "about": "long", "price_usd": 45, "preload": {"target_in_lb": 8, "basis": "running"}}
    written.given = {
        "parts": {"s-1": stud, "s-2": {"kind": "stud"}, "s-3": {"kind": "stud", "price_usd": 60}},
        "shop_records": {
            "s-1": [
                told("s-1", "fitted", "2026-05-01T08:00Z", place=on("7")),
                told("s-1", "preload", "2026-05-01T09:00Z", preload={"basis": "running", "torque_in_lb": 8}),
                told("s-1", "removed", "2026-05-02T20:00Z"),
                told("s-1", "preload", "2026-05-02T21:00Z", preload={"basis": "running", "pull_lb": 1, "lever_in": 5}),
                told("s-1", "rebuilt", "2026-05-02T22:00Z", cost_usd=12.5, place={"where": "shelf"}),
                told("s-1", "fitted", "2026-05-03T08:00Z", place=on("12")),
            ],
            "s-2": [told("s-2", "fitted", "2026-05-02T22:00Z", place=on("7"))],
            "s-3": [
                told("s-3", "fitted", "2026-04-01T08:00Z", place=on("12")),
                told("s-3", "scrapped", "2026-05-01T22:00Z"),
            ],
        },
    }
    return written


def life(parts: list[PartLife], part: str) -> PartLife:
    return next(each for each in parts if each.part == part)


def test_a_part_tells_what_it_ran_on_each_car_and_in_all(book: Written) -> None:
    found = book.report()
    twelve, seven = found.cars
    assert found.team
    assert [(each.part, each.laps, each.nights) for each in seven.parts] == [("s-1", 10, 2), ("s-2", 5, 1)]
    assert [(each.part, each.laps, each.nights) for each in twelve.parts] == [("s-1", 5, 1), ("s-3", 5, 1)]
    assert life(seven.parts, "s-1").laps_ever == 15
    assert life(found.team.parts, "s-1").laps == 15
    assert life(found.team.parts, "s-3").scrapped
    assert (life(seven.parts, "s-1").price_usd, life(seven.parts, "s-1").about) == (45, "long")


def test_preloads_are_told_in_order_with_their_drift(book: Written) -> None:
    found = book.report()
    assert found.team
    one = life(found.team.parts, "s-1")
    assert [(each.torque_in_lb, each.drift_in_lb) for each in one.preloads] == [(8, 0), (5, -3)]
    assert one.alerts == ["preload"]
    later = book.report(since=dt.date(2026, 5, 2))
    assert later.team
    assert len(life(later.team.parts, "s-1").preloads) == 1


def test_a_part_is_paid_for_once_by_the_car_that_it_first_went_on(book: Written) -> None:
    found = book.report()
    twelve, seven = (car.money for car in found.cars)
    assert (seven.fitted_usd, seven.work_usd, seven.unpriced) == (45, 12.5, 1)
    assert (twelve.fitted_usd, twelve.scrapped_usd, twelve.unpriced) == (60, 60, 0)
    assert found.team
    total = found.team.money
    assert (total.fitted_usd, total.scrapped_usd, total.work_usd, total.unpriced) == (105, 60, 12.5, 1)
    assert [each.what for each in total.items] == ["fitted", "fitted", "scrapped", "work", "fitted"]


def test_money_is_that_of_the_days_asked_for(book: Written) -> None:
    found = book.report(since=dt.date(2026, 5, 1), to=dt.date(2026, 5, 1))
    assert found.team
    money = found.team.money
    assert (money.fitted_usd, money.scrapped_usd, money.work_usd, money.unpriced) == (45, 60, 0, 0)


def test_contact_is_told_of_a_part_until_a_card_says_that_the_corner_was_inspected(book: Written) -> None:
    book.given["shop_records"]["s-2"].append(told("s-2", "contact", "2026-05-03T21:00Z"))
    assert life(book.report().cars[1].parts, "s-2").alerts == ["inspect"]
    tick = {"at": "2026-05-03T21:30Z", "inspected": {"straight": True, "signed_by": "Ada"}}
    card = DatedRecord(name="7/2026-05-03-2125", tip="", at_ms=0, body={"done": {"inspect-rf": tick}})
    book.given["card_records"] = [card]
    assert life(book.report().cars[1].parts, "s-2").alerts == []


def test_one_side_of_a_split_record_is_paid(book: Written) -> None:
    twice = told("s-1", "rebuilt", "2026-05-02T22:00Z", cost_usd=12.5)
    book.given["shop_records"]["s-1"].append(
        DatedRecord(name=twice.name, tip="other", at_ms=twice.at_ms, body=twice.body)
    )
    found = book.report()
    assert found.team
    assert found.team.money.work_usd == 12.5


def test_jobs_done_take_the_team_s_minutes_else_the_defaults() -> None:
    book = Written()
    since, revision = book.setup("7"), book.setup("7", settings={STUD: 1.3, RATE: 450})
    card = {"since": since, "revision": revision, "done": {"stud-rf-upper": {}, "toe": {}, "inspect-rf": {}, "odd": {}}}
    book.given = {"names": {"7": "Number 7", "12": "Number 12"}, "cards": {"7/2026-05-02-1": card}}
    twelve, seven = (car.work for car in book.report().cars)
    names = ("upper_stud", "toe_check", "inspect")
    assert (seven.cards, seven.jobs, seven.unknown) == (1, 4, 1)
    assert seven.done_min == sum(JOB_KINDS[name].minutes for name in names)
    assert seven.people_min == sum(JOB_KINDS[name].minutes * JOB_KINDS[name].people for name in names)
    assert (twelve.cards, twelve.done_min) == (0, 0)
    own = {"jobs": {"upper_stud": {"time_min": 9, "people": 3}}}
    theirs = book.report(own_times=own).cars[1].work
    assert theirs.done_min == seven.done_min - JOB_KINDS["upper_stud"].minutes + 9
    assert theirs.people_min == pytest.approx(
        seven.people_min - JOB_KINDS["upper_stud"].minutes * JOB_KINDS["upper_stud"].people + 27
    )
    assert book.report(to=dt.date(2026, 5, 1)).cars[1].work.cards == 0
