"""How parts stand: laps and nights, preload against target, contact until it is signed for. Numbers are invented."""

from dataclasses import replace
from typing import Any

import pytest

from studbook_service.night.fit import unfit
from studbook_service.night.shelf import OutingLaps, shelf, studs
from studbook_service.night.times import latest_ms, moment_ms
from studbook_service.night.whereabouts import DatedRecord

UPPER = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
LOWER = UPPER | {"slot": "lower_stud"}
HOUR = 3_600_000


def done(part: str, hour: float, what: str, **body: Any) -> DatedRecord:
    return DatedRecord(name=f"{part}/{what}-{hour:g}", tip="", at_ms=int(hour * HOUR), body={"what": what, **body})


def of(*records: DatedRecord) -> dict[str, list[DatedRecord]]:
    found: dict[str, list[DatedRecord]] = {}
    for record in records:
        found.setdefault(record.name.partition("/")[0], []).append(record)
    return found


def test_laps_and_nights_count_while_the_part_was_on_the_car() -> None:
    ran = [
        OutingLaps(event="north", car="7", at_ms=19 * HOUR, laps=8),
        OutingLaps(event="north", car="7", at_ms=21 * HOUR, laps=20),
        OutingLaps(event="north", car="12", at_ms=20 * HOUR, laps=99),
        OutingLaps(event="south", car="12", at_ms=43 * HOUR, laps=5),
        OutingLaps(event="south", car="7", at_ms=43 * HOUR, laps=25),
    ]
    told = of(
        done("s-1", 18, "fitted", place=UPPER),
        done("s-1", 30, "removed"),
        done("s-1", 40, "fitted", place=UPPER | {"car": "12"}),
        done("s-2", 20, "fitted", place=LOWER),
    )
    (one, two), _ = shelf({"s-1": {"kind": "stud"}, "s-2": {"kind": "stud"}}, told, ran)
    assert (one.laps, one.outings, one.nights) == (8 + 20 + 5, 3, 2)
    assert (two.laps, two.outings, two.nights) == (20 + 25, 2, 2)
    assert [place.car for place in one.places] == ["12"]


def test_a_pull_scale_reads_force_times_lever_and_drift_is_told_for_one_basis_only() -> None:
    part: dict[str, Any] = {"kind": "joint", "preload": {"target_in_lb": 10, "basis": "running"}}
    readings = [
        {"basis": "running", "torque_in_lb": 11},
        {"basis": "breakaway", "torque_in_lb": 30},
        {"basis": "running", "pull_lb": 1.5, "lever_in": 9},
    ]
    told = of(*(done("j-1", 10 + hour, "preload", preload=read) for hour, read in enumerate(readings)))
    [state], _ = shelf({"j-1": part}, told, [])
    # 1.5 lb at 9 in, by hand: 13.5 in lb.
    assert [(read.torque_in_lb, read.drift_in_lb or None) for read in state.preloads] == [
        (11, 1),
        (30, None),
        (13.5, 3.5),
    ]
    assert [alert.code for alert in state.alerts] == ["preload"]
    assert "+3.5 in-lb off its target" in state.alerts[0].detail
    [state], _ = shelf({"j-1": part | {"preload": part["preload"] | {"tolerance_in_lb": 4}}}, told, [])
    assert state.alerts == []


def test_contact_stays_until_the_whole_corner_was_inspected_and_signed() -> None:
    parts = {"s-1": {"kind": "stud"}, "s-2": {"kind": "stud"}}
    fitted = [done("s-1", 10, "fitted", place=UPPER), done("s-2", 10, "fitted", place=LOWER)]
    contact = done("s-1", 20, "contact")
    states, corners = shelf(parts, of(*fitted, contact), [])
    assert [(each.car, each.corner, each.code) for each in corners] == [("7", "rf", "inspect")]
    assert [[alert.code for alert in state.alerts] for state in states] == [["inspect"], []]

    unsigned = done("s-1", 21, "inspected", inspected={"straight": True, "whole_corner": True})
    assert shelf(parts, of(*fitted, contact, unsigned), [])[1] == corners
    alone = done("s-1", 21, "inspected", inspected={"straight": True, "signed_by": "Ada"})
    states, still = shelf(parts, of(*fitted, contact, alone), [])
    assert still == corners
    assert states[0].alerts == []
    whole = done("s-2", 22, "inspected", inspected={"straight": True, "whole_corner": True, "signed_by": "Ada"})
    states, corners = shelf(parts, of(*fitted, contact, whole), [])
    assert (corners, states[0].alerts) == ([], [])
    again = done("s-2", 23, "contact")
    assert shelf(parts, of(*fitted, contact, whole, again), [])[1][0].part == "s-2"


def test_a_part_that_left_the_corner_is_inspected_by_itself() -> None:
    told = of(
        done("s-1", 10, "fitted", place=UPPER),
        done("s-1", 20, "contact"),
        done("s-1", 21, "removed"),
        done("s-2", 21, "fitted", place=UPPER),
        done("s-2", 22, "inspected", inspected={"straight": True, "whole_corner": True, "signed_by": "Ada"}),
    )
    (one, two), corners = shelf({"s-1": {"kind": "stud"}, "s-2": {"kind": "stud"}}, told, [])
    assert corners == []
    assert [alert.code for alert in one.alerts] == ["inspect"]
    assert two.alerts == []


def test_bent_loose_and_doubled_parts_are_told() -> None:
    told = of(
        done("s-1", 10, "fitted", place=UPPER),
        done("s-1", 11, "play", play_in=0.012),
        done("s-1", 12, "inspected", inspected={"straight": False, "bent_by_in": 0.03, "signed_by": "Ada"}),
        done("s-2", 13, "fitted", place=UPPER),
    )
    (one, two), _ = shelf({"s-1": {"kind": "stud", "play_limit_in": 0.01}, "s-2": {"kind": "stud"}}, told, [])
    assert [alert.code for alert in one.alerts] == ["bent", "loose", "shared"]
    assert "bent by 0.03 in: scrap it, never straighten it" in one.alerts[0].detail
    assert [alert.code for alert in two.alerts] == ["shared"]
    told["s-1"].append(done("s-1", 14, "scrapped"))
    (one, two), _ = shelf({"s-1": {"kind": "stud"}, "s-2": {"kind": "stud"}}, told, [])
    assert (one.scrapped, one.alerts, two.alerts) == (True, [], [])


def test_studs_at_hand_are_counted_by_size() -> None:
    long: dict[str, Any] = {"kind": "stud", "stud": {"length_in": 1.7, "taper": {"in_per_ft": 1.5}}}
    parts: dict[str, dict[str, Any]] = {
        "s-1": long,
        "s-2": long,
        "s-3": {"kind": "stud", "stud": {"length_in": 1.2, "taper": {"included_deg": 7.15}}},
        "s-4": long,
        "s-5": long,
        "j-1": {"kind": "joint"},
    }
    told = of(
        *(done(tag, 1, "moved", place={"where": where}) for tag, where in (("s-1", "shelf"), ("s-2", "trailer"))),
        *(done(tag, 1, "moved", place={"where": "shelf"}) for tag in ("s-3", "s-4", "j-1")),
        done("s-4", 2, "scrapped"),
        done("s-5", 1, "fitted", place=UPPER),
    )
    states, _ = shelf(parts, told, [])
    assert [(size.length_in, size.taper_included_deg, size.count, size.parts) for size in studs(states)] == [
        (1.2, 7.15, 1, ["s-3"]),
        (1.7, 7.15, 2, ["s-1", "s-2"]),
    ]


def test_what_came_in_no_known_form_hinders_nothing() -> None:
    told = of(
        done("s-1", 1, "fitted", place="on the car"),
        done("s-1", 2, "preload", preload=[1]),
        done("s-1", 3, "inspected", inspected="yes"),
        DatedRecord(name="s-1/x", tip="", at_ms=4, body={"what": ["fitted"], "play_in": "0.1"}),
    )
    [state], corners = shelf({"s-1": {"kind": 5, "preload": {"target_in_lb": "ten"}}}, told, [])
    assert (state.alerts, corners, state.preloads) == ([], [], [])


def test_times_are_read_as_they_are_written() -> None:
    # RFC 3339, 5.8: these three are one instant.
    same = {moment_ms(text) for text in ("1990-12-31T15:59:00-08:00", "1990-12-31T23:59Z", "1990-12-31T23:59:00+00:00")}
    assert len(same) == 1
    assert moment_ms("2026-05-02T19:40") is None
    for wrong in (None, 5, "20260502T1940Z", "2026-W18-6T19:40Z", "2026-02-30T10:00Z", "0001-01-01T00:00+14:00"):
        assert moment_ms(wrong) is None
    assert (latest_ms("1970-01-01T00:01-00:00"), latest_ms("1970-01-01T00:01:00Z")) == (119_999, 60_000)


@pytest.mark.parametrize(
    ("sides", "said"),
    [
        ([{"stud": {"length_in": 1.7}}, {"stud": {"length_in": 1.75}}], "stud.length_in"),
        ([{"stud": {"length_in": 1.7}}, {}], "stud.length_in"),
        ([{"kind": "stud"}, {"kind": "spring"}], "kind"),
        ([{"stud": {"taper": {"in_per_ft": 1.5}}}, {"stud": {"taper": {"in_per_ft": 2}}}], "stud.taper.in_per_ft"),
        # 2 atan(1.5/24), by hand: 7.153 deg.
        ([{"stud": {"taper": {"in_per_ft": 1.5}}}, {"stud": {"taper": {"included_deg": 7.15}}}], ""),
        ([{"notes": "new", "price_usd": 40, "preload": {"target_in_lb": 9}}, {"about": "long", "supplier": "B"}], ""),
        ([{"play_limit_in": 0.01}, {"play_limit_in": 0.02}], "play_limit_in"),
        ([{"stud": 5}, {"stud": {"length_in": 1.7}}], "stud, stud.length_in"),
    ],
)
def test_a_part_recorded_differently_is_told_where_it_matters(sides: list[Any], said: str) -> None:
    [state], _ = shelf({"s-1": sides[0]}, {}, [], sides={"s-1": sides})
    detail = f"s-1 is recorded differently on two sides ({said}): settle it first, studbook part correct s-1"
    assert [(alert.code, alert.detail) for alert in state.alerts] == ([("split", detail)] if said else [])


def two(what: str, *bodies: dict[str, Any], hours: tuple[float, float] = (20, 20)) -> list[DatedRecord]:
    """Two sides of one shop record."""
    made = [done("s-1", hour, what, **body) for hour, body in zip(hours, bodies, strict=True)]
    return [replace(each, name="s-1/2026-05-02-x-1", tip=tip) for each, tip in zip(made, "ab", strict=True)]


@pytest.mark.parametrize(
    ("sides", "apart"),
    [
        (two("moved", {"place": {"where": "shelf"}}, {"place": {"where": "trailer"}}), True),
        (two("play", {"play_in": 0.01}, {"play_in": 0.02}), True),
        (two("moved", {"place": {"where": "shelf"}}, {"place": {"where": "shelf"}, "notes": "top one"}), False),
        (two("preload", {"preload": {"torque_in_lb": 9}}, {"preload": {"torque_in_lb": 10}}), False),
        # At other times: it matters if something else was done between them.
        (two("removed", {}, {}, hours=(20, 21)), False),
        (two("removed", {}, {}, hours=(20, 23)), True),
    ],
)
def test_what_was_done_recorded_differently_is_told_where_it_matters(sides: list[DatedRecord], *, apart: bool) -> None:
    told = of(done("s-1", 18, "fitted", place=UPPER), done("s-1", 22, "fitted", place=UPPER), *sides)
    [state], _ = shelf({"s-1": {"kind": "stud"}}, told, [])
    assert ["split"] * apart == [alert.code for alert in state.alerts]
    assert all(alert.detail.endswith("studbook shop correct s-1/2026-05-02-x-1") for alert in state.alerts)
    assert bool(unfit(state)) is apart
