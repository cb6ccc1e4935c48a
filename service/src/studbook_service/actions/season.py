"""A season, read from the book and reported. The answer is cached and tagged by the book's chain."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Final, NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from studbook.history.canonical import SLUG, Tree
from studbook.wire.night import Outing
from studbook.wire.operations.book import REPORT_SEASON
from studbook.wire.records import KINDS, fitting, record_name
from studbook.wire.season import SeasonQuery, SeasonReport
from studbook.wire.shelf import SplitRead
from studbook.wire.shop import Log
from studbook_service.actions.answers import cached
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.facts import by_part, dated_records, entered_ms, latest, splits_of
from studbook_service.actions.lines import by_line, place
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.actions.results import LazyAnswer
from studbook_service.night.facts import Facts, RevisionOrigin, text
from studbook_service.night.impossible import impossible
from studbook_service.night.times import began_ms, day_ms, day_of, moment_ms
from studbook_service.season.inputs import RacedRevision, RecordedOuting, RevisionHead, Season, SeasonLog
from studbook_service.season.report import REPORT_VERSION, report
from studbook_service.store import Bearer, EntryHead, StoredEntry

_ID: Final = re.compile("[0-9a-f]{64}").fullmatch
_PAGE: Final = 1000


class _Line(NamedTuple):
    """A line's tips, and the document of the newest, by which it is read."""

    tips: list[StoredEntry]
    tree: Tree


_Lines = dict[str, _Line]
"""By what follows the kind's root."""


@carries_out(REPORT_SEASON)
async def report_season(context: Context, bearer: Bearer, query: SeasonQuery) -> LazyAnswer:
    """Report a season; the tag names the book as it stands.

    Raises:
        Refusal: `bad_request` for days that cannot be; when computed `not_found`, there is no such car; `busy`.
    """
    since, to = (_day(name, value) for name, value in (("from", query.since), ("to", query.to)))
    if since and to and since > to:
        raise unfit("from", f"from: {since} is after to: {to}", value=query.since)
    head = await context.book.team_head(bearer.team)
    wanted = sha256(msgspec.json.encode(query)).hexdigest()[:8]

    async def compute() -> SeasonReport:
        read = await _read(context, bearer, query.car)
        if query.car is not UNSET and query.car not in read.cars:
            raise Refusal("not_found", f"there is no car {query.car}")
        return await context.engine_thread.run(lambda: report(read.season(query, since, to), read.splits()))

    return cached(context, bearer.team, f"season-{head.chain.hex()[:24]}-{wanted}-{REPORT_VERSION}", compute)


@dataclass(frozen=True, slots=True)
class _Read:
    """The tips of all that a season is made of, the revisions named, and when outings without a time were entered."""

    cars: _Lines
    events: _Lines
    outings: _Lines
    parts: _Lines
    shop: _Lines
    work: _Lines
    logs: _Lines
    times: _Lines
    revisions: Mapping[str, StoredEntry]
    heads: Mapping[str, RevisionHead]
    entered: Mapping[str, int]

    def season(self, query: SeasonQuery, since: dt.date | None, to: dt.date | None) -> Season:
        """Give it as plain values; what came by exchange and cannot be is flagged."""
        raced = {id_: _raced(entry) for id_, entry in self.revisions.items()}
        events = _trees(self.events)
        known = Facts(
            cars=frozenset(self.cars),
            events=events,
            revisions={id_: RevisionOrigin(each.car, each.at_ms) for id_, each in raced.items()},
        )
        own = _trees(self.times).get("times", {})
        return Season(
            names={car: text(tree, "name") or f"car {car}" for car, tree in _trees(self.cars).items()},
            events=events,
            outings=[_out(name, tree, known, self.entered) for name, tree in _trees(self.outings).items()],
            revisions=raced,
            heads=self.heads,
            parts=_trees(self.parts),
            shop_records=by_part(dated_records(tip for line in self.shop.values() for tip in line.tips)),
            cards=_trees(self.work),
            card_records=dated_records(tip for line in self.work.values() for tip in line.tips),
            own_times=own,
            logs=[log for name, tree in _trees(self.logs).items() if (log := _logged(name, tree)) is not None],
            car=None if query.car is UNSET else query.car,
            since=since,
            to=to,
        )

    def splits(self) -> list[SplitRead]:
        """Name the split lines among them, and which tip was used; of a shop record every side is followed."""
        read = (self.cars, self.events, self.outings, self.parts, self.shop, self.work, self.logs, self.times)
        return splits_of(line.tips for lines in read for line in lines.values())


async def _read(context: Context, bearer: Bearer, car: str | UnsetType) -> _Read:
    """Read all that is in the book, but the history of no other car's sheets."""

    async def lines(root: str, kind: str) -> _Lines:
        tips = await context.book.head_entries(bearer.team, f"{root}/", kind)
        form = KINDS[kind].form if kind in KINDS else SLUG
        found = {record_name(of_one[0].line): of_one for of_one in by_line(tips)}
        return {name: _Line(tips, tree_of(latest(tips).body)) for name, tips in found.items() if form.fullmatch(name)}

    read = {
        "cars": await lines("car", "car"),
        "events": await lines("event", "event"),
        "outings": await lines("outing", "outing"),
        "parts": await lines("part", "part"),
        "shop": await lines("shop", "shop_record"),
        "work": await lines("work", "work"),
        "logs": await lines("log", "log"),
        "times": await lines("team", "shop_times"),
    }
    named = {id_ for kind in ("outings", "work") for tree in _trees(read[kind]).values() for id_ in _ids(tree)}
    entries = await context.book.several(bearer.team, sorted(map(bytes.fromhex, named)))
    raced = {text(tree, "revision") for name, tree in _trees(read["outings"]).items() if car in (UNSET, _car(name))}
    sheets = {entry.line for entry in entries if entry.id.hex() in raced and place(entry.line).sheet}
    heads = {id_: head for line in sorted(sheets) for id_, head in (await _heads(context, bearer, line)).items()}
    outings = [(f"outing/{name}", tree) for name, tree in _trees(read["outings"]).items()]
    entered = await entered_ms(context, bearer.team, outings)
    revisions = {entry.id.hex(): entry for entry in entries}
    return _Read(**read, revisions=revisions, heads=heads, entered=entered)


async def _heads(context: Context, bearer: Bearer, line: str) -> dict[str, RevisionHead]:
    """Read the whole history of a sheet, without the documents."""
    where = place(line)
    found: dict[str, RevisionHead] = {}
    before = None
    while True:
        page = await context.book.history(bearer.team, line, before=before, limit=_PAGE)
        found |= {each.id.hex(): _head(each, f"{where.car}/{where.sheet}") for each in page}
        if len(page) < _PAGE:
            return found
        before = page[-1].generation, page[-1].id


def _trees(lines: _Lines) -> dict[str, Tree]:
    return {name: line.tree for name, line in lines.items()}


def _car(outing: str) -> str:
    return KINDS["outing"].parts(outing)["car"]


def _ids(tree: Tree) -> Iterable[str]:
    return filter(_ID, (text(tree, member) for member in ("revision", "since")))


def _raced(entry: StoredEntry) -> RacedRevision:
    where = place(entry.line)
    return RacedRevision(
        car=where.car if where.sheet else "",
        at_ms=entry.at_ms,
        note=entry.note or "",
        body=entry.body,
    )


def _head(entry: EntryHead, sheet: str) -> RevisionHead:
    return RevisionHead(
        sheet=sheet,
        parents=[parent.hex() for parent in entry.parents],
        generation=entry.generation,
        at_ms=entry.at_ms,
        note=entry.note or "",
        author=entry.author,
        author_name=entry.author_name or "",
        carried_from="" if entry.carried_from is None else msgspec.json.decode(entry.carried_from, type=str),
        erased=entry.erased,
    )


def _out(name: str, tree: Tree, known: Facts, entered: Mapping[str, int]) -> RecordedOuting:
    steps = KINDS["outing"].parts(name)
    return RecordedOuting(
        name=name,
        event=steps["event"],
        car=steps["car"],
        run=steps["run"],
        at_ms=began_ms(steps["event"], tree.get("started_at"), entered_ms=entered.get(f"outing/{name}")) or 0,
        timed=moment_ms(tree.get("started_at")) is not None,
        document=fitting(tree, Outing),
        flags=[fault.detail for fault in impossible("outing", name, tree, known)],
    )


def _logged(name: str, tree: Tree) -> SeasonLog | None:
    """Give a log entry of changes, without a time at the beginning of its day; None where there are none."""
    car, _, number = name.partition("/")
    document, at_ms, day = fitting(tree, Log), moment_ms(tree.get("at")), day_of(number)
    timed = at_ms is not None
    if timed:
        day = day_of(tree["at"])
    elif day is not None:
        at_ms = day_ms(day)
    if not document.changes or at_ms is None:
        return None
    return SeasonLog(name=name, car=car, at_ms=at_ms, day=day, timed=timed, document=document)


def _day(name: str, value: str | UnsetType) -> dt.date | None:
    """Read a day of the query.

    Raises:
        Refusal: `bad_request`, there is no such day.
    """
    if isinstance(value, UnsetType):
        return None
    day = day_of(value)
    if day is None:
        raise unfit(name, f"{name}: {value} is no date", value=value)
    return day
