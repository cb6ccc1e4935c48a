"""Whether a part is fit to go on a car, and into which seats a stud goes. Numbers are invented."""

import math
from typing import Any

import pytest

from studbook_service.night.fit import elsewhere, misfit, same_taper, unfit
from studbook_service.night.shelf import shelf, studs
from studbook_service.night.whereabouts import DatedRecord

SEAT = {"length_in": 1.2, "taper_included_deg": 7.15, "seat_diameter_in": 0.62, "ball_diameter_in": 1.1}


@pytest.mark.parametrize("off", [0.0, 0.199, 0.201, 1.0])
def test_tapers_are_one_within_a_fifth_of_a_degree(off: float) -> None:
    # Both spellings of a taper: t in per ft has 2 atan(t / 24).
    slope = 24 * math.tan(math.radians(7.15 + off) / 2)
    assert same_taper(7.15 + off, 7.15) is same_taper(7.15 - off, 7.15) is (off < 0.2)
    assert bool(misfit({"stud": {"taper": {"in_per_ft": slope}}}, SEAT)) is (off > 0.2)


def test_a_ball_of_another_size_does_not_go_into_the_housing() -> None:
    assert misfit({"stud": {"ball_diameter_in": 1.0}}, SEAT) == "its ball is 1 in, there it is 1.1 in"
    assert misfit({"stud": {"ball_diameter_in": 1.1}}, SEAT) == ""


def test_what_left_a_corner_after_contact_is_unfit_until_it_is_inspected() -> None:
    """The contact was told of the other stud of that corner; in the trailer this one looks like any spare."""
    upper = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}

    def done(part: str, at_ms: int, what: str, **body: Any) -> DatedRecord:
        return DatedRecord(name=f"{part}/{what}-{at_ms}", tip="", at_ms=at_ms, body={"what": what, **body})

    parts = {part: {"kind": "stud", "stud": {"length_in": 1.2}} for part in ("s-1", "s-2")}
    told = {
        "s-1": [done("s-1", 1, "fitted", place=upper), done("s-1", 4, "moved", place={"where": "trailer"})],
        "s-2": [done("s-2", 1, "fitted", place=upper | {"slot": "lower_stud"}), done("s-2", 3, "contact")],
    }
    (one, _), _ = shelf(parts, told, [])
    assert [alert.code for alert in one.alerts] == ["inspect"]
    (tire, _), _ = shelf(parts | {"s-1": {"kind": "tire"}}, told, [])
    assert tire.alerts == []
    assert (bool(unfit(one)), elsewhere(one), studs([one])) == (True, "", [])
    sound = {"straight": True, "signed_by": "Ada"}
    told["s-1"].append(done("s-1", 5, "inspected", inspected=sound))
    (one, _), _ = shelf(parts, told, [])
    assert (one.alerts, unfit(one), len(studs([one]))) == ([], "", 1)
    # Inspected with the whole corner while it was there, it needs none of its own.
    told["s-1"].pop()
    told["s-2"].append(done("s-2", 4, "inspected", inspected=sound | {"whole_corner": True}))
    told["s-1"][-1] = done("s-1", 5, "moved", place={"where": "trailer"})
    (one, _), _ = shelf(parts, told, [])
    assert one.alerts == []
