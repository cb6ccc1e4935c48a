"""Contact and inspection, corner by corner, from shop records of parts and ticks of work cards.

Contact concerns the whole corner until an inspection of the whole corner found it straight and was signed for; the tick
of `inspect-rf` on a card is that inspection. What was found not straight needs neither contact before it nor a
signature, and stands until a later inspection finds the corner straight. Of one minute, and of the sides of a split
card, the worse counts. A tick without a time settles nothing, as the contact may be later.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from studbook.history.canonical import Tree
from studbook.wire.shelf import Alert
from studbook.wire.work import INSPECTION
from studbook_service.night.facts import group, number, text
from studbook_service.night.times import moment, moment_ms
from studbook_service.night.whereabouts import DatedRecord, PartHistory, part_history

HIT_WITH_ITS_CORNER: Final = ("joint", "stud", "arm", "link", "shock", "wheel")
"""Kinds of parts that a blow to their corner may bend, whichever the record names. Common practice, no source."""


class CarCorner(NamedTuple):
    """A corner of a car."""

    car: str
    corner: str


@dataclass(frozen=True, slots=True)
class Inspection:
    """An inspection of a whole corner.

    Attributes:
        straight: it found the corner straight and is signed for.
        inspected: what it found.
        record: the shop record or the card that it is from.
    """

    corner: CarCorner
    at_ms: int
    straight: bool
    inspected: Tree
    record: DatedRecord


def straight(inspected: Tree) -> bool | None:
    """Say whether an inspection found the corner straight; None where that is not recorded, or nobody signed for it.

    Example:
        >>> straight({"straight": True, "signed_by": "Ada"}), straight({"straight": True}), straight({"bent_by_in": 1})
        (True, None, False)
    """
    if inspected.get("straight") is False or number(inspected, "bent_by_in"):
        return False
    return True if inspected.get("straight") is True and text(inspected, "signed_by") else None


def corner_of(place: Tree) -> CarCorner | None:
    """Give the corner of a place; None where it is at none.

    Example:
        >>> corner_of({"where": "car", "car": "7", "corner": "rf"})
        CarCorner(car='7', corner='rf')
    """
    car, corner = text(place, "car"), text(place, "corner")
    return CarCorner(car, corner) if car and corner else None


def ticks(card: DatedRecord) -> Iterator[tuple[str, Tree]]:
    """Give the inspections that are ticked on a card, by their corners.

    Example:
        >>> body = {"done": {"toe": {}, "inspect-rf": {"by": "Ada"}}}
        >>> list(ticks(DatedRecord(name="7/2026-05-02-1940", tip="", at_ms=0, body=body)))
        [('rf', {'by': 'Ada'})]
    """
    for job, tick in group(card.body, "done").items():
        if job.startswith(INSPECTION) and isinstance(tick, dict):
            yield job.removeprefix(INSPECTION), tick


class Corners:
    """The corners that saw contact or were inspected.

    Args:
        parts: with their records.
        cards: work cards, every side of split ones.
        until_ms: what was done later does not count.
    """

    def __init__(
        self, parts: Iterable[PartHistory], cards: Iterable[DatedRecord], *, until_ms: int | None = None
    ) -> None:
        self._contacts: list[tuple[CarCorner, int]] = []
        self._hit: dict[CarCorner, tuple[int, str]] = {}
        self._straight: dict[CarCorner, list[int]] = defaultdict(list)
        self._bent: dict[CarCorner, Inspection] = {}
        found = [each for card in cards for each in _ticked(card)]
        for part in parts:
            for record in part.records:
                for corner in _about(part, record):
                    if record.what == "contact" and _by(record.at_ms, until_ms):
                        self._contacts.append((corner, record.at_ms))
                        self._hit[corner] = max(self._hit.get(corner, (0, "")), (record.at_ms, part.part))
                    found += _recorded(corner, record)
        for each in _worst(each for each in found if _by(each.at_ms, until_ms)):
            if each.straight:
                self._straight[each.corner].append(each.at_ms)
            elif each.corner not in self._bent or self._bent[each.corner].at_ms <= each.at_ms:
                self._bent[each.corner] = each

    def hit_ms(self, part: PartHistory) -> int:
        """Give when last a part saw contact: by its own record, or in a corner that was hit and that it has left."""
        own = (record.at_ms for record in part.records if record.what == "contact")
        here = {corner_of(stay.place) for stay in part.where.now()}
        left = (
            at_ms
            for corner, at_ms in self._contacts
            if part.document.get("kind") in HIT_WITH_ITS_CORNER
            and corner not in here
            and any(corner_of(stay.place) == corner for stay in part.where.at(at_ms))
        )
        return max((*own, *left), default=-1)

    def inspected_ms(self, part: PartHistory) -> int:
        """Give when last a part was inspected: by itself, or with the corner that it was on."""
        own = (each.at_ms for each in part.records if _signed(each))
        on_car = (
            at_ms
            for corner, times in self._straight.items()
            for at_ms in times
            if any(corner_of(stay.place) == corner for stay in part.where.at(at_ms))
        )
        return max((*own, *on_car), default=-1)

    def alerts(self) -> list[Alert]:
        """Name the corners to be inspected."""
        corners = sorted(self._hit.keys() | self._bent.keys())
        return [alert for corner in corners if (alert := self._alert(corner)) is not None]

    def _alert(self, corner: CarCorner) -> Alert | None:
        where = {"car": corner.car, "corner": corner.corner}
        since = max(self._straight.get(corner, ()), default=-1)
        bent, (hit_ms, part) = self._bent.get(corner), self._hit.get(corner, (-1, ""))
        # In one minute the order is unknown: what was found not straight stands.
        if bent is not None and bent.at_ms >= since:
            return Alert(code="bent", detail=_finding(bent), since=moment(bent.at_ms), **where)
        if hit_ms > since:
            detail = f"car {corner.car}, {corner.corner}: inspect the whole corner, sign; {part} saw contact"
            return Alert(code="inspect", detail=detail, part=part, since=moment(hit_ms), **where)
        return None


def corner_alerts(
    shop_records: Mapping[str, Sequence[DatedRecord]], *, cards: Iterable[DatedRecord] = (), car: str, until_ms: int
) -> list[Alert]:
    """Name the corners of a car that nobody had inspected whole, found straight and signed for by a time.

    Args:
        shop_records: of the parts.
        cards: the car's work cards.
        car: which.
        until_ms: the time; what was done later does not count.

    Example:
        >>> hit = {"what": "contact", "place": {"car": "7", "corner": "rf"}}
        >>> records = {"s-041": [DatedRecord(name="s-041/2026-05-02-contact-1", tip="", at_ms=5, body=hit)]}
        >>> [alert.corner for alert in corner_alerts(records, car="7", until_ms=9)]
        ['rf']
    """
    parts = [part_history(part, {}, records) for part, records in shop_records.items()]
    return [alert for alert in Corners(parts, cards, until_ms=until_ms).alerts() if alert.car == car]


def _signed(record: DatedRecord) -> bool:
    return record.what == "inspected" and bool(text(record.body, "inspected", "signed_by"))


def _by(at_ms: int, until_ms: int | None) -> bool:
    return until_ms is None or at_ms <= until_ms


def _about(part: PartHistory, record: DatedRecord) -> list[CarCorner]:
    """Name the corners that a record is about: its own, else where the part was."""
    if own := corner_of(record.place):
        return [own]
    return [corner for stay in part.where.at(record.at_ms) if (corner := corner_of(stay.place))]


def _recorded(corner: CarCorner, record: DatedRecord) -> Iterator[Inspection]:
    """Read a shop record as an inspection of the whole corner, if it is one."""
    inspected = group(record.body, "inspected")
    found = straight(inspected)
    if record.what == "inspected" and found is not None and inspected.get("whole_corner") is True:
        yield Inspection(corner, record.at_ms, found, inspected, record)


def _ticked(card: DatedRecord) -> Iterator[Inspection]:
    """Read the ticks of a card."""
    for corner, tick in ticks(card):
        inspected, at_ms = group(tick, "inspected"), moment_ms(tick.get("at"))
        found = straight(inspected)
        if found is not None and not (found and at_ms is None):
            where = CarCorner(card.name.partition("/")[0], corner)
            yield Inspection(where, card.at_ms if at_ms is None else at_ms, found, inspected, card)


def _worst(found: Iterable[Inspection]) -> Iterator[Inspection]:
    """Of the sides of a split record take those that found the corner not straight, else all."""
    sides: dict[tuple[str, CarCorner], list[Inspection]] = defaultdict(list)
    for each in found:
        sides[each.record.name, each.corner].append(each)
    for of_one in sides.values():
        yield from [each for each in of_one if not each.straight] or of_one


def _finding(found: Inspection) -> str:
    """Write what was found: how far, by whom, in which record."""
    inspected, bent = found.inspected, number(found.inspected, "bent_by_in")
    by, how = text(inspected, "signed_by"), text(inspected, "method")
    how_far = f"bent by {bent:g} in" if bent else "not straight"
    at = moment(found.at_ms).strftime("%Y-%m-%d %H:%MZ")
    return (
        f"car {found.corner.car}, {found.corner.corner}: found {how_far}{f' by {by}' if by else ', not signed'}"
        f"{f' ({how})' if how else ''}, {found.record.name}, {at}: renew what is bent, never straighten it;"
        " then inspect the whole corner again, sign"
    )
