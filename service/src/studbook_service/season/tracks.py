"""A car's results at each track in each state, with counts."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import fmean, median

from msgspec import UNSET

from studbook.wire.season import Mark, Totals, TrackRecord
from studbook_service.season.inputs import track
from studbook_service.season.nights import CarRun
from studbook_service.season.statistics import mean

NIGHTS_LEAST = 3
"""The fewest nights that make an interval (ours)."""


def track_records(runs: Iterable[CarRun]) -> list[TrackRecord]:
    """Give best and worst at each track and state, of outings whose state is recorded and whose record is possible."""
    found: dict[tuple[str, str], list[CarRun]] = defaultdict(list)
    for run in runs:
        if run.track_state and not run.outing.flags:
            found[track(run.outing.event), run.track_state].append(run)
    return [_record(name, state, of_one) for (name, state), of_one in sorted(found.items())]


def totals(runs: Sequence[CarRun]) -> Totals:
    """Count a season."""
    placed = [places for run in runs if (places := gained(run)) is not None]
    return Totals(
        nights=len({run.outing.event for run in runs}),
        outings=len(runs),
        laps=sum(run.outing.laps for run in runs),
        gained=round(fmean(placed), 2) if placed else UNSET,
        placed=len(placed),
    )


def gained(run: CarRun) -> int | None:
    """Give the places gained, start less finish; None where one of them is not known."""
    start, finish = run.outing.document.start_place, run.outing.document.finish_place
    return start - finish if start and finish else None


def _record(name: str, state: str, runs: Sequence[CarRun]) -> TrackRecord:
    timed = [(run.pace.median_s, run) for run in runs if run.pace.median_s is not None]
    laps = [(run.pace.best_s, run) for run in runs if run.pace.best_s is not None]
    counted = totals(runs)
    record = TrackRecord(
        track=name,
        track_state=state,  # type: ignore[arg-type] # one of them, as the outing's form has it
        nights=counted.nights,
        outings=counted.outings,
        gained=counted.gained,
        placed=counted.placed,
    )
    if laps:
        record.best_lap = _mark(*min(laps, key=_time))
    if timed:
        record.best, record.worst = _mark(*min(timed, key=_time)), _mark(*max(timed, key=_time))
        nights: dict[str, list[float]] = defaultdict(list)
        for time, run in timed:
            nights[run.outing.event].append(time)
        middles = [median(times) for times in nights.values()]
        record.night_median_s = round(fmean(middles), 4)
        estimate = mean(middles) if len(middles) >= NIGHTS_LEAST else None
        if estimate is not None:
            record.low_s, record.high_s = round(estimate.low, 4), round(estimate.high, 4)
    return record


def _time(timed: tuple[float, CarRun]) -> float:
    return timed[0]


def _mark(time: float, run: CarRun) -> Mark:
    return Mark(
        outing=run.outing.name,
        time_s=round(time, 4),
        revision=run.outing.document.revision,
        not_as_written=run.not_as_written or UNSET,
    )
