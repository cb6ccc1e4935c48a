"""The parts: what the cars carried at their surveys, by their first pages, and what is spare."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from studbook.history.canonical import Tree
from studbook_service.demo.scenario import DemoStep, moment, toml
from studbook_service.demo.season.demo_record import DemoRecord, written

BOUGHT_BEFORE: Final = dt.timedelta(days=60)
PLACED_AFTER: Final = dt.timedelta(minutes=5)
JOINTS: Final = {"u": "upper", "l": "lower"}
PRELOAD_TOLERANCE_IN_LB: Final = 4
PLAY_LIMIT_IN: Final = 0.01


def fitted(stories: Mapping[str, Sequence[DemoStep]]) -> Iterator[DemoRecord]:
    """Give each car's parts, fitted on the day of its survey."""
    price = toml("season/parts.toml")["price_usd"]
    for car, (first, *_) in stories.items():
        bought = str(first.at.date() - BOUGHT_BEFORE)
        for tag, corner, slot, part in _aboard(car, first.document["setup"]):
            yield DemoRecord(
                "part", tag, first.at, first.by, {**part, "price_usd": price[part["kind"]], "bought": bought}
            )
            yield _placed(tag, "fitted", first, {"where": "car", "car": car, "corner": corner, "slot": slot})


def spares(by: str, today: dt.date) -> Iterator[DemoRecord]:
    """Give the spare parts, and where they lie."""
    at = moment({"day": 41, "time": dt.time(19)}, today)
    for spare in toml("season/parts.toml")["spare"]:
        entered = DemoRecord("part", spare["tag"], at, by, spare["part"])
        yield entered
        yield _placed(spare["tag"], "moved", entered, {"where": spare["where"]})


def _placed(tag: str, what: str, entered: DemoRecord | DemoStep, place: Tree) -> DemoRecord:
    at = entered.at + PLACED_AFTER
    document = {"what": what, "at": written(at), "place": place}
    return DemoRecord("shop_record", f"{tag}/{at.date()}-{what}-1", at, entered.by, document)


def _aboard(car: str, setup: Tree) -> Iterator[tuple[str, str, str, Tree]]:
    """Give tag, corner, slot and document of everything that the book of parts keeps of a car."""
    for corner in ("lf", "rf"):
        for letter, where in JOINTS.items():
            stud = setup["front"][corner][f"{where}_stud"]
            yield stud["part"], corner, f"{where}_stud", _stud(stud, where)
            yield f"j-{car}-{corner}-{letter}", corner, f"{where}_joint", _joint(stud, where)
    for axle, corner in (("front", "lf"), ("front", "rf"), ("rear", "lr"), ("rear", "rr")):
        shock, tire = (setup[axle][corner][name] for name in ("shock", "tire"))
        yield shock["serial"], corner, "shock", _shock(shock)
        yield f"t-{car}-{corner}", corner, "tire", _tire(tire)


def _stud(stud: Tree, where: str) -> Tree:
    sizes = {key: stud[key] for key in ("length_in", "ball_diameter_in", "neck_diameter_in", "thread")}
    taper = {"included_deg": stud["taper_included_deg"], "large_end_in": stud["seat_diameter_in"]}
    return {"kind": "stud", "about": where, "stud": {**sizes, "taper": taper}}


def _joint(stud: Tree, where: str) -> Tree:
    preload = {
        "target_in_lb": stud["preload_target_in_lb"],
        "basis": "breakaway",
        "tolerance_in_lb": PRELOAD_TOLERANCE_IN_LB,
    }
    sizes = {
        "mount": "screwed",
        "ball_diameter_in": stud["ball_diameter_in"],
        "swing_limit_deg": stud["swing_limit_deg"],
    }
    return {"kind": "joint", "about": where, "joint": sizes, "preload": preload, "play_limit_in": PLAY_LIMIT_IN}


def _shock(shock: Tree) -> Tree:
    return {"kind": "shock", "shock": {key: shock[key] for key in ("stroke_in", "extended_length_in")}}


def _tire(tire: Tree) -> Tree:
    kept = ("compound", "rollout_in", "rollout_at_psi", "durometer_shore_a")
    return {"kind": "tire", "tire": {key: tire[key] for key in kept if key in tire}}
