"""What was changed for each outing, and what may be said to have come of it."""

import dataclasses
import datetime as dt
import random
from collections.abc import Sequence
from typing import Any

import pytest
from msgspec import UNSET

from season.making import COMPOUND, SHIMS, STUD, Written, laps, night, ran
from studbook.wire.records import fitting
from studbook.wire.shop import Log
from studbook_service.night.times import moment_ms
from studbook_service.season.inputs import RacedRevision, SeasonLog


def evening(book: Written, setups: Sequence[dict[str, Any]], medians: Sequence[float], number: int = 0) -> list[str]:
    """Run a night with these setups."""
    return [
        book.ran(night(number), f"heat-{place}", book.setup("7", settings=setup), laps(median))
        for place, (setup, median) in enumerate(zip(setups, medians, strict=True))
    ]


def with_noise(book: Written, count: int, spread_s: float = 0.05) -> None:
    """Run nights with nothing changed."""
    chance = random.Random(6)  # noqa: S311 - made-up races
    for number in range(10, 10 + count):
        evening(book, [{}, {}], [17, 17 + chance.gauss(0.02, spread_s)], number)


def test_each_outing_tells_what_was_changed_since_the_one_before_and_what_it_ran() -> None:
    book = Written()
    first = book.ran(night(0), "heat-1", book.setup("7"), laps(17.4))
    longer = book.setup("7", note="too tight in", settings={STUD: 1.3, "notes": "tacky early"})
    words: dict[str, Any] = {"words": {"entry": "frees up"}, "start_place": 6, "finish_place": 2}
    second = book.ran(night(0), "feature", longer, [17.2, 17.0, 17.1, 17.3, 25.0], **words)
    outing = ran(book.report(), second)
    assert (outing.best_s, outing.median_s, outing.clean_laps, outing.laps, outing.gained) == (17.0, 17.15, 4, 5, 4)
    assert (outing.note, outing.words.entry if outing.words else "", outing.revision) == (
        "too tight in",
        "frees up",
        longer,
    )
    assert [(each.path, each.before, each.after) for each in outing.changes] == [
        ("notes", "as surveyed", "tacky early"),
        (STUD, 1.2, 1.3),
    ]
    assert outing.factors == ["RF upper stud"]
    assert outing.against
    assert outing.against.outing == first
    assert outing.against.median_s == pytest.approx(-0.25)


def test_one_outing_against_one_is_no_evidence() -> None:
    book = Written()
    _, second = evening(book, [{}, {STUD: 1.3}], [17.4, 16.9])
    against = ran(book.report(), second).against
    assert against
    assert against.verdict == "too_few"
    assert not against.interval
    assert against.detail.startswith("cannot be told from noise: 1 outing against 1, and 0 pairs with nothing changed")


@pytest.mark.parametrize(("median", "verdict"), [(16.4, "faster"), (17.7, "slower"), (16.95, "noise")])
def test_a_change_is_held_against_pairs_with_nothing_changed(median: float, verdict: str) -> None:
    book = Written()
    with_noise(book, 12)
    _, second = evening(book, [{}, {STUD: 1.3}], [17, median])
    report = book.report()
    against = ran(report, second).against
    assert against
    assert against.interval
    assert (against.verdict, against.interval.others, report.steps_judged) == (verdict, 12, 1)
    assert against.interval.low_s < median - 17 - (against.drift_s or 0) < against.interval.high_s
    assert ("cannot be told from noise" in against.detail) is (verdict == "noise")


def test_two_things_at_once_are_confounded() -> None:
    book = Written()
    with_noise(book, 12)
    _, second = evening(book, [{}, {STUD: 1.3, SHIMS: 0.3125}], [17, 15])
    against = ran(book.report(), second).against
    assert against
    assert against.verdict == "confounded"
    assert against.detail == "2 factors changed at once (RF shims, RF upper stud): none is credited"
    assert not against.interval


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ({"track_state": "dry_slick"}, "the track was slick, then dry-slick"),
        ({"track_state": None}, "the track was slick, then not recorded"),
        ({"tires": {"rr": {"part": "t-2"}}}, "other tires"),
        ({"times": [17.0, 17.1]}, "too few clean laps"),
        ({"flags": ["17 laps, but 2 lap times"]}, "its record is impossible"),
        ({"revision": "f" * 64}, "the revision raced is not in the book"),
        ({"event": "2026-05-08-south"}, "another night"),
    ],
)
def test_what_is_not_alike_is_not_held_against_each_other(how: dict[str, Any], why: str) -> None:
    book = Written()
    with_noise(book, 12)
    first = book.setup("7")
    book.ran(night(0), "heat-1", first, laps(17), tires={"rr": {"part": "t-1"}})
    event = how.pop("event", night(0))
    how = {"tires": {"rr": {"part": "t-1"}}} | how
    revision, times = how.pop("revision", book.setup("7", settings={STUD: 1.3})), how.pop("times", laps(15))
    second = book.ran(event, "heat-2", revision, times, **how)
    against = ran(book.report(), second).against
    assert against
    assert (against.verdict, against.detail) == ("unlike", f"not compared with it: {why}")
    assert not against.median_s


def test_after_something_was_turned_that_became_no_revision_the_car_was_not_as_written() -> None:
    book = Written()
    before, after = evening(book, [{}, {STUD: 1.3}], [17, 16])
    turned = SeasonLog(name="7/2026-05-01-1201", car="7", at_ms=book.outings[1].at_ms)
    told = ran(book.report(logs=[turned]), after)
    assert told.left_out
    assert told.left_out.startswith("7/2026-05-01-1201 was turned after its revision was recorded")
    assert not ran(book.report(logs=[turned]), before).left_out
    for other in (
        SeasonLog(name="12/x", car="12", at_ms=turned.at_ms),
        SeasonLog(name="7/later", car="7", at_ms=book.outings[1].at_ms + 1),
        SeasonLog(name="7/before", car="7", at_ms=(moment_ms("2026-03-01T11:00Z") or 0)),
    ):
        assert not ran(book.report(logs=[other]), after).left_out


def logged(name: str, at: str, **record: Any) -> SeasonLog:
    """Log a turn of the RR perch on car 7."""
    tree = {"changes": ["setup.rear.rr.spring.perch.thread_showing_in+=2 turns"], "words": "RR perch +2", **record}
    return SeasonLog(name=f"7/{name}", car="7", at_ms=moment_ms(at) or 0, document=fitting(tree, Log))


def test_what_was_logged_is_told_where_no_revision_that_led_there_has_it() -> None:
    """A log that becomes a revision after the race does not change what was raced."""
    book = Written()
    first = book.setup("7", at="2026-05-01T10:00Z")
    heat = book.ran(night(0), "heat-1", first, laps(17), at="2026-05-01T12:00Z")
    feature = book.ran(night(0), "feature", first, laps(17), at="2026-05-01T14:00Z")
    later = book.setup("7", note="as logged", at="2026-05-01T22:00Z", after=[first])
    final = book.ran(night(1), "heat-1", later, laps(17), at="2026-05-02T12:00Z")
    perch = logged("2026-05-01-1300", "2026-05-01T13:00Z", by="Chris", taken_into=later)
    found = book.report(logs=[perch])
    assert [len(ran(found, each).logs) for each in (heat, feature, final)] == [0, 1, 0]
    told = ran(found, feature)
    [log] = told.logs
    assert (log.log, log.by, log.words, log.taken_into) == ("7/2026-05-01-1300", "Chris", "RR perch +2", later)
    assert log.changes == ["setup.rear.rr.spring.perch.thread_showing_in+=2 turns"]
    assert "the car was not as written" in (told.left_out or "")
    assert not ran(found, final).left_out
    [record] = found.cars[0].tracks
    assert record.best
    assert record.best.outing == heat
    assert not record.best.not_as_written


def test_what_was_logged_before_a_revision_that_is_not_of_it_is_told_but_may_be_in_it() -> None:
    book = Written()
    book.ran(night(0), "heat-1", book.setup("7"), laps(17), at="2026-05-01T12:00Z")
    other = book.setup("7", at="2026-05-01T13:30Z", settings={STUD: 1.3})
    feature = book.ran(night(0), "feature", other, laps(17), at="2026-05-01T14:00Z")
    told = ran(book.report(logs=[logged("2026-05-01-1300", "2026-05-01T13:00Z")]), feature)
    assert (len(told.logs), told.left_out) == (1, UNSET)


def untimed(book: Written) -> None:
    """Take the time of the outing that was written last."""
    end = moment_ms(f"{book.outings[-1].event[:10]}T23:59:59.999Z") or 0
    book.outings[-1] = dataclasses.replace(book.outings[-1], at_ms=end, timed=False)


@pytest.mark.parametrize("at", ["2026-05-01T11:00-05:00", "2026-05-01T20:30-05:00"])
def test_without_a_time_nobody_can_say_whether_the_log_of_that_day_came_before(at: str) -> None:
    """In the evening west of Greenwich it is the next day in UTC."""
    book = Written()
    first = book.setup("7", at="2026-05-01T10:00Z")
    outing = book.ran(night(0), "feature", first, laps(17))
    untimed(book)
    log = logged("2026-05-01-1", at)
    told = ran(book.report(logs=[dataclasses.replace(log, day=dt.date(2026, 5, 1))]), outing)
    assert [each.log for each in told.logs] == ["7/2026-05-01-1"]
    assert told.left_out == (
        "the outing has no time, and 7/2026-05-01-1 was turned that day: "
        "nobody can say which came first, nor whether the car was as written"
    )
    [record] = book.report(logs=[dataclasses.replace(log, day=dt.date(2026, 5, 1))]).cars[0].tracks
    assert record.best
    assert record.best.not_as_written == told.left_out
    other = dataclasses.replace(log, day=dt.date(2026, 5, 2), at_ms=log.at_ms + 86_400_000)
    assert ran(book.report(logs=[other]), outing).left_out is UNSET


def test_a_log_without_a_time_may_have_come_before_or_after() -> None:
    book = Written()
    outing = book.ran(night(0), "feature", book.setup("7", at="2026-05-01T10:00Z"), laps(17), at="2026-05-01T12:00Z")
    log = logged("2026-05-01-1", "2026-05-01T00:00Z")
    told = ran(book.report(logs=[dataclasses.replace(log, timed=False, day=dt.date(2026, 5, 1))]), outing)
    assert (told.left_out or "").startswith("7/2026-05-01-1 has no time: nobody can say")


def test_what_came_before_an_outing_with_a_time_came_before_those_after_it() -> None:
    book = Written()
    first = book.setup("7", at="2026-05-01T10:00Z")
    heat = book.ran(night(0), "heat-1", first, laps(17), at="2026-05-01T18:00Z", kind="heat")
    feature = book.ran(night(0), "feature", first, laps(17), kind="feature")
    untimed(book)
    for at, left_out in (("T17:00Z", ("was turned after", "was turned after")), ("T19:00Z", ("", "nobody can say"))):
        log = dataclasses.replace(logged("2026-05-01-1", f"2026-05-01{at}"), day=dt.date(2026, 5, 1))
        found = book.report(logs=[log])
        for name, said in zip((heat, feature), left_out, strict=True):
            assert said in (ran(found, name).left_out or "")
        assert bool(ran(found, heat).left_out) is bool(left_out[0])


def test_a_best_lap_of_a_car_that_was_not_as_written_says_so() -> None:
    book = Written()
    fast = book.ran(night(0), "heat-1", book.setup("7"), laps(16), at="2026-05-01T12:00Z")
    [record] = book.report(logs=[logged("2026-05-01-1100", "2026-05-01T11:00Z")]).cars[0].tracks
    assert record.best
    assert (record.best.outing, record.worst) == (fast, record.best)
    assert "7/2026-05-01-1100 was turned" in (record.best.not_as_written or "")


def test_the_first_outing_of_some_days_is_told_against_the_last_one_before() -> None:
    book = Written()
    first = book.setup("7", note="as surveyed")
    before = book.ran(night(0), "feature", first, laps(17))
    scaled = book.setup("7", note="scaled", at="2026-05-03T12:00Z", after=[first], settings={"notes": "on the pads"})
    longer = book.setup("7", note="too tight in", at="2026-05-04T12:00Z", after=[scaled], settings={STUD: 1.3})
    name = book.ran(night(8), "heat-1", longer, laps(17))
    for asked in ({}, {"since": dt.date(2026, 5, 9)}):
        told = ran(book.report(**asked), name)
        assert (told.since, told.descent, told.descent_detail) == (before, "follows", UNSET)
        assert [(each.path, each.before, each.after) for each in told.changes] == [(STUD, 1.2, 1.3)]
        assert [(each.revision, each.note, each.author.name) for each in told.revisions] == [
            (scaled, "scaled", "Ada"),
            (longer, "too tight in", "Ada"),
        ]
        assert told.revisions[0].at == dt.datetime(2026, 5, 3, 12, tzinfo=dt.UTC)
        assert told.against
        assert told.against.detail == "not compared with it: another night"
    assert not ran(book.report(), before).since
    alone = book.report(since=dt.date(2026, 5, 9))
    assert (alone.cars[0].totals.outings, len(alone.cars[0].nights)) == (1, 1)


def test_it_is_told_against_the_last_outing_whose_setup_can_be_read() -> None:
    book = Written()
    first = book.ran(night(0), "hot-laps", book.setup("7"), laps(17))
    unknown = book.ran(night(0), "heat-1", "f" * 64, laps(17))
    last = book.ran(night(0), "feature", book.setup("7", settings={STUD: 1.3}), laps(17))
    found = book.report()
    assert (ran(found, unknown).since, ran(found, unknown).changes) == (first, [])
    told = ran(found, last)
    assert (told.since, told.factors) == (first, ["RF upper stud"])
    assert told.against
    assert (told.against.outing, told.against.verdict) == (unknown, "unlike")


def test_back_to_a_sheet_tells_what_was_recorded_since_it_was_raced_last() -> None:
    book = Written()
    race = book.setup("7")
    slick = book.setup("7", sheet="slick", note="for dry-slick", carried_from=race, settings={STUD: 1.3})
    again = book.setup("7", note="after the slick night", after=[race], settings={SHIMS: 0.3125})
    names = [book.ran(night(place), "heat-1", each, laps(17)) for place, each in enumerate((race, slick, again, race))]
    found = book.report()
    told = [ran(found, name) for name in names]
    assert [each.descent for each in told] == [UNSET, "sheet", "sheet", "back"]
    assert told[1].descent_detail == f"of another sheet: 7/slick, after 7/race; carried from {race[:12]} of 7/race"
    assert [[note.note for note in each.revisions] for each in told] == [
        [],
        ["for dry-slick"],
        ["after the slick night"],
        [],
    ]
    assert told[1].revisions[0].carried_from == race


def test_an_erased_setup_is_said_to_be() -> None:
    book = Written()
    _, second = evening(book, [{}, {STUD: 1.3}], [17, 16])
    id_ = book.outings[1].document.revision
    assert isinstance(id_, str)
    book.revisions[id_] = RacedRevision(car="7", at_ms=0, note="", body=b"")
    told = ran(book.report(), second)
    assert (told.left_out, told.changes) == ("the revision raced was erased", [])


def test_past_an_erased_setup_all_that_was_recorded_is_told_since_the_last_that_can_be_read() -> None:
    book = Written()
    first = book.setup("7")
    gone = book.setup("7", after=[first], note="gone", settings={STUD: 1.3})
    last = book.setup("7", after=[gone], note="back", settings={SHIMS: 0.3125})
    names = [book.ran(night(0), f"heat-{place}", each, laps(17)) for place, each in enumerate((first, gone, last))]
    book.revisions[gone] = RacedRevision(car="7", at_ms=0, note="", body=b"")
    book.heads[gone] = dataclasses.replace(book.heads[gone], note="", erased=True)
    told = ran(book.report(), names[2])
    assert (told.since, told.factors, told.descent) == (names[0], ["RF shims"], "follows")
    assert [(each.revision, each.note, each.erased) for each in told.revisions] == [
        (gone, "", True),
        (last, "back", False),
    ]


def test_readings_and_words_are_no_change_of_the_car() -> None:
    book = Written()
    _, second = evening(book, [{}, {"notes": "loose", "measured.scales.rf_lb": 503}], [17, 16.8])
    told = ran(book.report(), second)
    assert len(told.changes) == 2
    assert told.factors == []
    assert told.against
    assert told.against.verdict == "held"


def test_nights_are_in_order_and_outings_as_a_night_goes_where_times_are_missing() -> None:
    book = Written()
    for event in ("2026-05-09-north", "2026-05-02-south"):
        for run, kind in (("feature", "feature"), ("heat-1", "heat"), ("hot-laps", "hot_laps")):
            book.ran(event, run, book.setup("7"), laps(17), kind=kind)
    book.outings = [dataclasses.replace(outing, timed=False) for outing in book.outings]
    [car] = book.report().cars
    assert [each.event for each in car.nights] == ["2026-05-02-south", "2026-05-09-north"]
    assert [each.run for each in car.nights[0].outings] == ["hot-laps", "heat-1", "feature"]


def test_tires_age_by_the_laps_their_tags_ran() -> None:
    book = Written()
    soft: dict[str, Any] = {"tires": {"rr": {"part": "t-1"}, "lr": {"part": "t-2"}}}
    for place in range(3):
        book.ran(night(0), f"heat-{place}", book.setup("7"), laps(17), **soft)
    last = book.ran(
        night(1), "heat-0", book.setup("7", settings={COMPOUND: "hard"}), laps(17), tires={"rr": {"part": "t-1"}}
    )
    told = ran(book.report(), last)
    assert told.tire_laps == {"rr": 15}
    assert ran(book.report(), book.outings[1].name).tire_laps == {"lr": 5, "rr": 5}


def test_only_days_asked_for_are_told_but_tires_ran_before() -> None:
    book = Written()
    for number in range(4):
        book.ran(night(number), "heat-1", book.setup("7"), laps(17), tires={"rr": {"part": "t-1"}})
    found = book.report(since=dt.date(2026, 5, 2), to=dt.date(2026, 5, 3))
    assert [each.event for each in found.cars[0].nights] == [night(1), night(2)]
    assert (found.since, found.to) == ("2026-05-02", "2026-05-03")
    assert ran(found, f"{night(1)}/7/heat-1").tire_laps == {"rr": 5}


def test_best_and_worst_by_track_and_state_with_counts() -> None:
    book = Written()
    medians = [17.4, 17.0, 17.2, 17.1]
    names = [
        book.ran(night(number), "heat-1", book.setup("7", settings={STUD: 1.2 + number / 10}), laps(median))
        for number, median in enumerate(medians)
    ]
    book.ran("2026-05-20-south", "heat-1", book.setup("7"), laps(14), track_state="tacky")
    north, south = book.report().cars[0].tracks
    assert (north.track, north.track_state, north.nights, north.outings) == ("north", "slick", 4, 4)
    assert north.best
    assert north.worst
    assert north.best_lap
    assert (north.best.outing, north.worst.outing) == (names[1], names[0])
    assert north.best_lap.time_s == 16.9
    assert north.best.revision == book.outings[1].document.revision
    assert north.low_s
    assert north.low_s < 17.175 < (north.high_s or 0)
    assert (south.track, south.nights) == ("south", 1)
    assert not south.low_s
