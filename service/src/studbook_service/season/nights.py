"""A car's outings in order, each with what was changed on the car, recorded and logged since the one before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any, TypeGuard

from studbook.history.changes import FieldChange
from studbook.history.encoded import diff_encoded
from studbook.history.leaves import Path
from studbook_service.night.moments import day_of
from studbook_service.season.lineage import Heads, Way, descends, way
from studbook_service.season.pace import Pace, pace
from studbook_service.season.things import Thing, on_the_car, things
from studbook_service.season.tires import Tires
from studbook_service.season.told import Logged, Out, Raced, Season


@dataclass(slots=True, kw_only=True, eq=False)
class Entry:
    """One outing.

    Attributes:
        raced: the revision, where the book has it.
        order: number of the outing in its night, from 0.
        tires: tags by corner, where known.
        before: the car's outing before it, in the season or earlier.
        since: the last one before it whose document is known.
        changes: since then, in the document; None where one of the two is not known.
        way: from that revision to this one.
        logs: what was logged since, and is in no revision that led to this one.
        things: those of them that are of the car, by what they are about.
        settings: the fields of the car that differed between outings of this night, as they were in this one.
        not_as_written: what was turned, or may have been, that the revision raced does not have; empty where nothing.
        left_out: why it is held against nothing; empty where it may be.
    """

    out: Out
    pace: Pace
    order: int
    tires: dict[str, str]
    tire_laps: dict[str, int]
    raced: Raced | None = None
    before: "Entry | None" = None
    since: "Entry | None" = None
    changes: Sequence[FieldChange] | None = None
    way: Way | None = None
    logs: Sequence[Logged] = ()
    things: Sequence[Thing] = ()
    settings: dict[Path, Any] = field(default_factory=dict)
    not_as_written: str = ""
    left_out: str = ""

    @property
    def revision(self) -> str:
        """Id of the revision named; empty where there is none."""
        return self.out.record.revision or ""

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
        if self.tires != other.tires:
            return "other tires"
        return other.left_out or self.left_out


def follow(season: Season, car: str, tires: Tires) -> list[Entry]:
    """Follow a car through the season.

    What was raced is the revision that each outing names, however its sheet or another record was corrected later.
    """
    logged = [each for each in season.logged if each.car == car]
    found: list[Entry] = []
    before: Entry | None = None
    since: Entry | None = None
    last_of: dict[str, str] = {}
    for _, night in groupby(season.of(car), key=lambda out: out.event):
        for order, out in enumerate(night):
            entry = _entry(season, out, order, tires)
            entry.before, entry.since = before, since
            if season.holds(day_of(out.event)):
                _tell(entry, season.heads, logged, last_of)
                found.append(entry)
            before = entry
            if _body(entry):
                since = entry
                if entry.revision in season.heads:
                    last_of[season.heads[entry.revision].sheet] = entry.revision
    for _, of_night in groupby(found, key=lambda entry: entry.out.event):
        _tell_settings(list(of_night))
    return found


def _entry(season: Season, out: Out, order: int, tires: Tires) -> Entry:
    return Entry(
        out=out,
        pace=pace(out.record.lap_times_s or []),
        order=order,
        tires=tires.on[out.name],
        tire_laps=tires.laps[out.name],
        raced=season.revisions.get(out.record.revision or ""),
    )


def _tell(entry: Entry, heads: Heads, logged: Sequence[Logged], last_of: Mapping[str, str]) -> None:
    """Tell an outing what differs from the one before, and how that came to be.

    Args:
        entry: the outing.
        heads: the revisions of its sheets.
        logged: log entries of its car.
        last_of: the revision raced last of each sheet.
    """
    entry.logs = [log for log in logged if _since(log, entry) and not _led(log, entry, heads)]
    entry.not_as_written = _not_as_written(entry)
    entry.left_out = _left_out(entry)
    if entry.since is None:
        return
    if _body(entry):
        entry.changes = diff_encoded(_body(entry.since), _body(entry))
        of_car = [change.path for change in on_the_car(entry.changes)]
        entry.things = sorted(set(things(of_car).values()))
    if entry.revision in heads and entry.since.revision in heads:
        here = last_of.get(heads[entry.revision].sheet)
        entry.way = way(heads, entry.revision, before=entry.since.revision, here=here)


def _led(log: Logged, entry: Entry, heads: Heads) -> bool:
    """Say whether what was logged is in the revision raced: it became that one, or one that led to it."""
    became = log.record.taken_into or ""
    return bool(became) and (became == entry.revision or descends(heads, entry.revision, became))


def _since(log: Logged, entry: Entry) -> bool:
    """Say whether something was logged since the outing before, or the revision raced if that is older; or may be."""
    before = entry.before
    ran_ms = before.out.at_ms if before else entry.out.at_ms
    since_ms = min(ran_ms, entry.raced.at_ms) if entry.raced else ran_ms
    after = log.latest_ms > since_ms or (_same_night(before, entry) and _unordered(log, before))
    return after and (log.at_ms <= entry.out.at_ms or _unordered(log, entry))


def _unordered(log: Logged, entry: Entry) -> bool:
    """Say that nobody can tell which came first: both were on one day, and one of the two has no time."""
    return not (log.timed and entry.out.timed) and log.day == day_of(entry.out.event)


def _surely(log: Logged, entry: Entry) -> bool:
    """Say that something was logged before an outing, or before an earlier one of that night."""
    if not _unordered(log, entry):
        return log.at_ms <= entry.out.at_ms
    return _same_night(entry.before, entry) and _surely(log, entry.before)


def _same_night(before: Entry | None, entry: Entry) -> TypeGuard[Entry]:
    return before is not None and before.out.event == entry.out.event


def _left_out(entry: Entry) -> str:
    if entry.out.flags:
        return "its record cannot be"
    if entry.raced is None:
        return "the revision raced is not in the book" if entry.revision else "no revision is named"
    if not entry.raced.body:
        return "the revision raced was erased"
    if entry.not_as_written:
        return entry.not_as_written
    if entry.pace.median_s is None:
        return "too few clean laps"
    return ""


def _not_as_written(entry: Entry) -> str:
    """Say what was turned after the revision raced was recorded; what was logged before may have been in it, untold."""
    raced = entry.raced
    if raced is None:
        return ""
    turned = [log for log in entry.logs if log.latest_ms > raced.at_ms]
    sure = [log.name for log in turned if log.at_ms > raced.at_ms and _surely(log, entry)]
    if sure:
        return f"{sure[-1]} was turned after its revision was recorded, and was in none: the car was not as written"
    if not turned:
        return ""
    log = turned[-1]
    why = f"the outing has no time, and {log.name} was turned that day" if log.timed else f"{log.name} has no time"
    return f"{why}: nobody can say which came first, nor whether the car was as written"


def _tell_settings(night: Sequence[Entry]) -> None:
    """Tell what each outing of a night had of the fields in which they differ."""
    seen: list[Entry] = []
    for entry in filter(_body, night):
        if seen:
            entry.settings = dict(seen[-1].settings)
            for change in on_the_car(entry.changes or ()):
                if change.path not in entry.settings:
                    for earlier in seen:
                        earlier.settings[change.path] = change.before
                entry.settings[change.path] = change.after
        seen.append(entry)


def _body(entry: Entry) -> bytes:
    return entry.raced.body if entry.raced else b""


def _said(state: str) -> str:
    return state.replace("_", "-") or "not said to be anything"
