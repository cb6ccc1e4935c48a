"""Laws of studs taken from stock: none is used twice, and none goes where it does not fit."""

import itertools
import math
from collections import Counter
from typing import Any, Literal

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studbook.wire.searches import Inventory, StudAtHand, StudStock
from studbook.wire.shelf import Shelf
from studbook_service.night.inventory import SEATS, stud_inventory
from studbook_service.translate.stud_stock import StudSwap, in_stock, lots, take

lengths = st.sampled_from([1.2, 1.35, 1.7])
wheres: st.SearchStrategy[Literal["trailer", "shelf"]] = st.sampled_from(["trailer", "shelf"])
joints = st.sampled_from(["upper", "lower"])
listed = st.lists(
    st.builds(
        StudStock, joint=st.sampled_from(["upper", "lower", "either"]), length_in=lengths, count=st.integers(1, 2)
    ),
    max_size=2,
)
known = st.lists(st.tuples(lengths, wheres, st.sets(st.sampled_from(SEATS), min_size=1)), max_size=4).map(
    lambda studs: [
        StudAtHand(part=f"s-{place}", length_in=length, where=where, fits=sorted(fits))
        for place, (length, where, fits) in enumerate(studs)
    ]
)
puts = st.lists(st.builds(StudSwap, st.sampled_from(["lf", "rf"]), joints, lengths), max_size=4)


def one_by_one(studs: list[StudStock], book: list[StudAtHand]) -> list[tuple[float, frozenset[str]]]:
    """Lay every stud on the bench: its length, and where it goes."""
    bench = [(each.length_in, frozenset[str](each.fits)) for each in book]
    for each in studs:
        seats = frozenset(seat for seat in SEATS if each.joint == "either" or seat.endswith(each.joint))
        bench += [(each.length_in, seats)] * each.count
    return bench


@settings(max_examples=100)
@given(listed, known, puts)
def test_there_are_enough_where_some_way_of_handing_them_out_serves_all(
    studs: list[StudStock], book: list[StudAtHand], wanted: list[StudSwap]
) -> None:
    stock = lots(studs, Inventory(taken_from="anywhere", studs=book, left_out=[]))
    bench = one_by_one(studs, book)
    by_hand = any(
        all(
            stud[0] == put.length_in and f"{put.corner}.{put.joint}" in stud[1]
            for stud, put in zip(way, wanted, strict=True)
        )
        for way in itertools.permutations(bench, len(wanted))
    )
    assert in_stock(stock, wanted) is by_hand
    if not by_hand:
        with pytest.raises(LookupError):
            take(stock, wanted)
        return
    taken = take(stock, wanted)
    tags = [each.part for each in taken if isinstance(each.part, str)]
    assert max(Counter(tags).values(), default=0) <= 1
    of = {each.part: each for each in book}
    for stud, put in zip(taken, wanted, strict=True):
        assert (stud.joint, stud.length_in) == (put.joint, put.length_in)
        if isinstance(stud.part, str):
            known_as = of[stud.part]
            assert f"{put.corner}.{put.joint}" in known_as.fits
            assert (known_as.length_in, known_as.where) == (put.length_in, stud.where)
    # What has no tag was listed: by length there are no more of them than that.
    untagged = Counter(each.length_in for each in taken if not isinstance(each.part, str))
    assert all(
        count <= sum(each.count for each in studs if each.length_in == length) for length, count in untagged.items()
    )


def maybe(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | values


tapers = st.floats(4, 16).map(lambda value: round(value, 3))
ends = st.sampled_from([0.62, 0.63, 0.64, 0.75])
parts = st.lists(
    st.fixed_dictionaries(
        {
            "length_in": maybe(lengths),
            "included_deg": maybe(tapers | st.sampled_from([6.95, 7.15, 7.351, 9.527])),
            "in_per_ft": maybe(st.sampled_from([1.5, 2.0])),
            "large_end_in": maybe(ends),
            "places": st.lists(st.sampled_from(["trailer", "shelf", "car"]), max_size=2),
            "alerts": st.sets(st.sampled_from(["bent", "inspect", "loose", "preload", "two_places"])),
            "scrapped": st.booleans(),
        }
    ),
    max_size=4,
)
seats = st.fixed_dictionaries(
    {seat: st.tuples(maybe(st.sampled_from([7.0, 7.15, 9.5])), maybe(ends)) for seat in SEATS}
)


def state(place: int, drawn: dict[str, Any]) -> dict[str, Any]:
    taper = {key: drawn[key] for key in ("included_deg", "in_per_ft", "large_end_in") if drawn[key] is not None}
    length = {} if drawn["length_in"] is None else {"length_in": drawn["length_in"]}
    return {
        "part": f"s-{place}",
        "document": {"kind": "stud", "stud": {"taper": taper, **length}},
        "places": [{"where": where} for where in drawn["places"]],
        "alerts": [{"code": code, "detail": ""} for code in sorted(drawn["alerts"])],
        "scrapped": drawn["scrapped"],
    }


@settings(max_examples=100)
@given(parts, seats, st.sampled_from(["trailer", "anywhere"]))
def test_no_stud_is_offered_where_its_taper_or_its_state_rules_it_out(
    drawn: list[dict[str, Any]], tapered: dict[str, tuple[float | None, float | None]], taken_from: Any
) -> None:
    front: dict[str, Any] = {"lf": {}, "rf": {}}
    for seat, (angle, end) in tapered.items():
        given_ = {"taper_included_deg": angle, "seat_diameter_in": end}
        front[seat[:2]][f"{seat[3:]}_stud"] = {key: value for key, value in given_.items() if value is not None}
    shelf = msgspec.convert({"items": [state(*each) for each in enumerate(drawn)]}, Shelf)
    found = stud_inventory(shelf, {"setup": {"front": front}}, taken_from=taken_from, corners=("lf", "rf"))
    offered = {each.part: each for each in found.studs}
    named = [*offered, *(each.part for each in found.left_out)]
    assert sorted(named) == [f"s-{place}" for place, each in enumerate(drawn) if not each["scrapped"]]
    assert all(each.why for each in found.left_out)
    for place, each in enumerate(drawn):
        stud = offered.get(f"s-{place}")
        if stud is None:
            continue
        assert not each["scrapped"]
        assert not each["alerts"] & {"bent", "inspect", "loose"}
        assert set(each["places"]) <= ({"trailer"} if taken_from == "trailer" else {"trailer", "shelf"})
        own = each["included_deg"]
        own = 2 * math.degrees(math.atan(each["in_per_ft"] / 24)) if own is None else own
        for seat in stud.fits:
            angle, end = tapered[seat]
            assert angle is not None
            assert abs(own - angle) <= 0.2
            if end is not None and each["large_end_in"] is not None:
                assert math.isclose(end, each["large_end_in"], abs_tol=0.0101)
