"""The order of a card: what each job brings after it, what comes before what, and what never goes on at once.

Rules, common practice, no source. On one place of the car: inspect, tires, pressures and stagger, parts, preload,
perches, heights, camber and caster, toe, bump steer, swing lock to lock, bars, scales, nuts; tires and parts may change
places, as only the heights depend on both. Never at once: two jobs on one place; front and rear lifted; somebody under
the car while another lifts; a reading of the car as it stands while another lifts; a left and a right perch. On four
stands nobody lifts and any perches go together. Heights, toe and scales have the car to themselves.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Final

from studbook.wire.work import INSPECTION
from studbook_service.translate.words import CORNER
from studbook_service.work.bounds import SchedulingProblem
from studbook_service.work.items import EVERYWHERE, FRONT, REAR, WHEELS, Item
from studbook_service.work.job_spec import Stage

AT_CORNER: Final = {
    "camber_gauge": "camber-%s",
    "bump_sheet": "bump-steer-%s",
    "swing": "swing-%s",
    "wheel_torque": "torque-%s",
}
AT_FRONT_ONLY: Final = frozenset({"camber_gauge", "toe_check", "bump_sheet", "swing"})
FRONT_WHEELS: Final = frozenset({"lf", "rf"})
LEFT: Final = frozenset({"lf", "lr"})
PERCHES: Final = frozenset({"perch_coil_over", "perch_weight_jack"})
STEPS_PER_MINUTE: Final = 60


def inspections(contact: Collection[str]) -> list[Item]:
    """Give the job that comes first at each corner that saw contact.

    Example:
        >>> [item.id for item in inspections(["rf"])]
        ['inspect-rf']
    """
    return [
        Item(id=INSPECTION + wheel, kind="inspect", where=CORNER[wheel], places=frozenset({wheel}))
        for wheel in WHEELS
        if wheel in contact
    ]


def with_checks(items: Sequence[Item]) -> list[Item]:
    """Add every re-check that some jobs bring, each once, and put all in the order of the card.

    Example:
        >>> stud = Item(id="stud-rf-upper", kind="upper_stud", where="RF", places=frozenset({"rf"}))
        >>> [item.id for item in with_checks([stud])]
        ['stud-rf-upper', 'camber-rf', 'toe', 'bump-steer-rf', 'swing-rf', 'torque-rf']
    """
    found = {item.id: item for item in items}
    waiting = list(items)
    while waiting:
        item = waiting.pop()
        for check in _brought(item):
            known = found.get(check.id)
            if known is None:
                found[check.id] = check
                waiting.append(check)
            elif not known.change:
                found[check.id] = replace(known, because=tuple(sorted({*known.because, item.id})))
    return sorted(found.values(), key=lambda each: (each.of.stage, _place_number(each), each.id))


def comes_before(one: Item, other: Item) -> bool:
    """Say whether one job must be done before another may begin.

    Example:
        >>> front = {"places": frozenset({"rf"}), "where": "RF"}
        >>> stud, camber = Item(id="a", kind="upper_stud", **front), Item(id="b", kind="camber_gauge", **front)
        >>> comes_before(stud, camber), comes_before(camber, stud)
        (True, False)
    """
    if one.of.stage >= other.of.stage or not one.places & other.places:
        return False
    return not _may_swap(one.of.stage, other.of.stage)


def kept_apart(one: Item, other: Item, *, on_stands: bool) -> bool:
    """Say whether two jobs may not go on at once.

    Example:
        >>> stud = Item(id="stud-rf-upper", kind="upper_stud", where="RF", places=frozenset({"rf"}))
        >>> gear = Item(id="gear", kind="gear", where="", places=frozenset({"rear"}))
        >>> kept_apart(stud, gear, on_stands=False), kept_apart(stud, stud, on_stands=True)
        (False, True)
    """
    if one.of.alone or other.of.alone or one.places & other.places:
        return True
    return not on_stands and (
        _lifts_against(one, other)
        or _lifts_against(other, one)
        or (one.kind in PERCHES and other.kind in PERCHES and bool(one.places & LEFT) is not bool(other.places & LEFT))
    )


def scheduling_problem(
    items: Sequence[Item], *, minutes: Sequence[float], people: Sequence[int], crew: int, on_stands: bool
) -> SchedulingProblem:
    """Give jobs, in the order of the card, as tasks for the scheduler, time in seconds."""
    return SchedulingProblem(
        duration=tuple(max(1, round(each * STEPS_PER_MINUTE)) for each in minutes),
        people=tuple(people),
        crew=crew,
        before=tuple(_set(comes_before(each, item) for each in items) for item in items),
        apart=tuple(
            _set(each is not item and kept_apart(each, item, on_stands=on_stands) for each in items) for item in items
        ),
        first=_set(item.of.stage == Stage.INSPECT for item in items),
    )


def _may_swap(earlier: Stage, later: Stage) -> bool:
    """Say whether one is of the tires and the other of the parts: only the heights depend on both."""
    return Stage.INSPECT < earlier <= Stage.STAGGER < later < Stage.HEIGHTS


def _brought(item: Item) -> Iterable[Item]:
    wheels = [wheel for wheel in WHEELS if wheel in item.places]
    for kind in (*item.of.brings, *item.brings):
        if kind in AT_CORNER:
            for wheel in wheels:
                if wheel in FRONT_WHEELS or kind not in AT_FRONT_ONLY:
                    yield _check(AT_CORNER[kind] % wheel, kind, {wheel}, item, where=CORNER[wheel])
        elif kind != "toe_check":
            yield _check(kind, kind, WHEELS if kind == "stagger" else EVERYWHERE, item)
        elif FRONT_WHEELS & item.places:
            yield _check("toe", kind, FRONT_WHEELS, item)


def _check(id_: str, kind: str, places: Iterable[str], brought_by: Item, *, where: str = "") -> Item:
    return Item(id=id_, kind=kind, where=where, places=frozenset(places), because=(brought_by.id,))


def _lifts_against(one: Item, other: Item) -> bool:
    """Say whether one lifts the car while the other lifts its other end, lies under it or reads it as it stands."""
    if not one.of.lifts:
        return False
    return other.of.under or other.of.standing or (other.of.lifts and _ends(one) != _ends(other))


def _ends(item: Item) -> tuple[bool, bool]:
    return bool(item.places & FRONT), bool(item.places & REAR)


def _place_number(item: Item) -> int:
    return min((WHEELS.index(place) for place in item.places if place in WHEELS), default=len(WHEELS))


def _set(flags: Iterable[bool]) -> int:
    return sum(1 << place for place, flag in enumerate(flags) if flag)
