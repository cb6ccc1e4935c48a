"""Where a part was: laws that hold for any records in any order, and the few cases a crew would argue about."""

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from studbook_service.night.whereabouts import DatedRecord, whereabouts

CARS = ("7", "12", "21")


def told(number: int, what: str, car: str | None = None, **place: str) -> DatedRecord:
    body: dict[str, Any] = {"what": what}
    if car or place:
        body["place"] = place | ({"car": car} if car else {})
    return DatedRecord(name=f"s/{number}", tip=f"{number:02}", at_ms=number * 1000, body=body)


@st.composite
def records(draw: st.DrawFn) -> list[DatedRecord]:
    made = []
    for number in range(draw(st.integers(0, 12))):
        what = draw(st.sampled_from(["fitted", "moved", "removed", "preload", "contact", "scrapped"]))
        car = draw(st.sampled_from(CARS)) if what in ("fitted", "moved") else None
        made.append(told(number, what, car))
    return made


@given(records(), st.randoms())
@settings(max_examples=200)
def test_the_order_in_which_records_come_does_not_matter(found: list[DatedRecord], random: Any) -> None:
    shuffled = list(found)
    random.shuffle(shuffled)
    assert whereabouts(shuffled) == whereabouts(found)


@given(records())
@settings(max_examples=200)
def test_without_a_clash_a_part_is_at_one_place_at_a_time(found: list[DatedRecord]) -> None:
    where = whereabouts(found)
    for number in range(13):
        here = where.at(number * 1000)
        # Counted by hand: the last record of a move, until it was scrapped, says where.
        said = [each for each in found if each.what in ("fitted", "moved", "removed") and each.at_ms <= number * 1000]
        assert len(here) >= min(1, len(said)) or where.scrapped
        if not where.clashes:
            assert len(here) <= 1
            if here:
                assert here[0].record == said[-1]


def test_a_second_car_without_a_removal_is_a_clash_and_both_stand() -> None:
    where = whereabouts([told(1, "fitted", "7"), told(2, "fitted", "12")])
    assert [(clash.earlier.name, clash.later.name) for clash in where.clashes] == [("s/1", "s/2")]
    assert [stay.place["car"] for stay in where.now()] == ["7", "12"]


def test_moved_and_refitted_on_one_car_is_none() -> None:
    found = [told(1, "fitted", "7", corner="lf"), told(2, "fitted", "7", corner="rf"), told(3, "moved", "12")]
    where = whereabouts(found)
    assert where.clashes == []
    assert [stay.place["car"] for stay in where.now()] == ["12"]


def test_what_was_scrapped_is_nowhere_and_does_not_come_back() -> None:
    where = whereabouts([told(1, "fitted", "7"), told(2, "scrapped"), told(3, "fitted", "7")])
    assert where.scrapped
    assert where.clashes[0].why == "it was scrapped by s/2"
    assert where.at(1500)[0].place["car"] == "7"
