"""A car's outings in order, each with what was changed on the car, recorded and logged since the one before.

Changes are since the car's last outing whose document can be read, in the days of the report or before them. A log is
in the setup raced only if it became that revision or one that led to it; taken into a revision after the race it stays
with the outing and keeps it out of comparisons. An outing or log without a time has no order within its day on the
crew's clock: what may have been turned before the outing keeps it out of comparisons too. What was turned before an
earlier outing of the night with a time was turned before this one.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any, TypeGuard

from studbook.history.changes import FieldChange
from studbook.history.encoded import diff_encoded
from studbook.history.leaves import Path
from studbook_service.night.times import day_of
from studbook_service.season.factors import Factor, changes_on_car, factors_of
from studbook_service.season.inputs import RacedRevision, RecordedOuting, Season, SeasonLog
from studbook_service.season.lineage import Heads, Way, descends, way
from studbook_service.season.pace import Pace, pace
from studbook_service.season.tires import TireUse


@dataclass(slots=True, kw_only=True, eq=False)
class CarRun:
    """One outing of a car, and what led to it.

    Attributes:
        raced: the revision, where it is in the book.
        order: number of the outing in its night, from 0.
        tires: tags by corner, where known.
        before: the car's outing before it, in the season or earlier.
        since: the last one before it whose document is known.
        changes: since then, in the document; None where one of the two is not known.
        way: from that revision to this one.
        logs: what was logged since, and is in no revision that led to this one.
        factors: what they changed on the car.
        settings: the fields of the car that differed between outings of this night, as they were in this one.
        not_as_written: why the car was not, or may not have been, as the revision raced; empty where it was.
        left_out: why it is compared with nothing; empty where it may be.
    """

    outing: RecordedOuting
    pace: Pace
    order: int
    tires: dict[str, str]
    tire_laps: dict[str, int]
    raced: RacedRevision | None = None
    before: "CarRun | None" = None
    since: "CarRun | None" = None
    changes: Sequence[FieldChange] | None = None
    way: Way | None = None
    logs: Sequence[SeasonLog] = ()
    factors: Sequence[Factor] = ()
    settings: dict[Path, Any] = field(default_factory=dict)
    not_as_written: str = ""
    left_out: str = ""

    @property
    def revision(self) -> str:
        """Id of the revision named; empty where there is none."""
        return self.outing.document.revision or ""

    @property
    def track_state(self) -> str:
        """How the surface was; empty where it is not recorded."""
        return self.outing.document.track_state or ""

    def why_unlike(self, other: "CarRun") -> str:
        """Say why this is not compared with another outing; empty where it may be."""
        if self.outing.event != other.outing.event:
            return "another night"
        if not self.track_state or self.track_state != other.track_state:
            return f"the track was {_state_text(other.track_state)}, then {_state_text(self.track_state)}"
        if self.tires != other.tires:
            return "other tires"
        return other.left_out or self.left_out


def runs_of(season: Season, car: str, tires: TireUse) -> list[CarRun]:
    """Give the outings of a car in the season.

    The revision raced is the one that the outing names, whatever was corrected later.
    """
    logs = [each for each in season.logs if each.car == car]
    found: list[CarRun] = []
    before: CarRun | None = None
    since: CarRun | None = None
    last_of: dict[str, str] = {}
    for _, night in groupby(season.of(car), key=lambda outing: outing.event):
        for order, outing in enumerate(night):
            run = _run(season, outing, order, tires)
            run.before, run.since = before, since
            if season.holds(day_of(outing.event)):
                _compare_with_previous(run, season.heads, logs, last_of)
                found.append(run)
            before = run
            if _body(run):
                since = run
                if run.revision in season.heads:
                    last_of[season.heads[run.revision].sheet] = run.revision
    for _, of_night in groupby(found, key=lambda run: run.outing.event):
        _set_settings(list(of_night))
    return found


def _run(season: Season, outing: RecordedOuting, order: int, tires: TireUse) -> CarRun:
    return CarRun(
        outing=outing,
        pace=pace(outing.document.lap_times_s or []),
        order=order,
        tires=tires.tags[outing.name],
        tire_laps=tires.laps[outing.name],
        raced=season.revisions.get(outing.document.revision or ""),
    )


def _compare_with_previous(run: CarRun, heads: Heads, logs: Sequence[SeasonLog], last_of: Mapping[str, str]) -> None:
    """Set what differs from the outing before, and why; `last_of` has each sheet's last revision raced."""
    run.logs = [log for log in logs if _since(log, run) and not _led(log, run, heads)]
    run.not_as_written = _not_as_written(run)
    run.left_out = _left_out(run)
    if run.since is None:
        return
    if _body(run):
        run.changes = diff_encoded(_body(run.since), _body(run))
        of_car = [change.path for change in changes_on_car(run.changes)]
        run.factors = sorted(set(factors_of(of_car).values()))
    if run.revision in heads and run.since.revision in heads:
        here = last_of.get(heads[run.revision].sheet)
        run.way = way(heads, run.revision, before=run.since.revision, here=here)


def _led(log: SeasonLog, run: CarRun, heads: Heads) -> bool:
    """Say whether a log became the revision raced, or one that led to it."""
    became = log.document.taken_into or ""
    return bool(became) and (became == run.revision or descends(heads, run.revision, became))


def _since(log: SeasonLog, run: CarRun) -> bool:
    """Say whether a log is, or may be, since the outing before, or since the revision raced if that is older."""
    before = run.before
    outing_ms = before.outing.at_ms if before else run.outing.at_ms
    since_ms = min(outing_ms, run.raced.at_ms) if run.raced else outing_ms
    after = log.latest_ms > since_ms or (_same_night(before, run) and _unordered(log, before))
    return after and (log.at_ms <= run.outing.at_ms or _unordered(log, run))


def _unordered(log: SeasonLog, run: CarRun) -> bool:
    """Say whether the order is unknown: both were on one day, and one of the two has no time."""
    return not (log.timed and run.outing.timed) and log.day == day_of(run.outing.event)


def _surely(log: SeasonLog, run: CarRun) -> bool:
    """Say whether a log is certainly before an outing, or before an earlier one of that night."""
    if not _unordered(log, run):
        return log.at_ms <= run.outing.at_ms
    return _same_night(run.before, run) and _surely(log, run.before)


def _same_night(before: CarRun | None, run: CarRun) -> TypeGuard[CarRun]:
    return before is not None and before.outing.event == run.outing.event


def _left_out(run: CarRun) -> str:
    if run.outing.flags:
        return "its record is impossible"
    if run.raced is None:
        return "the revision raced is not in the book" if run.revision else "no revision is named"
    if not run.raced.body:
        return "the revision raced was erased"
    if run.not_as_written:
        return run.not_as_written
    if run.pace.median_s is None:
        return "too few clean laps"
    return ""


def _not_as_written(run: CarRun) -> str:
    """Say what was turned after the revision raced was recorded; an earlier log may be in it without saying so."""
    raced = run.raced
    if raced is None:
        return ""
    turned = [log for log in run.logs if log.latest_ms > raced.at_ms]
    sure = [log.name for log in turned if log.at_ms > raced.at_ms and _surely(log, run)]
    if sure:
        return f"{sure[-1]} was turned after its revision was recorded, and was in none: the car was not as written"
    if not turned:
        return ""
    log = turned[-1]
    why = f"the outing has no time, and {log.name} was turned that day" if log.timed else f"{log.name} has no time"
    return f"{why}: nobody can say which came first, nor whether the car was as written"


def _set_settings(night: Sequence[CarRun]) -> None:
    """Set for each outing of a night the fields in which they differ."""
    seen: list[CarRun] = []
    for run in filter(_body, night):
        if seen:
            run.settings = dict(seen[-1].settings)
            for change in changes_on_car(run.changes or ()):
                if change.path not in run.settings:
                    for earlier in seen:
                        earlier.settings[change.path] = change.before
                run.settings[change.path] = change.after
        seen.append(run)


def _body(run: CarRun) -> bytes:
    return run.raced.body if run.raced else b""


def _state_text(state: str) -> str:
    return state.replace("_", "-") or "not recorded"
