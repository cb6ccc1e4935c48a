"""Reading from the book what records name, to decide whether they can be true.

Of a split shop record or card every side is followed, one without a time of its own at the time it was recorded: the
one may be of another contact than the other.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final
from uuid import UUID

from studbook.history.canonical import SLUG, Tree
from studbook.wire.records import KINDS, record_name
from studbook.wire.shelf import SplitRead
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.lines import agreed, by_line, place
from studbook_service.night.facts import Facts, RevisionOrigin, StudSeat, group, number, text
from studbook_service.night.impossible import STUD_SLOTS
from studbook_service.night.times import moment_ms
from studbook_service.night.whereabouts import DatedRecord
from studbook_service.store import StoredEntry
from studbook_service.work.jobs import JOB_KINDS

_ID: Final = re.compile(r"[0-9a-f]{64}").fullmatch
_SLUG: Final = SLUG.fullmatch
_ONE_BY_ONE: Final = 64
"""More lines than this are read with all of their kind."""


@dataclass(frozen=True, slots=True)
class _NamesFound:
    """What some records name."""

    cars: set[str] = field(default_factory=set)
    events: set[str] = field(default_factory=set)
    outings: set[str] = field(default_factory=set)
    revisions: set[str] = field(default_factory=set)
    parts: set[str] = field(default_factory=set)


async def facts_about(context: Context, team: UUID, kind: str, records: Iterable[tuple[str, Tree]]) -> Facts:
    """Read what the book says about what records of one kind name.

    Args:
        context: what this process gives every action.
        team: whose.
        kind: of the records.
        records: name and document of each.
    """
    records = list(records)
    named = _named(kind, records)
    cars = await _there(context, team, "car", named.cars)
    parts = await _there(context, team, "part", named.parts)
    revisions = await context.book.several(team, [bytes.fromhex(id_) for id_ in named.revisions])
    studs = any(part.get("kind") == "stud" for part in parts.values())
    signed = kind == "work" and any("signed_off" in tree for _, tree in records)
    return Facts(
        cars=frozenset(cars),
        events=await _there(context, team, "event", named.events),
        outings=frozenset(await _there(context, team, "outing", named.outings)),
        revisions={each.id.hex(): _raced(each) for each in revisions},
        parts=parts,
        tapers_deg=await _tapers(context, team, cars) if studs else {},
        shop_records=await _inspected(context, team) if signed else await _of_parts(context, team, parts),
        jobs=frozenset(JOB_KINDS),
        cards=[card for car in named.cars for card in await cards_of(context, team, f"{car}/")] if signed else (),
    )


def decided_by(kind: str, name: str, tree: Tree) -> tuple[str, ...]:
    """Name the beginnings of the lines of other records that decide whether a record can be.

    What is written there between the look and the record would have been judged too. Of facts that cannot change for
    the worse, such as that there is a car, none are named.
    """
    steps = KINDS[kind].parts(name)
    if kind == "shop_record":
        return f"part/{steps['part']}", f"shop/{steps['part']}/"
    if kind == "work" and "signed_off" in tree:
        return "shop/", f"work/{steps['car']}/"
    return ()


async def cards_of(context: Context, team: UUID, prefix: str = "") -> list[DatedRecord]:
    """Read the work cards whose names begin so, every side of split ones."""
    return dated_records(await context.book.head_entries(team, f"work/{prefix}", "work"))


async def shop_records(context: Context, team: UUID, prefix: str = "shop/") -> dict[str, list[DatedRecord]]:
    """Read the shop records under a prefix, every side of split ones, by part."""
    return by_part(dated_records(await context.book.head_entries(team, prefix, "shop_record")))


def by_part(records: Iterable[DatedRecord]) -> dict[str, list[DatedRecord]]:
    """Put the shop records of each part together."""
    found: dict[str, list[DatedRecord]] = defaultdict(list)
    for each in records:
        found[each.name.partition("/")[0]].append(each)
    return found


def dated_records(tips: Iterable[StoredEntry]) -> list[DatedRecord]:
    """Give shop records or cards as they are followed by; sides of one that tell the same of the same time are one."""
    found: dict[tuple[str, bytes, int], DatedRecord] = {}
    for tip in tips:
        each = _dated(tip)
        found.setdefault((tip.line, tip.body, each.at_ms), each)
    return list(found.values())


def _dated(tip: StoredEntry) -> DatedRecord:
    """Give a shop record or card as it is followed by; without a time of its own, at the time it was recorded."""
    body = tree_of(tip.body)
    at_ms = moment_ms(body.get("at"))
    return DatedRecord(
        name=record_name(tip.line), tip=tip.id.hex(), at_ms=tip.at_ms if at_ms is None else at_ms, body=body
    )


def latest(tips: Sequence[StoredEntry]) -> StoredEntry:
    """Choose the tip that a line is read by: the newest, by generation and time; of alike ones the first."""
    return tips[0] if agreed(tips) else max(tips, key=lambda tip: (tip.generation, tip.at_ms, tip.id))


async def entered_ms(context: Context, team: UUID, outings: Iterable[tuple[str, Tree]]) -> dict[str, int]:
    """Read when outings that have no time of their own were first entered, by line: a correction makes none later."""
    return await context.book.first_recorded(
        team, [line for line, tree in outings if moment_ms(tree.get("started_at")) is None]
    )


def splits_of(lines: Iterable[Sequence[StoredEntry]]) -> list[SplitRead]:
    """Name the split lines among some, by their tips, and which tip each is read by; alike ones are no split."""
    return [
        SplitRead(line=tips[0].line, used=latest(tips).id.hex(), tips=[tip.id.hex() for tip in tips])
        for tips in lines
        if not agreed(tips)
    ]


def _raced(entry: StoredEntry) -> RevisionOrigin:
    where = place(entry.line)
    return RevisionOrigin(where.car if where.sheet else "", entry.at_ms)


def _named(kind: str, records: Iterable[tuple[str, Tree]]) -> _NamesFound:
    named = _NamesFound()
    for name, tree in records:
        steps = KINDS[kind].parts(name)
        named.cars.update(filter(_SLUG, (steps.get("car", ""), text(tree, "place", "car"))))
        named.events.update(filter(_SLUG, (steps.get("event", ""),)))
        named.parts.update(filter(_SLUG, (steps.get("part", ""),)))
        named.outings.update(filter(KINDS["outing"].form.fullmatch, (text(tree, "outing"),)))
        named.revisions.update(filter(_ID, (text(tree, member) for member in ("revision", "since", "taken_into"))))
    return named


async def _there(context: Context, team: UUID, root: str, names: set[str]) -> dict[str, Tree]:
    """Read those lines that are in the book, by what follows their root."""
    if len(names) > _ONE_BY_ONE:
        tips = await context.book.head_entries(team, f"{root}/", root)
    else:
        tips = [tip for name in names for tip in await context.book.tip_entries(team, f"{root}/{name}")]
    found = {record_name(of_one[0].line): tree_of(latest(of_one).body) for of_one in by_line(tips)}
    return {name: tree for name, tree in found.items() if name in names}


async def _of_parts(context: Context, team: UUID, parts: Iterable[str]) -> dict[str, list[DatedRecord]]:
    return {
        part: records for part in parts for records in (await shop_records(context, team, f"shop/{part}/")).values()
    }


async def _inspected(context: Context, team: UUID) -> dict[str, list[DatedRecord]]:
    """Read all that was done with parts with contact or an inspection."""
    found = await shop_records(context, team)
    return {part: of for part, of in found.items() if any(each.what in ("contact", "inspected") for each in of)}


async def _tapers(context: Context, team: UUID, cars: Iterable[str]) -> Mapping[StudSeat, frozenset[float]]:
    """Read what the cars' sheets say is in the seats of their spindles."""
    found: dict[StudSeat, set[float]] = defaultdict(set)
    for car in cars:
        for tip in await context.book.head_entries(team, f"car/{car}/sheet/", "sheet"):
            front = group(tree_of(tip.body), "setup", "front")
            for corner in front:
                for slot in STUD_SLOTS:
                    taper = number(front, corner, slot, "taper_included_deg")
                    if taper is not None:
                        found[StudSeat(car, corner, slot)].add(taper)
    return {seat: frozenset(tapers) for seat, tapers in found.items()}
