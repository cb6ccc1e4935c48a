"""`studbook season [CAR]`: what was run, what was changed, what came of it."""

import datetime as dt
import textwrap
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Final

import msgspec
from cyclopts import Parameter
from msgspec import UNSET

from studbook.cli.environment import bold, open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.export import TableForm, write_table
from studbook.cli.options import Json
from studbook.cli.printing import bullets, print_json, short, table, wrapped
from studbook.cli.season_night import night_page, text_or_dash
from studbook.formats.season_tables import season_tables
from studbook.wire.season import (
    CarSeason,
    Comparison,
    Mark,
    Money,
    PartLife,
    SeasonReport,
    TeamSeason,
    Totals,
    TrackRecord,
    WorkTime,
)
from studbook.wire.shelf import PreloadRead

COLUMNS: Final = "season.json"
"""Tells what the columns mean, with their units, whatever the form."""


def season(
    car: Annotated[str | None, Parameter(help="One car, with its nights; all cars without.")] = None,
    /,
    *,
    since: Annotated[dt.date | None, Parameter(name="--from", help="First day, such as 2026-03-01.")] = None,
    to: Annotated[dt.date | None, Parameter(help="Last day.")] = None,
    tables: Annotated[Path | None, Parameter(help="Write it as tables into this folder, for a data engineer.")] = None,
    form: Annotated[
        TableForm | None, Parameter(name="--format", help="Of the tables; parquet needs studbook[tables].")
    ] = None,
    json: Json = False,
) -> None:
    """Report a season: each night of a car, best and worst by track, what changes did, parts, money, time."""
    if form is not None and tables is None:
        raise CommandFailedError("say where to write: --tables FOLDER")
    if tables is not None and json:
        raise CommandFailedError("say one of --tables and --json")
    with open_book() as book:
        report = book.season(car=car, since=since, to=to)
    if tables is not None:
        _write(report, tables, form or "parquet")
    elif json:
        print_json(report)
    else:
        print(*season_page(report, nights=car is not None), sep="\n")


def _write(report: SeasonReport, folder: Path, form: TableForm) -> None:
    """Write each table to a file, in place of what an earlier report left there."""
    laid = season_tables(report)
    for name, (columns, rows) in laid.items():
        file = folder / f"{name}.{form}"
        print(f"{file}: {write_table(rows, columns, file, form)}")
    described = msgspec.json.encode([table for table, _ in laid.values()])
    (folder / COLUMNS).write_bytes(msgspec.json.format(described, indent=1))


TAGS_WIDE: Final = 56
CAUTION: Final = (
    "Nothing bent, cracked or loose goes back on, and nothing bent is straightened; a corner that saw contact is "
    "inspected whole first."
)
READS_SHOWN: Final = 5
"""Preload readings of one part, the last ones; all are in the JSON and the tables."""

_NIGHT_MEDIAN: Final = "a night's median:\nmean, interval"
_FIRST: Final = ("faster", "slower", "noise")
"""Verdicts with an interval come before those without."""


def season_page(report: SeasonReport, *, nights: bool) -> list[str]:
    """Lay a season out.

    Args:
        report: the answer.
        nights: lay out each night too.
    """
    page: list[str] = []
    for car in report.cars:
        page += _car(car, nights=nights)
    if report.team:
        page += ["", bold("THE TEAM"), *_summed(report.team.totals)]
        page += _common(report.team, shown={part.part for car in report.cars for part in car.parts})
    page += bullets("How it was judged:", [*report.rules, _comparisons(report)])
    used = [f"{each.line}: {each.used[:12]} of {len(each.tips)}" for each in report.splits]
    page += bullets("Split lines, and the tip that was read:", used)
    return page[1:] if page[:1] == [""] else page


def _comparisons(report: SeasonReport) -> str:
    steps, settings = _many(report.steps_judged, "change"), _many(report.compared, "factor")
    return f"Comparisons in this report, all adjusted for: {steps} between outings, {settings} over the season."


def _car(car: CarSeason, *, nights: bool) -> Iterator[str]:
    yield from ["", bold(f"CAR {car.car}  {car.name}"), *_summed(car.totals)]
    for night in car.nights if nights else ():
        yield from night_page(night)
    if car.tracks:
        yield from ["", bold("BEST AND WORST, BY TRACK AND STATE (what was, no more)"), *_tracks(car.tracks)]
    yield from _common(car, shown=())


def _summed(totals: Totals) -> list[str]:
    gained = f", {totals.gained:+.1f} places an outing (n={totals.placed})" if totals.gained is not UNSET else ""
    counts = ((totals.nights, "night"), (totals.outings, "outing"), (totals.laps, "lap"))
    return [", ".join(_many(*each) for each in counts) + gained]


def _common(season: CarSeason | TeamSeason, *, shown: Collection[str]) -> Iterator[str]:
    """Lay out what a car and the team have; without parts shown before."""
    if season.comparisons:
        yield from ["", bold("WHAT ONE THING DID, NOTHING ELSE CHANGED (s in the median lap, below zero is faster)")]
        for each in sorted(season.comparisons, key=lambda each: each.verdict not in _FIRST):
            yield from _compared(each)
    parts = [part for part in season.parts if part.part not in shown]
    if parts:
        yield from ["", bold("PARTS (laps and nights of these days; what wants doing first)"), *_parts(parts)]
    if any(part.preloads for part in parts):
        yield from ["", bold("PRELOADS (in-lb, oldest first; in brackets what it was off its target)")]
        yield from _preloads(parts)
    yield from [*_money(season.money), *_work(season.work)]


def _tracks(records: Sequence[TrackRecord]) -> list[str]:
    rows = [
        (
            short(each.track, 14),
            each.track_state.replace("_", "-"),
            str(each.nights),
            str(each.outings),
            f"{each.best_lap.time_s:.3f}" if each.best_lap else "-",
            _marked(each.best),
            _marked(each.worst),
            _night(each),
        )
        for each in records
    ]
    header = ("track", "state", "nights", "outings", "best\nlap s", "best\nmedian", "worst\nmedian", _NIGHT_MEDIAN)
    marks = [mark for each in records for mark in (each.best, each.worst) if mark]
    starred = "* something had been turned that its revision does not have, or may have been"
    return [
        *table(header, rows, right=frozenset({2, 3, 4})),
        *([starred] if any(mark.not_as_written for mark in marks) else []),
    ]


def _night(record: TrackRecord) -> str:
    if record.low_s is UNSET or record.high_s is UNSET:
        return "too few nights"
    return f"{record.night_median_s:.3f}, {record.low_s:.3f} to {record.high_s:.3f}"


def _marked(mark: Mark | Any) -> str:
    """Show a median and the revision that was raced."""
    return f"{mark.time_s:.3f} {text_or_dash(mark.revision)[:6]}{'*' if mark.not_as_written else ''}" if mark else "-"


def _compared(each: Comparison) -> list[str]:
    beside = f" (with {', '.join(each.beside)})" if each.beside else ""
    cars = f"cars {', '.join(each.cars)}: " if len(each.cars) > 1 else ""
    verdict = each.verdict.replace("_", " ").upper()
    state = each.track_state.replace("_", "-")
    parts = [f"{state}, {cars}{each.factor}, {each.path}{beside}: {verdict}. {each.detail}"]
    if each.interval and each.drift_s is not UNSET:
        chance = f"chance of so much with no effect {each.interval.chance_holm:.2g} after Holm"
        parts.append(f"{chance}; track and tires {each.drift_s:+.3f} s an outing")
    return wrapped("; ".join(parts), indent="    ", first="  - ")


def _parts(parts: Sequence[PartLife]) -> list[str]:
    """List parts; those of a kind that ran the same share a row."""
    groups: dict[Any, list[str]] = {}
    for each in parts:
        wants = "scrapped" if each.scrapped else ", ".join(each.alerts).replace("_", " ")
        figures = (text_or_dash(each.kind), -each.laps, each.nights, each.laps_ever, _price(each))
        groups.setdefault((not each.alerts, figures, wants, each.part if wants else ""), []).append(each.part)
    rows: list[tuple[str, ...]] = []
    for (_, (kind, laps, nights, ever, price), wants, _), tags in sorted(groups.items()):
        text = f"{', '.join(tags)}{f': {wants}' if wants else ''}"
        first, *rest = textwrap.wrap(text, TAGS_WIDE, break_on_hyphens=False)
        rows += [(kind, str(-laps), str(nights), str(ever), price, first), *(("",) * 5 + (line,) for line in rest)]
    lines = table(("kind", "laps", "nights", "laps\never", "usd\neach", "parts"), rows, right=frozenset({1, 2, 3, 4}))
    wanting = {alert for each in parts if not each.scrapped for alert in each.alerts}
    return [*lines, *(wrapped(CAUTION) if wanting & {"bent", "inspect", "loose"} else [])]


def _price(part: PartLife) -> str:
    return f"{part.price_usd:.2f}" if part.price_usd is not UNSET else "-"


def _preloads(parts: Sequence[PartLife]) -> Iterator[str]:
    for each in parts:
        if each.preloads:
            last = f", the last {READS_SHOWN}" if len(each.preloads) > READS_SHOWN else ""
            counts = f"{_many(each.laps, 'lap')}, n={len(each.preloads)}{last}"
            text = f"{each.part} ({counts}): {', '.join(_reads(each.preloads))}"
            yield from wrapped(text, indent="    ", first="  - ")


def _reads(reads: Sequence[PreloadRead]) -> Iterator[str]:
    """Show the last readings with their day; the basis, on which two can be held together at all, where it changes."""
    basis: Any = UNSET
    for read in reads[-READS_SHOWN:]:
        how = f" {read.basis}" if read.basis and read.basis != basis else ""
        off = f" ({read.drift_in_lb:+g})" if read.drift_in_lb is not UNSET else ""
        yield f"{read.at:%m-%d} {read.torque_in_lb:g}{how}{off}"
        basis = read.basis


def _money(money: Money) -> list[str]:
    if not money.items:
        return []
    unpriced = f"; {money.unpriced} without a price" if money.unpriced else ""
    text = (
        f"Money: {money.fitted_usd:.2f} usd of parts went on for the first time, "
        f"{money.scrapped_usd:.2f} usd scrapped, {money.work_usd:.2f} usd of work on parts{unpriced}."
    )
    return ["", *wrapped(text)]


def _work(work: WorkTime) -> list[str]:
    if not work.jobs:
        return []
    unknown = f"; {work.unknown} that no card has" if work.unknown else ""
    took = f"{work.done_min:g} min, {work.people_min:g} people-minutes"
    done = f"{_many(work.jobs, 'job')} on {_many(work.cards, 'card')}"
    return ["", *wrapped(f"Work, by what each job takes: {done}, {took}{unknown}.")]


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
