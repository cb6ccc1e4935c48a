"""Parts of a card in the book of parts."""

from typing import Any

import msgspec
import pytest

from studbook.cli.work import work_page
from studbook.wire.shelf import Shelf
from studbook.wire.work import WorkRequest
from studbook_service.work.card import work_card
from studbook_service.work.stock import stock_of
from work.sheets import car, edited

RR = "setup.rear.rr"


def shelf(*parts: dict[str, object]) -> Shelf:
    return msgspec.convert({"items": list(parts)}, Shelf)


def spring(tag: str, where: str, rate: float = 250, **more: object) -> dict[str, Any]:
    document = {"kind": "spring", "spring": {"rate_lb_per_in": rate, "free_length_in": 12}, "price_usd": 80}
    return {"part": tag, "document": document, "places": [{"where": where}], **more}


def test_a_spring_is_found_by_its_size_in_the_trailer_first() -> None:
    after = edited({f"{RR}.spring.rate_lb_per_in": 250})
    found = stock_of(shelf(spring("sp-1", "shelf"), spring("sp-2", "trailer"), spring("sp-3", "trailer", 225)), "7")
    card = work_card(car(), after, request=WorkRequest(), stock=found)
    [part] = next(job.parts for job in card.jobs if job.id == "spring-rr")
    assert (part.tag, part.where, part.in_trailer, part.price_usd) == ("sp-2", "trailer", True, 80)
    assert card.parts_price_usd == 80


def test_a_part_that_the_setup_names_is_that_part_wherever_it_is() -> None:
    after = edited({f"{RR}.spring.rate_lb_per_in": 250, f"{RR}.spring.part": "SP 9"})
    on_the_other_car = spring("sp-9", "car") | {"places": [{"where": "car", "car": "12", "corner": "rf"}]}
    found = stock_of(shelf(spring("sp-2", "trailer"), on_the_other_car), "7")
    [part] = next(job.parts for job in work_card(car(), after, request=WorkRequest(), stock=found).jobs if job.parts)
    assert (part.tag, part.where, part.in_trailer) == ("sp-9", "car 12 rf", False)


def on_car(tag: str, slot: str | None, corner: str = "rr", car: str = "7") -> dict[str, Any]:
    place = {"where": "car", "car": car, "corner": corner} | ({"slot": slot} if slot else {})
    return spring(tag, "car") | {"places": [place]}


@pytest.mark.parametrize(
    ("there", "fitted"),
    [
        (on_car("sp-9", "spring"), True),
        (on_car("sp-9", None), True),
        (on_car("sp-9", "spring", corner="lr"), False),
        (on_car("sp-9", "spring", car="12"), False),
        (on_car("sp-9", "helper_spring"), False),
        (on_car("sp-9", "spring") | {"places": [*on_car("sp-9", "spring")["places"], {"where": "trailer"}]}, False),
    ],
    ids=["there", "at the corner", "another corner", "another car", "as another thing", "in two places"],
)
def test_what_is_on_already_at_that_very_place_is_told_so(there: dict[str, Any], *, fitted: bool) -> None:
    after = edited({f"{RR}.spring.rate_lb_per_in": 250, f"{RR}.spring.part": "SP 9"})
    card = work_card(car(), after, request=WorkRequest(), stock=stock_of(shelf(there), "7"))
    job = next(job for job in card.jobs if job.id == "spring-rr")
    [part] = job.parts
    assert (part.tag, part.fitted, job.todo[0].startswith("sp-9 is on the car already")) == ("sp-9", fitted, fitted)
    assert (card.parts_price_usd is msgspec.UNSET) is fitted
    page = " ".join(" ".join(work_page(card)).split())
    assert ("on already" in page, "NOT in the trailer" in page) == (fitted, not fitted and len(there["places"]) == 1)
    assert job.state == "planned"
    assert "scales" in job.brings


def test_a_tire_that_begins_anew_under_one_name_is_not_the_one_that_is_on() -> None:
    tire: dict[str, Any] = {
        "part": "t-1",
        "document": {"kind": "tire"},
        "places": [{"where": "car", "car": "7", "corner": "rr"}],
    }
    before = edited({f"{RR}.tire.part": "T 1", f"{RR}.tire.heat_cycles": 4})
    for named, fitted in (("T 1", False), ("T-1", True)):
        after = edited({f"{RR}.tire.part": named, f"{RR}.tire.heat_cycles": 0})
        card = work_card(before, after, request=WorkRequest(), stock=stock_of(shelf(tire), "7"))
        assert [part.fitted for job in card.jobs for part in job.parts] == [fitted]


def test_scrap_and_bent_parts_and_those_on_a_car_are_not_offered() -> None:
    after = edited({f"{RR}.spring.rate_lb_per_in": 250})
    bent = {"code": "bent", "detail": "bent by 0.01 in"}
    none = shelf(
        spring("sp-1", "trailer", scrapped=True), spring("sp-2", "trailer", alerts=[bent]), spring("sp-3", "car")
    )
    [part] = next(
        job.parts for job in work_card(car(), after, request=WorkRequest(), stock=stock_of(none, "7")).jobs if job.parts
    )
    assert part.tag is msgspec.UNSET
    assert part.name == "200 x 12"


@pytest.mark.parametrize("code", ["inspect", "loose"])
def test_what_is_not_fit_to_go_on_a_car_is_not_offered(code: str) -> None:
    after = edited({f"{RR}.spring.rate_lb_per_in": 250})
    unfit = shelf(spring("sp-2", "trailer", alerts=[{"code": code, "detail": "as recorded"}]), spring("sp-4", "shelf"))
    [part] = next(
        job.parts
        for job in work_card(car(), after, request=WorkRequest(), stock=stock_of(unfit, "7")).jobs
        if job.parts
    )
    assert part.tag == "sp-4"


@pytest.mark.parametrize(("in_per_ft", "tag"), [(1.5, "s-1"), (2, msgspec.UNSET)])
def test_a_stud_of_another_taper_is_not_offered(in_per_ft: float, tag: object) -> None:
    rf = "setup.front.rf.upper_stud"
    before = edited({f"{rf}.taper_included_deg": 7.15})
    after = edited({f"{rf}.taper_included_deg": 7.15, f"{rf}.length_in": 1.7})
    document = {"kind": "stud", "stud": {"length_in": 1.7, "taper": {"in_per_ft": in_per_ft}}}
    found = stock_of(shelf({"part": "s-1", "document": document, "places": [{"where": "trailer"}]}), "7")
    [part] = next(job.parts for job in work_card(before, after, request=WorkRequest(), stock=found).jobs if job.parts)
    assert part.tag == tag
