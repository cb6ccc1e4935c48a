"""Which studs of the book may be put in: fit, there, and of the taper that the seat has. Numbers are invented."""

from typing import Any

import msgspec
import pytest

from studbook.wire.searches import Inventory
from studbook.wire.shelf import Shelf
from studbook_service.night.inventory import stud_inventory

UPPER_SEAT = {"length_in": 1.2, "taper_included_deg": 7.15, "seat_diameter_in": 0.62, "ball_diameter_in": 1.1}
LOWER_SEAT = {"length_in": 1.35, "taper_included_deg": 7.15, "seat_diameter_in": 0.75, "ball_diameter_in": 1.1}
RF = {"setup": {"front": {"rf": {"upper_stud": UPPER_SEAT, "lower_stud": LOWER_SEAT}}}}


def stud(part: str, *places: Any, length: float | None = 1.7, alerts: tuple[str, ...] = (), **taper: Any) -> Any:
    sizes = {"taper": taper or {"in_per_ft": 1.5}} | ({} if length is None else {"length_in": length})
    return {
        "part": part,
        "document": {"kind": "stud", "stud": sizes},
        "places": [{"where": place} if isinstance(place, str) else place for place in places],
        "alerts": [{"code": code, "detail": ""} for code in alerts],
    }


def held(*parts: Any, splits: Any = ()) -> Shelf:
    return msgspec.convert({"items": parts, "splits": splits}, Shelf)


def found(*parts: Any, setup: Any = None, **asked: Any) -> Inventory:
    return stud_inventory(
        held(*parts), RF if setup is None else setup, **({"taken_from": "anywhere", "corners": ["rf"]} | asked)
    )


def why(part: Any, **asked: Any) -> str:
    [left] = found(part, **asked).left_out
    return left.why


def test_a_stud_goes_into_the_seats_of_its_taper() -> None:
    inventory = found(
        stud("either", "trailer"),
        stud("upper", "shelf", included_deg=7.15, large_end_in=0.62),
        stud("lower", "shelf", included_deg=7.0, large_end_in=0.75),
        corners=["lf", "rf"],
    )
    assert [(each.part, each.where, each.fits) for each in inventory.studs] == [
        ("either", "trailer", ["rf.upper", "rf.lower"]),
        ("upper", "shelf", ["rf.upper"]),
        ("lower", "shelf", ["rf.lower"]),
    ]
    assert [each.by_angle_alone for each in inventory.studs] == [["rf.upper", "rf.lower"], [], []]
    assert inventory.left_out == []


@pytest.mark.parametrize(
    ("part", "said"),
    [
        # 2 atan(2/24), by hand: 9.527 deg.
        (
            stud("s", "shelf", in_per_ft=2),
            "RF upper and RF lower: its taper of 9.527 deg does not go into one of 7.15 deg",
        ),
        (
            stud("s", "shelf", included_deg=7.15, large_end_in=0.68),
            (
                "RF upper: its large end is 0.68 in, there it is 0.62 in;"
                " RF lower: its large end is 0.68 in, there it is 0.75 in"
            ),
        ),
        (stud("s", "shelf", large_end_in=0.62), "its taper is not recorded"),
        (stud("s", "shelf", length=None), "its length is not recorded"),
        (stud("s"), "its place is not recorded"),
        (stud("s", {"where": "car", "car": "12"}), "on car 12"),
        (stud("s", {"where": "car", "car": "12"}, {"where": "car", "car": "7"}), "on car 12 and on car 7"),
        (stud("s", "shelf", alerts=("bent",)), "bent: scrap it, never straighten it"),
        (stud("s", "shelf", alerts=("inspect",)), "saw contact, and nobody has inspected it and signed"),
        (stud("s", "shelf", alerts=("loose",)), "has more play than its limit"),
    ],
)
def test_what_is_left_out_is_named_with_the_reason(part: Any, said: str) -> None:
    inventory = found(part)
    assert inventory.studs == []
    assert [(each.part, each.why) for each in inventory.left_out] == [("s", said)]


def test_a_seat_whose_taper_is_not_recorded_takes_nothing() -> None:
    thin = {"setup": {"front": {"rf": {"upper_stud": {"length_in": 1.2}}}}}
    assert why(stud("s", "shelf"), setup=thin) == "RF upper and RF lower: the taper of the seat is not recorded"
    assert why(stud("s", "shelf"), setup={"setup": "of another form"}) == why(stud("s", "shelf"), setup=thin)


def test_at_the_track_only_the_trailer_counts() -> None:
    inventory = found(stud("far", "shelf"), stud("near", "trailer"), taken_from="trailer")
    assert [each.part for each in inventory.studs] == ["near"]
    assert [(each.part, each.why) for each in inventory.left_out] == [("far", "on the shelf")]


def test_a_stud_that_the_setup_has_in_is_no_spare() -> None:
    setup = {"setup": {"front": {"lf": {"lower_stud": {"part": "S 041"}}, "rf": RF["setup"]["front"]["rf"]}}}
    assert why(stud("s-041", "trailer"), setup=setup) == "the setup has it in: LF lower"


def test_scrap_and_what_is_no_stud_is_not_named() -> None:
    spring = stud("spring", "shelf") | {"document": {"kind": "spring"}}
    inventory = found(stud("scrap", "shelf") | {"scrapped": True}, spring)
    assert (inventory.studs, inventory.left_out) == ([], [])


def test_split_records_of_studs_are_told() -> None:
    splits = [{"line": line, "used": "1", "tips": ["1", "2"]} for line in ("part/s", "part/j", "outing/a/7/heat-1")]
    told = stud_inventory(held(stud("s", "shelf"), splits=splits), RF, taken_from="anywhere", corners=["rf"])
    assert [each.line for each in told.splits] == ["part/s"]
