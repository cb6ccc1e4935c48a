"""The state of the parts by the records: where each is, what it has run, what has to be done."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any, Final

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.parts import Part, PartPlace
from studbook.wire.records import fitting
from studbook.wire.shelf import Alert, PartState, PreloadRead, StudCount
from studbook.wire.units import opt
from studbook_service.night.corners import Corners, corner_of, straight
from studbook_service.night.facts import group, number, taper_deg, text
from studbook_service.night.fit import differing, elsewhere, unfit
from studbook_service.night.times import moment
from studbook_service.night.whereabouts import DatedRecord, PartHistory, Stay, part_history

DRIFT_LEAST_IN_LB: Final = 2.0
DRIFT_LEAST_PART: Final = 0.2
"""A preload has drifted when it is off its target by more than both, unless the part says how much it may be.
Common practice, no source."""

_DECIDING: Final = ("what", "place", "inspected", "play_in")
"""Fields of a shop record that decide where a part is and in what state."""

_at: Final = attrgetter("at_ms")


@dataclass(frozen=True, slots=True, kw_only=True)
class OutingLaps:
    """One outing as far as it matters to parts.

    Attributes:
        at_ms: when it began, as near as it is known.
    """

    event: str
    car: str
    at_ms: int
    laps: int


def shelf(
    parts: Mapping[str, Tree],
    shop_records: Mapping[str, Sequence[DatedRecord]],
    outings: Sequence[OutingLaps],
    cards: Iterable[DatedRecord] = (),
    *,
    sides: Mapping[str, Sequence[Tree]] | None = None,
) -> tuple[list[PartState], list[Alert]]:
    """Derive the state of the parts.

    Args:
        parts: their documents by tag.
        shop_records: of the parts.
        outings: all.
        cards: the work cards, on which inspections of whole corners are ticked.
        sides: every document of parts whose record is split, by tag.

    Returns:
        The parts by tag, and the corners that saw contact, or were found not straight, and that nobody inspected whole,
        found straight and signed for since.

    Example:
        >>> states, _ = shelf({"s-041": {"kind": "stud"}}, {}, [])
        >>> states[0].places
        []
    """
    histories = [part_history(part, document, shop_records.get(part, ())) for part, document in sorted(parts.items())]
    corners, runs = Corners(histories, cards), _Runs(outings)
    shared = _sharing(histories)
    states = [_state(each, runs, corners, shared) for each in histories]
    for state, part in zip(states, histories, strict=True):
        if not state.scrapped:
            state.alerts += _apart(part, (sides or {}).get(part.part, ()))
    return states, corners.alerts()


def studs(states: Iterable[PartState]) -> list[StudCount]:
    """Count the studs by size that are on the shelf or in the trailer and fit to go on a car.

    Example:
        >>> studs([])
        []
    """
    found: dict[tuple[Any, ...], list[str]] = defaultdict(list)
    for state in states:
        if state.document.kind == "stud" and not unfit(state) and not elsewhere(state):
            found[_size(msgspec.to_builtins(state.document))].append(state.part)
    return [
        StudCount(
            count=len(tags),
            parts=tags,
            length_in=opt(length),
            taper_included_deg=opt(taper),
            large_end_in=opt(large),
        )
        for (length, taper, large), tags in sorted(found.items(), key=lambda each: str(each[0]))
    ]


class _Runs:
    """The outings of each car in the order of time."""

    def __init__(self, outings: Iterable[OutingLaps]) -> None:
        self._of: dict[str, list[OutingLaps]] = defaultdict(list)
        for each in sorted(outings, key=_at):
            self._of[each.car].append(each)

    def during(self, stays: Iterable[Stay]) -> list[OutingLaps]:
        """Give those that ran on a car while a part was on it; each once, however many records put the part there."""
        found: dict[int, OutingLaps] = {}
        for stay in stays:
            of_car = self._of.get(text(stay.place, "car"), [])
            for each in of_car[bisect_left(of_car, stay.since_ms, key=_at) :]:
                if not stay.holds(each.at_ms):
                    break
                found[id(each)] = each
        return list(found.values())


def _state(part: PartHistory, runs: _Runs, corners: Corners, shared: Mapping[str, Stay]) -> PartState:
    now = part.where.now()
    raced = runs.during(part.where.stays)
    preloads = [read for record in part.records if (read := _preload(part.document, record)) is not None]
    plays = [play for record in part.records if (play := number(record.body, "play_in")) is not None]
    return PartState(
        part=part.part,
        document=fitting(part.document, Part),
        places=[fitting(stay.place, PartPlace) for stay in now],
        laps=sum(each.laps for each in raced),
        outings=len(raced),
        nights=len({each.event for each in raced}),
        scrapped=part.where.scrapped,
        since=moment(max(stay.since_ms for stay in now)) if now else UNSET,
        preloads=preloads,
        play_in=opt(plays[-1] if plays else None),
        alerts=[] if part.where.scrapped else list(_alerts(part, preloads, plays, corners, shared)),
    )


def _alerts(
    part: PartHistory,
    preloads: Sequence[PreloadRead],
    plays: Sequence[float],
    corners: Corners,
    shared: Mapping[str, Stay],
) -> Iterator[Alert]:
    tag, now = part.part, part.where.now()
    hit = corners.hit_ms(part)
    if hit > corners.inspected_ms(part):
        yield _alert("inspect", part, f"{tag} saw contact and has no signed inspection since", hit)
    for record in part.records:
        if straight(group(record.body, "inspected")) is False:
            bent = number(record.body, "inspected", "bent_by_in")
            how = f"bent by {bent:g} in" if bent else "not straight"
            yield _alert("bent", part, f"{tag} is {how}: scrap it, never straighten it", record.at_ms)
    drift = preloads[-1].drift_in_lb if preloads else UNSET
    if drift is not UNSET and abs(drift) > _allowed(part.document):
        drifted = f"{tag} turns at {preloads[-1].torque_in_lb:g} in-lb, {drift:+g} in-lb off its target"
        yield _alert("preload", part, drifted)
    limit = number(part.document, "play_limit_in")
    if plays and limit is not None and plays[-1] > limit:
        yield _alert("loose", part, f"{tag} has {plays[-1]:.3f} in of play, its limit is {limit:.3f} in")
    if len(now) > 1:
        places = " and ".join(f"car {stay.place.get('car', '?')} by {stay.record.name}" for stay in now)
        yield _alert("two_places", part, f"{tag} is recorded on {places}", now[-1].since_ms)
    if tag in shared:
        yield _alert("shared", part, f"{tag} is where {shared[tag].record.name} puts another part")


def _apart(part: PartHistory, sides: Sequence[Tree]) -> Iterator[Alert]:
    """Find what two people recorded differently of a part, where it matters to fitting it and has no alert yet.

    A preload may differ, as it is set again, and so may a time while the order of the records stays.
    """
    differs = f"{part.part} is recorded differently on two sides"
    if sides and (paths := differing(sides)):
        yield _alert(
            "split", part, f"{differs} ({', '.join(paths)}): settle it first, studbook part correct {part.part}"
        )
    of_one: dict[str, list[DatedRecord]] = defaultdict(list)
    for record in part.records:
        of_one[record.name].append(record)
    for name, records in of_one.items() if len(part.where.now()) < 2 else ():
        others = [each.at_ms for each in part.records if each.name != name]
        sorts = [([each.body.get(field) for field in _DECIDING], bisect_left(others, each.at_ms)) for each in records]
        if any(each != sorts[0] for each in sorts):
            yield _alert("split", part, f"{differs} ({name}): settle it first, studbook shop correct {name}")


def _alert(code: Any, part: PartHistory, detail: str, since_ms: int | None = None) -> Alert:
    now = part.where.now()
    place = fitting(now[-1].place, PartPlace) if now else PartPlace()
    return Alert(
        code=code,
        detail=detail,
        part=part.part,
        car=place.car,
        corner=place.corner,
        slot=place.slot,
        since=UNSET if since_ms is None else moment(since_ms),
    )


def _sharing(histories: Iterable[PartHistory]) -> dict[str, Stay]:
    """Find parts that are recorded in one slot of a car: who was there first was not taken off."""
    slots: dict[tuple[str, str, str], list[tuple[str, Stay]]] = defaultdict(list)
    for part in histories:
        for stay in part.where.now():
            if (corner := corner_of(stay.place)) and (slot := text(stay.place, "slot")):
                slots[*corner, slot].append((part.part, stay))
    found = {}
    for there in slots.values():
        for tag, _ in there:
            others = [stay for other, stay in there if other != tag]
            if others:
                found[tag] = others[0]
    return found


def _preload(document: Tree, record: DatedRecord) -> PreloadRead | None:
    torque = number(record.body, "preload", "torque_in_lb")
    pulled, lever = number(record.body, "preload", "pull_lb"), number(record.body, "preload", "lever_in")
    if torque is None and pulled is not None and lever is not None:
        torque = pulled * lever
    if torque is None:
        return None
    basis = text(record.body, "preload", "basis")
    target = number(document, "preload", "target_in_lb")
    compared = target is not None and basis == text(document, "preload", "basis")
    turns = number(record.body, "preload", "after_turns")
    return PreloadRead(
        at=moment(record.at_ms),
        torque_in_lb=round(torque, 3),
        record=record.name,
        basis=basis if basis in ("breakaway", "running") else UNSET,  # type: ignore[arg-type] # one of the two by then
        temperature_deg_f=opt(number(record.body, "preload", "temperature_deg_f")),
        after_turns=UNSET if turns is None else int(turns),
        drift_in_lb=round(torque - target, 3) if compared and target is not None else UNSET,
    )


def _allowed(document: Tree) -> float:
    given = number(document, "preload", "tolerance_in_lb")
    target = number(document, "preload", "target_in_lb") or 0.0
    return max(DRIFT_LEAST_IN_LB, DRIFT_LEAST_PART * target) if given is None else given


def _size(document: Tree) -> tuple[float | None, float | None, float | None]:
    taper = taper_deg(document)
    return (
        number(document, "stud", "length_in"),
        None if taper is None else round(taper, 2),
        number(document, "stud", "taper", "large_end_in"),
    )
