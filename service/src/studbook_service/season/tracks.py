"""How a car went at each track in each state: what was, with counts."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import fmean, median

from msgspec import UNSET

from studbook.wire.season import Mark, Totals, TrackRecord
from studbook_service.season.nights import Entry
from studbook_service.season.statistics import mean
from studbook_service.season.told import track

NIGHTS_LEAST = 3
"""So many nights tell how one night there differs from another (ours)."""


def tracks(entries: Iterable[Entry]) -> list[TrackRecord]:
    """Tell best and worst at each track and state. An outing whose state nobody said, or that cannot be, is in none."""
    found: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.track_state and not entry.out.flags:
            found[track(entry.out.event), entry.track_state].append(entry)
    return [_record(name, state, of_one) for (name, state), of_one in sorted(found.items())]


def totals(entries: Sequence[Entry]) -> Totals:
    """Count a season."""
    placed = [places for entry in entries if (places := gained(entry)) is not None]
    return Totals(
        nights=len({entry.out.event for entry in entries}),
        outings=len(entries),
        laps=sum(entry.out.laps for entry in entries),
        gained=round(fmean(placed), 2) if placed else UNSET,
        placed=len(placed),
    )


def gained(entry: Entry) -> int | None:
    """Give the places gained, start less finish; None where one of them is not known."""
    start, finish = entry.out.record.start_place, entry.out.record.finish_place
    return start - finish if start and finish else None


def _record(name: str, state: str, entries: Sequence[Entry]) -> TrackRecord:
    timed = [(entry.pace.median_s, entry) for entry in entries if entry.pace.median_s is not None]
    laps = [(entry.pace.best_s, entry) for entry in entries if entry.pace.best_s is not None]
    counted = totals(entries)
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
        for time, entry in timed:
            nights[entry.out.event].append(time)
        middles = [median(times) for times in nights.values()]
        record.night_median_s = round(fmean(middles), 4)
        estimate = mean(middles) if len(middles) >= NIGHTS_LEAST else None
        if estimate is not None:
            record.low_s, record.high_s = round(estimate.low, 4), round(estimate.high, 4)
    return record


def _time(timed: tuple[float, Entry]) -> float:
    return timed[0]


def _mark(time: float, entry: Entry) -> Mark:
    return Mark(
        outing=entry.out.name,
        time_s=round(time, 4),
        revision=entry.out.record.revision,
        not_as_written=entry.not_as_written or UNSET,
    )
