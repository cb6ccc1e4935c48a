"""The season's report as tables and sentences."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from msgspec import UNSET

from studbook.cli.environment import bold
from studbook.cli.printing import leaf, points, short, table, wrapped
from studbook.wire.season import (
    CarSeason,
    Comparison,
    Mark,
    Money,
    Night,
    PartLife,
    Ran,
    SeasonReport,
    TeamSeason,
    Totals,
    TrackRecord,
    WorkTime,
)

CHANGES_SHOWN: Final = 8
"""Fields of one outing that are listed; the rest is counted, and is in the JSON."""


def season_page(report: SeasonReport, *, nights: bool) -> list[str]:
    """Lay a season out.

    Args:
        report: the answer.
        nights: tell each night too.
    """
    page: list[str] = []
    for car in report.cars:
        page += _car(car, nights=nights)
    if report.team:
        page += ["", bold("THE TEAM"), *_summed(report.team.totals)]
        page += _common(report.team)
    page += points("How it was judged:", [*report.rules, _asked(report)])
    used = [f"{each.line}: {each.used[:12]} of {len(each.tips)}" for each in report.splits]
    page += points("Split lines, and the tip that was read:", used)
    return page[1:] if page[:1] == [""] else page


def _asked(report: SeasonReport) -> str:
    return f"{report.steps_judged} changes between outings and {report.compared} things over the season were asked."


def _car(car: CarSeason, *, nights: bool) -> Iterator[str]:
    yield from ["", bold(f"CAR {car.car}  {car.name}"), *_summed(car.totals)]
    for night in car.nights if nights else ():
        yield from _night(night)
    if car.tracks:
        yield from ["", bold("BEST AND WORST, BY TRACK AND STATE (what was, no more)"), *_tracks(car.tracks)]
    yield from _common(car)


def _summed(totals: Totals) -> list[str]:
    gained = f", {totals.gained:+.1f} places an outing (n={totals.placed})" if totals.gained is not UNSET else ""
    return [f"{totals.nights} nights, {totals.outings} outings, {totals.laps} laps{gained}"]


def _common(season: CarSeason | TeamSeason) -> Iterator[str]:
    if season.comparisons:
        yield from ["", bold("WHAT ONE THING DID, NOTHING ELSE CHANGED (s in the median lap, below zero is faster)")]
        for each in season.comparisons:
            yield from _compared(each)
    if season.parts:
        yield from ["", bold("PARTS"), *_parts(season.parts)]
    yield from [*_money(season.money), *_work(season.work)]


def _night(night: Night) -> Iterator[str]:
    place = f", {night.place}" if night.place else ""
    surface = f", {night.surface}" if night.surface else ""
    yield from ["", bold(f"{night.event}{place}{surface}")]
    rows = [
        (
            ran.run,
            _or(ran.track_state).replace("_", "-"),
            _or(ran.laps),
            _time(ran.best_s),
            _time(ran.median_s),
            f"{_or(ran.start_place)}-{_or(ran.finish_place)}" if ran.start_place or ran.finish_place else "",
            _or(ran.revision)[:12],
        )
        for ran in night.outings
    ]
    lines = table(("run", "track", "laps", "best s", "median s", "place", "revision"), rows, right=frozenset({2, 3, 4}))
    yield lines[0]
    for line, ran in zip(lines[1:], night.outings, strict=True):
        yield line
        yield from _beneath(ran)


def _beneath(ran: Ran) -> Iterator[str]:
    """Tell beneath an outing what was changed for it, what the driver said, and what came of it."""
    for change in ran.changes[:CHANGES_SHOWN]:
        unit = f" {change.unit}" if change.unit else ""
        yield "    " + short(f"{change.path}  {leaf(change.before)} -> {leaf(change.after)}{unit}", 94)
    if len(ran.changes) > CHANGES_SHOWN:
        yield f"    and {len(ran.changes) - CHANGES_SHOWN} more fields"
    if ran.note and ran.changes:
        yield from wrapped(f'"{ran.note}"', indent="    ")
    if ran.words:
        said = [f"{name} {text}" for name in ("entry", "middle", "exit") if (text := getattr(ran.words, name))]
        yield from wrapped(f"driver: {'; '.join(said)}", indent="    ") if said else ()
    if ran.things and ran.against:
        yield from wrapped(ran.against.detail, indent="    ", first="  = ")
    for flag in (*ran.flags, *([ran.left_out] if ran.left_out else [])):
        yield from wrapped(flag, indent="    ", first="  ! ")


def _tracks(records: Sequence[TrackRecord]) -> list[str]:
    rows = [
        (
            each.track,
            each.track_state.replace("_", "-"),
            str(each.nights),
            str(each.outings),
            _marked(each.best_lap),
            _marked(each.best),
            _marked(each.worst),
            _interval(each),
        )
        for each in records
    ]
    header = ("track", "state", "nights", "outings", "best lap s", "best median", "worst median", "a night, interval")
    return table(header, rows, right=frozenset({2, 3}))


def _interval(record: TrackRecord) -> str:
    if record.low_s is UNSET or record.high_s is UNSET:
        return "too few"
    return f"{record.low_s:.3f}-{record.high_s:.3f}"


def _marked(mark: Mark | Any) -> str:
    return f"{mark.time_s:.3f} {_or(mark.revision)[:6]}" if mark else "-"


def _compared(each: Comparison) -> list[str]:
    beside = f" (with {', '.join(each.beside)})" if each.beside else ""
    cars = f"cars {', '.join(each.cars)}: " if len(each.cars) > 1 else ""
    verdict = each.verdict.replace("_", " ").upper()
    said = [f"{each.track_state.replace('_', '-')}, {cars}{each.path}{beside}: {verdict}. {each.detail}"]
    if each.interval and each.drift_s is not UNSET:
        said.append(f"chance {each.interval.chance_holm:.3g} after Holm, drift {each.drift_s:+.3f} s an outing")
    return wrapped("; ".join(said), indent="    ", first="  - ")


def _parts(parts: Sequence[PartLife]) -> list[str]:
    rows = [
        (
            each.part,
            _or(each.kind),
            str(each.laps),
            str(each.nights),
            str(each.laps_ever),
            f"{each.price_usd:.2f}" if each.price_usd is not UNSET else "",
            " ".join(f"{read.torque_in_lb:g}" for read in each.preloads[-6:]),
            "scrapped" if each.scrapped else ", ".join(each.alerts).replace("_", " "),
        )
        for each in parts
    ]
    header = ("part", "kind", "laps", "nights", "laps ever", "usd", "preloads in_lb", "")
    return table(header, rows, right=frozenset({2, 3, 4, 5}))


def _money(money: Money) -> list[str]:
    if not money.items:
        return []
    unpriced = f"; {money.unpriced} without a price" if money.unpriced else ""
    said = (
        f"Money: {money.fitted_usd:.2f} usd of parts went on, {money.scrapped_usd:.2f} usd scrapped, "
        f"{money.work_usd:.2f} usd of work on parts{unpriced}."
    )
    return ["", *wrapped(said)]


def _work(work: WorkTime) -> list[str]:
    if not work.jobs:
        return []
    unknown = f"; {work.unknown} that no card has" if work.unknown else ""
    took = f"{work.done_min:g} min, {work.people_min:g} people-minutes"
    return ["", *wrapped(f"Work, by what each job takes: {work.jobs} jobs on {work.cards} cards, {took}{unknown}.")]


def _time(seconds: float | Any) -> str:
    return "-" if seconds is UNSET else f"{seconds:.3f}"


def _or(value: Any) -> str:
    return str(value) if value is not UNSET and value is not None else "-"
