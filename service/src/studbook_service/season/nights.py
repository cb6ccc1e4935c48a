"""A car's outings in order, each with what was changed on the car since the one before."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from typing import Any

from studbook.history.changes import Change
from studbook.history.encoded import diff_encoded
from studbook.history.leaves import Path
from studbook_service.season.pace import Pace, pace
from studbook_service.season.things import Thing, on_the_car, things
from studbook_service.season.told import Logged, Out, Raced, Season
from studbook_service.season.tyres import Tyres


@dataclass(slots=True, kw_only=True, eq=False)
class Entry:
    """One outing.

    Attributes:
        raced: the revision, where the book has it.
        order: number of the outing in its night, from 0.
        tyres: tags by corner, where known.
        before: the car's outing before it.
        changes: since then, in the document; None where one of the two is not known.
        things: those of them that are of the car, by what they are about.
        settings: the fields of the car that differed between outings of this night, as they were in this one.
        left_out: why it is held against nothing; empty where it may be.
    """

    out: Out
    pace: Pace
    order: int
    tyres: dict[str, str]
    tyre_laps: dict[str, int]
    raced: Raced | None = None
    before: "Entry | None" = None
    changes: Sequence[Change] | None = None
    things: Sequence[Thing] = ()
    settings: dict[Path, Any] = field(default_factory=dict)
    left_out: str = ""

    @property
    def track_state(self) -> str:
        """How the surface was; empty where nobody said."""
        return self.out.record.track_state or ""

    def unlike(self, other: "Entry") -> str:
        """Say why this is not held against another outing; empty where it may be."""
        if self.out.event != other.out.event:
            return "another night"
        if not self.track_state or self.track_state != other.track_state:
            return f"the track was {_said(other.track_state)}, then {_said(self.track_state)}"
        if self.tyres != other.tyres:
            return "other tyres"
        return other.left_out or self.left_out


def follow(season: Season, car: str, tyres: Tyres) -> list[Entry]:
    """Follow a car through the season.

    What was raced is the revision that each outing names, however its sheet or another record was corrected later.
    """
    outs = season.of(car)
    logged = [each for each in season.logged if each.car == car]
    found: list[Entry] = []
    for _, night in groupby(outs, key=lambda out: out.event):
        found += (_entry(season, out, order, tyres) for order, out in enumerate(night))
    for entry in found:
        entry.left_out = _left_out(entry, logged)
    _tell_changes(found)
    for _, of_night in groupby(found, key=lambda entry: entry.out.event):
        _tell_settings(list(of_night))
    return found


def _entry(season: Season, out: Out, order: int, tyres: Tyres) -> Entry:
    return Entry(
        out=out,
        pace=pace(out.record.lap_times_s or []),
        order=order,
        tyres=tyres.on[out.name],
        tyre_laps=tyres.laps[out.name],
        raced=season.revisions.get(out.record.revision or ""),
    )


def _left_out(entry: Entry, logged: Sequence[Logged]) -> str:
    if entry.out.flags:
        return "its record cannot be"
    if entry.raced is None:
        return "the revision raced is not in the book" if entry.out.record.revision else "no revision is named"
    if not entry.raced.body:
        return "the revision raced was erased"
    raced_ms = entry.raced.at_ms
    if turned := [log.name for log in logged if raced_ms < log.at_ms <= entry.out.at_ms]:
        return f"{turned[-1]} was turned after its revision was recorded, and became none: the car was not as written"
    if entry.pace.median_s is None:
        return "too few clean laps"
    return ""


def _tell_changes(entries: Sequence[Entry]) -> None:
    """Tell each outing what differs from the one before."""
    for before, entry in pairwise(entries):
        entry.before = before
        if _body(before) and _body(entry):
            entry.changes = diff_encoded(_body(before), _body(entry))
            of_car = [change.path for change in on_the_car(entry.changes)]
            entry.things = sorted(set(things(of_car).values()))


def _tell_settings(night: Sequence[Entry]) -> None:
    """Tell what each outing of a night had of the fields in which they differ."""
    seen: list[Entry] = []
    for entry in filter(_body, night):
        if seen:
            entry.settings = dict(seen[-1].settings)
            changes = entry.changes if entry.before is seen[-1] else diff_encoded(_body(seen[-1]), _body(entry))
            for change in on_the_car(changes or ()):
                if change.path not in entry.settings:
                    for earlier in seen:
                        earlier.settings[change.path] = change.before
                entry.settings[change.path] = change.after
        seen.append(entry)


def _body(entry: Entry) -> bytes:
    return entry.raced.body if entry.raced else b""


def _said(state: str) -> str:
    return state.replace("_", "-") or "not said to be anything"
