"""Contact, and inspections by shop record and by a card's tick: what settles a corner. All is invented."""

from typing import Any

import pytest

from studbook_service.night.corners import corner_alerts
from studbook_service.night.facts import Facts
from studbook_service.night.impossible import impossible
from studbook_service.night.shelf import shelf
from studbook_service.night.whereabouts import DatedRecord

RF = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
HOUR = 3_600_000
GOOD = {"straight": True, "signed_by": "Ada", "method": "dial, dye"}
BENT = {"straight": False, "bent_by_in": 0.03, "signed_by": "Robin", "method": "dial"}
PARTS = {"s-1": {"kind": "stud"}}


def shop(hour: float, what: str, **body: Any) -> DatedRecord:
    return DatedRecord(name=f"s-1/1970-01-01-{what}-1", tip="", at_ms=int(hour * HOUR), body={"what": what, **body})


def card(
    *ticks: tuple[float | None, str, Any], name: str = "7/1970-01-01-2030", tip: str = "", hour: float = 0
) -> DatedRecord:
    """A card with inspections ticked, each at an hour of 1970-01-01 or without a time."""
    done = {}
    for at, corner, inspected in ticks:
        time = {} if at is None else {"at": f"1970-01-01T{int(at):02d}:{round(at % 1 * 60):02d}Z"}
        done[f"inspect-{corner}"] = {**time, "inspected": inspected}
    return DatedRecord(name=name, tip=tip, at_ms=int(hour * HOUR), body={"crew": 2, "done": done})


def corners(*cards: DatedRecord, told: tuple[DatedRecord, ...] = ()) -> list[tuple[str, str]]:
    """The corners with their alerts, after contact at 20:00."""
    records = {"s-1": [shop(10, "fitted", place=RF), shop(20, "contact"), *told]}
    return [(str(each.corner), each.code) for each in shelf(PARTS, records, [], cards)[1]]


def alerts(*cards: DatedRecord) -> list[str]:
    """The part's own alerts then."""
    records = {"s-1": [shop(10, "fitted", place=RF), shop(20, "contact")]}
    return [each.code for each in shelf(PARTS, records, [], cards)[0][0].alerts]


def test_a_ticked_inspection_is_the_inspection() -> None:
    ticked = card((20.5, "rf", GOOD))
    assert (corners(ticked), alerts(ticked)) == ([], [])
    for nothing in (
        card((19.5, "rf", GOOD)),
        card((20.5, "lf", GOOD)),
        card((20.5, "rf", {"straight": True})),
        card((20.5, "rf", {"signed_by": "Ada"})),
        card((20.5, "rf", {})),
        card((20.5, "rf", "yes")),
        card((20.5, "rf", GOOD), name="12/1970-01-01-2030"),
        # Without a time nobody knows whether it was before the contact.
        card((None, "rf", GOOD), hour=23),
    ):
        assert (corners(nothing), alerts(nothing)) == ([("rf", "inspect")], ["inspect"]), nothing


def test_one_that_found_the_corner_bent_settles_nothing_and_says_so() -> None:
    bent = card((20.5, "rf", BENT))
    records = {"s-1": [shop(10, "fitted", place=RF), shop(20, "contact")]}
    [alert] = shelf(PARTS, records, [], [bent])[1]
    assert (alert.code, alert.car, alert.corner, alert.part or None) == ("bent", "7", "rf", None)
    for said in ("bent by 0.03 in", "Robin", "dial", "7/1970-01-01-2030", "1970-01-01 20:30Z", "never straighten"):
        assert said in alert.detail
    assert alerts(bent) == ["inspect"]
    # Nothing about what was found needs a signature or a time to be a warning; and it needs no contact before it.
    unsigned = card((None, "rf", {"straight": False}), hour=21)
    assert corners(unsigned) == [("rf", "bent")]
    assert [each.code for each in shelf({}, {}, [], [unsigned])[1]] == ["bent"]
    # A part that was found bent is a record of the part, and leaves the corner as it was.
    alone = shop(21, "inspected", inspected=BENT)
    assert corners(told=(alone,)) == [("rf", "inspect")]
    assert corners(told=(shop(21, "inspected", inspected=BENT | {"whole_corner": True}),)) == [("rf", "bent")]


def test_a_later_one_that_finds_it_straight_settles_both() -> None:
    bent, again = card((20.5, "rf", BENT)), card((21.5, "rf", GOOD), name="7/1970-01-01-2130")
    assert corners(bent, again) == []
    assert corners(bent, told=(shop(22, "inspected", inspected=GOOD | {"whole_corner": True}),)) == []
    # Of one minute nobody knows which was first.
    assert corners(bent, card((20.5, "rf", GOOD), name="7/1970-01-01-2031")) == [("rf", "bent")]
    assert corners(bent, again, card((22, "rf", BENT), name="7/1970-01-01-2200")) == [("rf", "bent")]
    assert corners(again, told=(shop(23, "contact"),)) == [("rf", "inspect")]


@pytest.mark.parametrize("hours", [(20.5, 21.5), (21.5, 20.5)])
def test_where_the_sides_of_a_split_card_differ_the_bent_one_counts(hours: tuple[float, float]) -> None:
    straight, bent = card((hours[0], "rf", GOOD), tip="a"), card((hours[1], "rf", BENT), tip="b")
    assert corners(straight, bent) == [("rf", "bent")]
    assert corners(straight, card(tip="b")) == []


def test_a_part_is_inspected_with_any_whole_corner_that_it_was_on() -> None:
    told = {
        "s-1": [shop(10, "fitted", place=RF), shop(20, "contact"), shop(22, "removed")],
        "s-2": [
            DatedRecord(name="s-2/1970-01-01-fitted-1", tip="", at_ms=22 * HOUR, body={"what": "fitted", "place": RF})
        ],
    }
    first, second = card((21, "rf", GOOD)), card((23, "rf", GOOD), name="7/1970-01-01-2300")
    states, _ = shelf({"s-1": {}, "s-2": {}}, told, [], [first, second])
    assert [state.alerts for state in states] == [[], []]
    states, _ = shelf({"s-1": {}, "s-2": {}}, told, [], [second])
    assert [[alert.code for alert in state.alerts] for state in states] == [["inspect"], []]


def test_what_was_done_after_the_time_asked_for_does_not_count() -> None:
    told = {"s-1": [shop(10, "fitted", place=RF), shop(20, "contact")]}
    ticked = card((21, "rf", GOOD))
    assert [each.corner for each in corner_alerts(told, cards=[ticked], car="7", until_ms=int(20.5 * HOUR))] == ["rf"]
    assert corner_alerts(told, cards=[ticked], car="7", until_ms=22 * HOUR) == []
    assert corner_alerts(told, cards=[ticked], car="7", until_ms=19 * HOUR) == []


def faults(body: dict[str, Any]) -> set[str]:
    facts = Facts(cars=frozenset({"7"}), cards=[DatedRecord(name="7/1970-01-01-2030", tip="", at_ms=0, body=body)])
    return {str(each.path) for each in impossible("work", "7/1970-01-01-2030", body, facts)}


def test_an_inspection_is_ticked_with_time_finding_and_signer() -> None:
    tick = {"at": "1970-01-01T20:30Z", "inspected": GOOD}
    assert faults({"done": {"inspect-rf": tick}}) == set()
    rf = "done.inspect-rf"
    for wrong, paths in (
        ({"by": "Ada"}, {f"{rf}.at", f"{rf}.inspected.straight", f"{rf}.inspected.signed_by"}),
        (tick | {"inspected": {"straight": True}}, {f"{rf}.inspected.signed_by"}),
        (tick | {"inspected": {"signed_by": "Ada"}}, {f"{rf}.inspected.straight"}),
        (tick | {"inspected": GOOD | {"bent_by_in": 0.1}}, {f"{rf}.inspected.bent_by_in"}),
        (tick | {"inspected": GOOD | {"whole_corner": False}}, {f"{rf}.inspected.whole_corner"}),
        (tick | {"at": "yesterday"}, {f"{rf}.at"}),
    ):
        assert faults({"done": {"inspect-rf": wrong}}) == paths
    assert faults({"done": {"inspect-rt": tick}}) == {"done.inspect-rt"}
    assert faults({"done": {"toe": tick}}) == {"done.toe.inspected"}
    assert faults({"done": {"inspect-rf": "yes", "toe": 5}}) == set()


def test_a_card_is_signed_with_every_planned_job_ticked_or_named() -> None:
    signed = {"at": "1970-01-01T22:00Z", "by": "Ada"}
    body = {"planned": ["gear", "toe", "inspect-rf"], "done": {"gear": {"by": "Robin"}}, "signed_off": signed}
    assert faults(body) == {"signed_off.unfinished"}
    assert faults(body | {"signed_off": signed | {"unfinished": ["toe"]}}) == set()
    assert faults(body | {"done": {"gear": {}, "toe": {}}}) == set()
    assert faults({"signed_off": signed}) == set()
    assert faults(body | {"planned": [{}, 5], "signed_off": signed | {"unfinished": "all"}}) == set()
    between = {"since": "ab", "revision": "cd", "signed_off": signed}
    assert faults(between) == {"since", "revision", "planned"}
    assert faults(between | {"planned": []}) == {"since", "revision"}
