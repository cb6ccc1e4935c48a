"""Contact and inspection, corner by corner, told by shop records of parts and by the ticks of work cards.

Contact concerns the whole corner until an inspection of the whole corner found it straight and was signed for. One that
found it not straight settles nothing: it stands itself until a later one finds the corner straight.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from studbook.history.canonical import Tree
from studbook.wire.part_states import Alert
from studbook.wire.work import INSPECTION
from studbook_service.night.facts import group, number, text
from studbook_service.night.moments import moment_ms
from studbook_service.night.moments import told as moment
from studbook_service.night.stays import Followed, Told, follow

HIT_WITH_ITS_CORNER: Final = ("joint", "stud", "arm", "link", "shock", "wheel")
"""Kinds of parts that a blow to their corner may bend, whichever of them it was told of. Common practice, no source."""


class Corner(NamedTuple):
    """A corner of a car."""

    car: str
    corner: str


@dataclass(frozen=True, slots=True)
class Inspection:
    """An inspection of a whole corner.

    Attributes:
        straight: it found the corner straight and is signed for.
        inspected: what it found.
        told: the shop record or the card that tells it.
    """

    corner: Corner
    at_ms: int
    straight: bool
    inspected: Tree
    told: Told


def straight(inspected: Tree) -> bool | None:
    """Say what an inspection found; None where it does not say, or says straight and nobody signed.

    Example:
        >>> straight({"straight": True, "signed_by": "Ada"}), straight({"straight": True}), straight({"bent_by_in": 1})
        (True, None, False)
    """
    if inspected.get("straight") is False or number(inspected, "bent_by_in"):
        return False
    return True if inspected.get("straight") is True and text(inspected, "signed_by") else None


def corner_of(place: Tree) -> Corner | None:
    """Give the corner of a place; None where it is at none.

    Example:
        >>> corner_of({"where": "car", "car": "7", "corner": "rf"})
        Corner(car='7', corner='rf')
    """
    car, corner = text(place, "car"), text(place, "corner")
    return Corner(car, corner) if car and corner else None


def ticks(card: Told) -> Iterator[tuple[str, Tree]]:
    """Give the inspections that are ticked on a card, by their corners.

    Example:
        >>> body = {"done": {"toe": {}, "inspect-rf": {"by": "Ada"}}}
        >>> list(ticks(Told(name="7/2026-05-02-1940", tip="", at_ms=0, body=body)))
        [('rf', {'by': 'Ada'})]
    """
    for job, tick in group(card.body, "done").items():
        if job.startswith(INSPECTION) and isinstance(tick, dict):
            yield job.removeprefix(INSPECTION), tick


class Corners:
    """The corners that contact or an inspection is told of.

    Args:
        followed: the parts.
        cards: work cards, every side of split ones.
        until_ms: what was done later does not count.
    """

    def __init__(self, followed: Iterable[Followed], cards: Iterable[Told], *, until_ms: int | None = None) -> None:
        self._contacts: list[tuple[Corner, int]] = []
        self._hit: dict[Corner, tuple[int, str]] = {}
        self._straight: dict[Corner, list[int]] = defaultdict(list)
        self._bent: dict[Corner, Inspection] = {}
        found = [each for card in cards for each in _ticked(card)]
        for part in followed:
            for record in part.told:
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

    def hit_ms(self, part: Followed) -> int:
        """Give when last a part saw contact: its own record says so, or it has left a corner that was hit."""
        own = (record.at_ms for record in part.told if record.what == "contact")
        here = {corner_of(stay.place) for stay in part.where.now()}
        left = (
            at_ms
            for corner, at_ms in self._contacts
            if part.document.get("kind") in HIT_WITH_ITS_CORNER
            and corner not in here
            and any(corner_of(stay.place) == corner for stay in part.where.at(at_ms))
        )
        return max((*own, *left), default=-1)

    def inspected_ms(self, part: Followed) -> int:
        """Give when last a part was inspected: by itself, or with the corner that it was on."""
        own = (each.at_ms for each in part.told if _signed(each))
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

    def _alert(self, corner: Corner) -> Alert | None:
        where = {"car": corner.car, "corner": corner.corner}
        since = max(self._straight.get(corner, ()), default=-1)
        bent, (hit_ms, part) = self._bent.get(corner), self._hit.get(corner, (-1, ""))
        # Of one minute nobody knows which came first: what was found not straight stands.
        if bent is not None and bent.at_ms >= since:
            return Alert(code="bent", detail=_told(bent), since=moment(bent.at_ms), **where)
        if hit_ms > since:
            detail = f"car {corner.car}, {corner.corner}: inspect the whole corner, sign; {part} saw contact"
            return Alert(code="inspect", detail=detail, part=part, since=moment(hit_ms), **where)
        return None


def contact(told: Mapping[str, Sequence[Told]], *, cards: Iterable[Told] = (), car: str, until_ms: int) -> list[Alert]:
    """Tell of the corners of a car that nobody had inspected whole, found straight and signed for by a time.

    Args:
        told: the shop records of the parts.
        cards: the car's work cards.
        car: which.
        until_ms: the time; what was done later does not count.

    Example:
        >>> hit = {"what": "contact", "place": {"car": "7", "corner": "rf"}}
        >>> told = {"s-041": [Told(name="s-041/2026-05-02-contact-1", tip="", at_ms=5, body=hit)]}
        >>> [alert.corner for alert in contact(told, car="7", until_ms=9)]
        ['rf']
    """
    followed = [follow(part, {}, of) for part, of in told.items()]
    return [alert for alert in Corners(followed, cards, until_ms=until_ms).alerts() if alert.car == car]


def _signed(record: Told) -> bool:
    return record.what == "inspected" and bool(text(record.body, "inspected", "signed_by"))


def _by(at_ms: int, until_ms: int | None) -> bool:
    return until_ms is None or at_ms <= until_ms


def _about(part: Followed, record: Told) -> list[Corner]:
    """Name the corners that a record is about: its own, else where the part was."""
    said = corner_of(record.place)
    if said:
        return [said]
    return [corner for stay in part.where.at(record.at_ms) if (corner := corner_of(stay.place))]


def _recorded(corner: Corner, record: Told) -> Iterator[Inspection]:
    """Read a shop record as an inspection of the whole corner, if it is one."""
    inspected = group(record.body, "inspected")
    found = straight(inspected)
    if record.what == "inspected" and found is not None and inspected.get("whole_corner") is True:
        yield Inspection(corner, record.at_ms, found, inspected, record)


def _ticked(card: Told) -> Iterator[Inspection]:
    """Read the ticks of a card; one that does not say when settles nothing, since the contact may be later."""
    for corner, tick in ticks(card):
        inspected, at_ms = group(tick, "inspected"), moment_ms(tick.get("at"))
        found = straight(inspected)
        if found is not None and not (found and at_ms is None):
            where = Corner(card.name.partition("/")[0], corner)
            yield Inspection(where, card.at_ms if at_ms is None else at_ms, found, inspected, card)


def _worst(found: Iterable[Inspection]) -> Iterator[Inspection]:
    """Pass over what one side of a split record found straight and another did not."""
    sides: dict[tuple[str, Corner], list[Inspection]] = defaultdict(list)
    for each in found:
        sides[each.told.name, each.corner].append(each)
    for of_one in sides.values():
        yield from [each for each in of_one if not each.straight] or of_one


def _told(found: Inspection) -> str:
    """Say what was found: how far, by whom, in which record."""
    inspected, bent = found.inspected, number(found.inspected, "bent_by_in")
    by, how = text(inspected, "signed_by") or "nobody who signed", text(inspected, "method")
    said = f"bent by {bent:g} in" if bent else "not straight"
    at = moment(found.at_ms).strftime("%Y-%m-%d %H:%MZ")
    return (
        f"car {found.corner.car}, {found.corner.corner}: found {said} by {by}"
        f"{f' ({how})' if how else ''}, {found.told.name}, {at}: renew what is bent, never straighten it;"
        " then inspect the whole corner again, sign"
    )
