"""The tires each outing ran on, and how far they had run by then."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from studbook.history.canonical import Tree
from studbook_service.night.facts import text
from studbook_service.night.whereabouts import DatedRecord, Stay, whereabouts
from studbook_service.season.inputs import RecordedOuting
from studbook_service.work.items import WHEELS

Seats = Mapping[tuple[str, str], Sequence[tuple[str, Stay]]]


class TireUse:
    """Tags and laps of the tires, by outing and corner; a corner whose tire has no known tag is absent.

    Attributes:
        tags: of the tires on the car.
        laps: run before that outing.
    """

    def __init__(
        self,
        outings: Sequence[RecordedOuting],
        parts: Mapping[str, Tree],
        shop_records: Mapping[str, Sequence[DatedRecord]],
    ) -> None:
        """Follow the tires through all outings in the order of time."""
        self.tags: dict[str, dict[str, str]] = {}
        self.laps: dict[str, dict[str, int]] = {}
        seats = _seats(parts, shop_records)
        run: dict[str, int] = defaultdict(int)
        for outing in sorted(outings, key=lambda each: (each.at_ms, each.event, each.name)):
            tags = {corner: tag for corner in WHEELS if (tag := _tag(outing, corner, seats))}
            self.tags[outing.name] = tags
            self.laps[outing.name] = {corner: run[tag] for corner, tag in tags.items()}
            for tag in set(tags.values()):
                run[tag] += outing.laps


def _seats(parts: Mapping[str, Tree], shop_records: Mapping[str, Sequence[DatedRecord]]) -> Seats:
    """Find from the shop records when each tire was where."""
    seats: dict[tuple[str, str], list[tuple[str, Stay]]] = defaultdict(list)
    for tag, part in parts.items():
        if part.get("kind") == "tire":
            for stay in whereabouts(shop_records.get(tag, ())).stays:
                seats[text(stay.place, "car"), text(stay.place, "corner")].append((tag, stay))
    return seats


def _tag(outing: RecordedOuting, corner: str, seats: Seats) -> str:
    """Give the tag that the outing names, else that of the one tire fitted there."""
    run = getattr(outing.document.tires, corner, None) if outing.document.tires else None
    if run and run.part:
        return str(run.part)
    there = {tag for tag, stay in seats.get((outing.car, corner), ()) if stay.holds(outing.at_ms)}
    return there.pop() if len(there) == 1 else ""
