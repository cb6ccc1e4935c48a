"""Faults of records that cannot be true: refused where a record is entered, flagged where it came by exchange.

Each fault names field, value, bound and unit. Where a record does not hold enough to be sure, there is none. A
correction is refused only for faults that it brings in; old ones may be mended piece by piece. A card keeps the jobs
planned when it was started: whoever signs is held to them, each done or named unfinished, with no schedule solved; what
did not fit or was put off was never planned. Inspections after contact have their own rule, which `unfinished` does not
lift.
"""

import datetime as dt
import difflib
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final, NamedTuple, get_args

from msgspec import UNSET

from studbook.history import leaves
from studbook.history.canonical import Tree
from studbook.wire.problem import FieldFault
from studbook.wire.records import KINDS
from studbook.wire.setup.common import Corner
from studbook.wire.units import opt
from studbook.wire.work import INSPECTION
from studbook_service.night.corners import corner_alerts, ticks
from studbook_service.night.facts import Facts, RevisionOrigin, StudSeat, group, number, taper_deg, text
from studbook_service.night.fit import same_taper
from studbook_service.night.times import DAY_MS, day_ms, day_of, latest_ms, moment, moment_ms
from studbook_service.night.whereabouts import DatedRecord, whereabouts

FASTEST_MPH: Final = 220.0
"""Round a whole lap of an oval; no short-track car comes near it. Common practice, no source."""

SETTLED_LEAST: Final = 2
"""One reading of the scales may be anything (common practice, no source)."""

STUD_SLOTS: Final = ("upper_stud", "lower_stud")

_FRONT_SLOTS: Final = (*STUD_SLOTS, "upper_joint", "lower_joint")
_REAR: Final = ("lr", "rr")

Faults = Iterator[FieldFault]


class Subject(NamedTuple):
    """A record to check, or one side of a split one.

    Attributes:
        steps: its name, taken apart.
        tip: its entry's id, hex; empty of one that is not recorded yet.
    """

    name: str
    steps: Mapping[str, str]
    tree: Tree
    tip: str


def impossible(kind: str, name: str, tree: Tree, facts: Facts, *, tip: str = "") -> list[FieldFault]:
    """Find the faults of a record that cannot be true.

    Args:
        kind: of the record.
        name: what follows its kind's root in its line.
        tree: its document.
        facts: what the book holds about what it names; a part's shop records and a car's cards include this one.
        tip: its entry's id, hex; empty of one that is not recorded yet.

    Returns:
        Each with the field's path; without one where it is about the name.

    Example:
        >>> found = impossible("event", "2026-05-02-north", {"date": "2026-05-03"}, Facts())
        >>> found[0].detail
        'date: 2026-05-03 is not the date that the name begins with, 2026-05-02'
    """
    subject = Subject(name, KINDS[kind].parts(name), tree, tip)
    check = _CHECKS.get(kind)
    return [*_car(subject, facts), *(check(subject, facts) if check else ())]


def _event(subject: Subject, _: Facts) -> Faults:
    steps, tree = subject.steps, subject.tree
    day = day_of(steps["event"])
    if day is None:
        yield _of_name(f"{steps['event'][:10]} is no date")
    date = text(tree, "date")
    if date and day_of(date) is None:
        yield _fault("date", f"{date} is no date", date)
    elif date and date != steps["event"][:10]:
        yield _fault("date", f"{date} is not the date that the name begins with, {steps['event'][:10]}", date)


def _outing(subject: Subject, facts: Facts) -> Faults:
    steps, tree = subject.steps, subject.tree
    event = facts.events.get(steps["event"])
    if event is None:
        yield _of_name(f"there is no event {steps['event']}")
    yield from _revision("revision", steps["car"], tree, facts)
    yield from _started(day_of(steps["event"]), tree, facts)
    yield from _laps(tree, number(event or {}, "length_mi"))


def _started(day: dt.date | None, tree: Tree, facts: Facts) -> Faults:
    started = text(tree, "started_at")
    raced = facts.revisions.get(text(tree, "revision"))
    first = None if day is None else day_ms(day) - DAY_MS
    last = None if day is None else day_ms(day) + 3 * DAY_MS
    ms = latest_ms(started)
    if started and ms is None:
        yield _fault("started_at", f"{started} is no time", started)
    elif ms is not None and first is not None and last is not None and not first <= ms < last:
        yield _fault("started_at", f"{started} is not in the night of {day}", started)
    # Without a time the last moment at which it may have begun counts.
    end = ms if ms is not None else last
    if raced is not None and end is not None and end < raced.at_ms:
        when = f"{started} is" if started else f"the night of {day} is"
        recorded = moment(raced.at_ms).isoformat(timespec="seconds")
        detail = (
            f"{when} before the revision raced was recorded, {recorded}; one entered later takes `at`, when it was so"
        )
        yield _fault("started_at", detail, started or UNSET)


def _laps(tree: Tree, length_mi: float | None) -> Faults:
    times = tree.get("lap_times_s")
    if not isinstance(times, list):
        return
    laps = number(tree, "laps")
    if laps is not None and laps != len(times):
        detail = f"{laps:g} laps, but {len(times)} lap times"
        yield _fault("laps", detail, laps, least=len(times), most=len(times), unit="count")
    least = None if length_mi is None else length_mi * 3600 / FASTEST_MPH
    for place, time in enumerate(times):
        if least is not None and isinstance(time, int | float) and time < least:
            detail = f"{time:g} s is below the least round {length_mi:g} mi at {FASTEST_MPH:g} mph, {least:.2f} s"
            yield _fault(f"lap_times_s.{place}", detail, time, least=round(least, 2), unit="s")


def _shop_record(subject: Subject, facts: Facts) -> Faults:
    part, tree = subject.steps["part"], subject.tree
    what = subject.steps["record"][11:].rpartition("-")[0]
    if part not in facts.parts:
        yield _of_name(f"there is no part {part}")
    if tree.get("what") != what:
        yield _fault("what", f"is not as in the record's name, {what}", tree.get("what", UNSET))
    if not text(tree, "at"):
        yield _fault("at", "is missing")
    yield from _dated(subject.steps["record"], tree)
    yield from _place(tree, facts)
    yield from _reading(what, tree)
    outing = text(tree, "outing")
    if outing and outing not in facts.outings:
        yield _fault("outing", f"there is no outing {outing}", outing)
    yield from _taper(part, what, tree, facts)
    for clash in whereabouts(facts.shop_records.get(part, ())).clashes:
        if any((each.name, each.tip) == (subject.name, subject.tip) for each in clash[:2]):
            where = clash.later.place.get("car", UNSET)
            yield _fault("place.car", f"{part} cannot be there by {clash.later.name}: {clash.why}", where)


def _place(tree: Tree, facts: Facts) -> Faults:
    where, car = text(tree, "place", "where"), text(tree, "place", "car")
    if tree.get("what") == "fitted" and not car:
        yield _fault("place.car", "is missing: to which car?")
    if car and where in ("shelf", "trailer"):
        yield _fault("place.car", f"{car}: the {where} is on no car", car)
    if where == "car" and not car and tree.get("what") != "fitted":
        yield _fault("place.car", "is missing: on which car?")
    if car and car not in facts.cars:
        yield _fault("place.car", f"there is no car {car}", car)
    corner, slot = text(tree, "place", "corner"), text(tree, "place", "slot")
    if corner in _REAR and slot in _FRONT_SLOTS:
        yield _fault("place.corner", f"{corner} has no {slot}: lf or rf has", corner)


def _reading(what: str, tree: Tree) -> Faults:
    torque = number(tree, "preload", "torque_in_lb")
    pulled = number(tree, "preload", "pull_lb"), number(tree, "preload", "lever_in")
    if what == "preload" and torque is None and None in pulled:
        yield _fault("preload.torque_in_lb", "is missing: give the torque, or pull_lb and lever_in")
    if what == "preload" and not text(tree, "preload", "basis"):
        yield _fault("preload.basis", "is missing: breakaway or running?")
    if what == "play" and number(tree, "play_in") is None:
        yield _fault("play_in", "is missing")
    yield from _inspection("inspected", tree, needed=what == "inspected")


def _inspection(path: str, tree: Tree, *, needed: bool) -> Faults:
    """Check what an inspection found; `path` is of the group."""
    straight = group(tree, "inspected").get("straight")
    bent = number(tree, "inspected", "bent_by_in")
    if needed and straight is None:
        yield _fault(f"{path}.straight", "is missing")
    if straight is True and bent:
        yield _fault(f"{path}.bent_by_in", f"{bent:g} in of what is straight", bent, most=0, unit="in")


def _taper(part: str, what: str, tree: Tree, facts: Facts) -> Faults:
    known = facts.parts.get(part, {})
    if what not in ("fitted", "moved") or known.get("kind") != "stud":
        return
    slot = text(tree, "place", "slot")
    if slot and slot not in STUD_SLOTS:
        yield _fault("place.slot", f"{slot} takes no stud: {' or '.join(STUD_SLOTS)} does", slot)
    seat = StudSeat(text(tree, "place", "car"), text(tree, "place", "corner"), slot)
    own, there = taper_deg(known), facts.tapers_deg.get(seat, frozenset())
    if own is not None and there and not any(same_taper(own, each) for each in there):
        nearest = min(there, key=lambda each: abs(own - each))
        detail = f"its taper of {own:.4g} deg cannot go into the {nearest:.4g} deg of car {seat.car}'s {seat.corner}"
        yield _fault("place.slot", detail, slot, least=nearest, most=nearest, unit="deg")


def _log(subject: Subject, facts: Facts) -> Faults:
    yield from _dated(subject.steps["log"], subject.tree)
    yield from _revision("taken_into", subject.steps["car"], subject.tree, facts)


def _scale_session(subject: Subject, facts: Facts) -> Faults:
    yield from _dated(subject.steps["session"], subject.tree)
    yield from _revision("revision", subject.steps["car"], subject.tree, facts)
    readings = subject.tree.get("readings_lb")
    count = len(readings) if isinstance(readings, list) else 0
    if count < SETTLED_LEAST:
        detail = f"{count} is not settled: {SETTLED_LEAST} readings or more, rolled and bounced between them"
        yield _fault("readings_lb", detail, least=SETTLED_LEAST, unit="count")


def _check(subject: Subject, facts: Facts) -> Faults:
    yield from _dated(subject.steps["check"], subject.tree)
    yield from _revision("revision", subject.steps["car"], subject.tree, facts)
    if not leaves.leaves(group(subject.tree, "measured")):
        yield _fault("measured", "is missing: what was read?")


def _work(subject: Subject, facts: Facts) -> Faults:
    yield from _dated(subject.steps["card"], subject.tree)
    for member in ("since", "revision"):
        yield from _revision(member, subject.steps["car"], subject.tree, facts)
    yield from _ticked(subject)
    if "signed_off" in subject.tree:
        yield from _signed_off(subject, facts)
        yield from _unfinished(subject)


def _ticked(subject: Subject) -> Faults:
    """Check the inspections ticked on a card: when, what was found, who signed."""
    for job, tick in group(subject.tree, "done").items():
        if isinstance(tick, dict) and "inspected" in tick and not job.startswith(INSPECTION):
            yield _fault(f"done.{job}.inspected", f"{job} is no inspection of a corner, such as {INSPECTION}rf")
    for corner, tick in ticks(DatedRecord(name=subject.name, tip="", at_ms=0, body=subject.tree)):
        path = f"done.{INSPECTION}{corner}"
        at = text(tick, "at")
        if corner not in get_args(Corner):
            yield _fault(path, f"there is no corner {corner}: {', '.join(get_args(Corner))}")
        if moment_ms(at) is None:
            yield _fault(f"{path}.at", f"{at} is no time" if at else "is missing: when was it inspected?", at or UNSET)
        yield from _inspection(f"{path}.inspected", tick, needed=True)
        if not text(tick, "inspected", "signed_by"):
            yield _fault(f"{path}.inspected.signed_by", "is missing: who signs for it?")
        if leaves.at(tick, ("inspected", "whole_corner")) is False:
            yield _fault(f"{path}.inspected.whole_corner", "false, but the job is the whole corner", value=False)


def _signed_off(subject: Subject, facts: Facts) -> Faults:
    """Check a finished card against the contact there had been when it was signed."""
    signed, done = text(subject.tree, "signed_off", "at"), group(subject.tree, "done")
    ms = latest_ms(signed)
    if ms is None:
        yield _fault("signed_off.at", f"{signed} is no time" if signed else "is missing: when?", signed or UNSET)
        return
    for alert in corner_alerts(facts.shop_records, cards=facts.cards, car=subject.steps["car"], until_ms=ms):
        job = f"{INSPECTION}{alert.corner}"
        if alert.code == "bent":
            why = alert.detail
        elif job not in done:
            why = f"{job} is not ticked: the corner saw contact; inspect and sign it before the card is signed off"
        else:
            why = f"{job} was not found straight and signed since {alert.part} saw contact: inspect again, sign"
        yield _fault("signed_off.at", why, signed)


def _unfinished(subject: Subject) -> Faults:
    """Check that each job of a finished card is done, or named as unfinished."""
    tree, planned = subject.tree, subject.tree.get("planned")
    if planned is None and "since" in tree and "revision" in tree:
        yield _fault("planned", "is missing: which jobs were planned from the one revision to the other?")
    known = {*group(tree, "done"), *_texts(leaves.at(tree, ("signed_off", "unfinished")))}
    if left_open := [job for job in _texts(planned) if job not in known and not job.startswith(INSPECTION)]:
        why = f"not ticked: {', '.join(left_open)}; tick what is done, and name the rest as unfinished"
        yield _fault("signed_off.unfinished", why)


def _shop_times(subject: Subject, facts: Facts) -> Faults:
    for kind in group(subject.tree, "jobs"):
        if kind not in facts.jobs:
            near = next(iter(difflib.get_close_matches(kind, facts.jobs, n=1)), None)
            hint = f"; the nearest is {near}" if near else ""
            yield _fault(f"jobs.{kind}", f"{kind} is no kind of job{hint}", kind)


def _dated(step: str, tree: Tree) -> Faults:
    """Check a record's time against the date that its name begins with; work may go on past midnight."""
    day, at = day_of(step), text(tree, "at")
    if day is None:
        yield _of_name(f"{step[:10]} is no date")
    if at and moment_ms(at) is None:
        yield _fault("at", f"{at} is no time", at)
    elif at and day is not None and abs((dt.date.fromisoformat(at[:10]) - day).days) > 1:
        yield _fault("at", f"{at} is not on the date that the name begins with, {day}", at)


def _car(subject: Subject, facts: Facts) -> Faults:
    car = subject.steps.get("car")
    if car is not None and car not in facts.cars:
        yield _of_name(f"there is no car {car}")


def _revision(member: str, car: str, tree: Tree, facts: Facts) -> Faults:
    id_ = text(tree, member)
    raced: RevisionOrigin | None = facts.revisions.get(id_)
    if id_ and raced is None:
        yield _fault(member, f"there is no revision {id_[:12]}", id_)
    elif raced is not None and raced.car != car:
        whose = f"is of car {raced.car}" if raced.car else "is of no car"
        yield _fault(member, f"{id_[:12]} {whose}, not of car {car}", id_)


_CHECKS: Final[Mapping[str, Callable[[Subject, Facts], Faults]]] = {
    "event": _event,
    "outing": _outing,
    "shop_record": _shop_record,
    "scale_session": _scale_session,
    "check": _check,
    "log": _log,
    "work": _work,
    "shop_times": _shop_times,
}


def _fault(
    path: str, why: str, value: Any = UNSET, *, least: float | None = None, most: float | None = None, unit: str = ""
) -> FieldFault:
    return FieldFault(
        path=path,
        detail=f"{path}: {why}",
        value=value,
        least=opt(least),
        most=opt(most),
        unit=unit or UNSET,
    )


def _texts(value: Any) -> list[str]:
    """Read a list of text from a document of whatever form."""
    return [each for each in value if isinstance(each, str)] if isinstance(value, list) else []


def _of_name(why: str) -> FieldFault:
    return FieldFault(detail=why)
