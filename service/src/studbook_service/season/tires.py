"""The tires each outing ran on, and how far they had run by then."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Final

from studbook.history.canonical import Tree
from studbook_service.night.facts import text
from studbook_service.night.stays import Stay, Told, whereabouts
from studbook_service.season.told import Out

CORNERS: Final = ("lf", "rf", "lr", "rr")

Seats = Mapping[tuple[str, str], Sequence[tuple[str, Stay]]]


class Tires:
    """Tags and laps of the tires, by outing and corner; a corner whose tire nobody tagged is absent.

    Attributes:
        on: tags.
        laps: run before that outing.
    """

    def __init__(self, outs: Sequence[Out], parts: Mapping[str, Tree], shop: Mapping[str, Sequence[Told]]) -> None:
        """Follow the tires through all outings in the order of time."""
        self.on: dict[str, dict[str, str]] = {}
        self.laps: dict[str, dict[str, int]] = {}
        seats = _seats(parts, shop)
        run: dict[str, int] = defaultdict(int)
        for out in sorted(outs, key=lambda each: (each.at_ms, each.event, each.name)):
            on = {corner: tag for corner in CORNERS if (tag := _tag(out, corner, seats))}
            self.on[out.name] = on
            self.laps[out.name] = {corner: run[tag] for corner, tag in on.items()}
            for tag in set(on.values()):
                run[tag] += out.laps


def _seats(parts: Mapping[str, Tree], shop: Mapping[str, Sequence[Told]]) -> Seats:
    """Find when each tire was where, as the shop records say."""
    seats: dict[tuple[str, str], list[tuple[str, Stay]]] = defaultdict(list)
    for tag, part in parts.items():
        if part.get("kind") == "tire":
            for stay in whereabouts(shop.get(tag, ())).stays:
                seats[text(stay.place, "car"), text(stay.place, "corner")].append((tag, stay))
    return seats


def _tag(out: Out, corner: str, seats: Seats) -> str:
    """Give the tag that the outing itself says, else of the one tire that was fitted there."""
    run = getattr(out.record.tires, corner, None) if out.record.tires else None
    if run and run.part:
        return str(run.part)
    there = {tag for tag, stay in seats.get((out.car, corner), ()) if stay.holds(out.at_ms)}
    return there.pop() if len(there) == 1 else ""
