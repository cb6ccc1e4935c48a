"""What takes more than one call: resolving a name, pulling, pushing on what was seen. Generators, no I/O."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec
from msgspec import UNSET

from studbook.core import operations
from studbook.core.call import Flow
from studbook.core.carrying import carried_fields, edits_to_carry
from studbook.core.errors import local
from studbook.core.exporting import Extract
from studbook.core.pulled import Pulled, edits_since, pulled, tree_of
from studbook.core.references import SheetName, reference, sheet_name
from studbook.core.settling import merged_tips, settled
from studbook.history.canonical import Tree
from studbook.history.leaves import grown
from studbook.wire.answers import Effects, FrontAnswer, Travels, WhatIf
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingAnswer, DampingQuery
from studbook.wire.entries import Car, CarChange, Changes, Edit, NewCar, NewRevision, Pushed, Revision, Sheet
from studbook.wire.export import ExportQuery, Table
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook.wire.loads import (
    Cornering,
    CorneringAnswer,
    CornerPath,
    CrossWanted,
    LoadsAnswer,
    PerchesAnswer,
    PerchSearch,
)
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook.wire.searches import (
    CamberWanted,
    CarryOver,
    CarryOverAnswer,
    LikenessWanted,
    StudSearch,
    StudSearchAnswer,
)
from studbook.wire.setup import Setup
from studbook.wire.units import opt

SYNC_WAIT_S, PROGRESS_EVERY_S = 10.0, 1.0
"""How long the service waits for the end of an exchange before it says how far it is, s."""


def resolve(ref: str) -> Flow[Revision]:
    """Find the revision that a reference names.

    Raises:
        BadReferenceError: no such form, or further back than the first revision.
        SplitError: the sheet has several tips; name one by its id.
    """
    asked = reference(ref)
    if isinstance(asked.named, SheetName):
        found = _only_tip((yield from operations.sheet(asked.named)))
    else:
        found = yield from operations.revision(asked.named)
    for gone in range(asked.back):
        if not found.parents:
            raise local("bad_reference", f"{ref}: the first revision is reached after {gone} of these steps")
        found = yield from operations.revision(found.parents[0])
    return found


def pull(ref: str) -> Flow[Pulled]:
    """Bring a revision with its document; one call for a sheet's tip."""
    asked = reference(ref)
    if isinstance(asked.named, SheetName) and asked.back == 0:
        sheet = yield from operations.sheet(asked.named)
        tip = _only_tip(sheet)
        if sheet.erased:
            raise local("erased", f"{ref}: the content of {tip.id[:12]} was erased; pull an earlier revision")
        return pulled(tip, sheet.document or {}, tag=sheet.tag)
    found = yield from resolve(ref)
    return pulled(found, (yield from operations.document(found.id)))


def push(
    base: Pulled, document: Tree | Setup, *, note: str, at: dt.datetime | None, allow_unknown: bool
) -> Flow[Pushed]:
    """Record what differs from what was pulled, on the state that was seen then."""
    request = NewRevision(note=note, edits=edits_since(base, document), at=opt(at), allow_unknown=allow_unknown)
    return (yield from operations.push(SheetName(base.car, base.sheet), request, operations.seen(base.tag)))


def edit(sheet: str, edits: Sequence[Edit], *, note: str, at: dt.datetime | None, allow_unknown: bool) -> Flow[Pushed]:
    """Record edits on a sheet's present tip."""
    name = sheet_name(sheet)
    present = yield from operations.sheet(name)
    _only_tip(present)
    request = NewRevision(note=note, edits=list(edits), at=opt(at), allow_unknown=allow_unknown)
    return (yield from operations.push(name, request, operations.seen(present.tag)))


def new_sheet(
    sheet: str,
    document: Tree | Setup,
    *,
    note: str,
    at: dt.datetime | None,
    carried_from: str | None,
    elsewhere: bool,
    allow_unknown: bool,
) -> Flow[Pushed]:
    """Record the first revision of a sheet."""
    request = NewRevision(
        note=note,
        document=tree_of(document),
        at=opt(at),
        carried_from=opt(carried_from),
        elsewhere=elsewhere,
        allow_unknown=allow_unknown,
    )
    return (yield from operations.push(sheet_name(sheet), request, operations.NEW_LINE))


def replace(
    sheet: str,
    document: Tree | Setup,
    *,
    note: str,
    at: dt.datetime | None,
    carried_from: str | None,
    elsewhere: bool,
    parents: Sequence[str],
    allow_unknown: bool,
) -> Flow[Pushed]:
    """Record a whole document on a sheet's present tip, or on the tips named."""
    name = sheet_name(sheet)
    present = yield from operations.sheet(name)
    request = NewRevision(
        note=note,
        document=tree_of(document),
        parents=list(parents) or UNSET,
        at=opt(at),
        carried_from=opt(carried_from),
        elsewhere=elsewhere,
        allow_unknown=allow_unknown,
    )
    return (yield from operations.push(name, request, operations.seen(present.tag)))


def carry(
    source: str | Pulled, sheet: str, *, fields: Sequence[str], note: str, at: dt.datetime | None, new: bool
) -> Flow[Pushed]:
    """Record a revision's document, or chosen fields of it, on the same sheet (a revert) or another.

    Raises:
        BadReferenceError: the source has no such field.
        UnchangedError: the sheet has these fields as they are.
    """
    name = sheet_name(sheet)
    origin = source if isinstance(source, Pulled) else (yield from pull(source))
    request = NewRevision(
        note=note,
        at=opt(at),
        carried_from=origin.revision.id,
        elsewhere=isinstance(source, Pulled),
        allow_unknown=True,
    )
    chosen = carried_fields(origin, fields)
    if new:
        request.document = grown(chosen)
        return (yield from operations.push(name, request, operations.NEW_LINE))
    present = yield from operations.sheet(name)
    if fields:
        _only_tip(present)
        request.edits = edits_to_carry(chosen, fields, present.document or {})
    else:
        request.document = origin.document()
    return (yield from operations.push(name, request, operations.seen(present.tag)))


def accept(seen: Sheet) -> Flow[Pushed]:
    """Record the merge of a split sheet as it was seen."""
    return (yield from operations.accept(SheetName(seen.car, seen.sheet), seen.tag))


def settle(
    seen: Sheet,
    choices: Mapping[str, Any],
    *,
    remove: Iterable[str],
    note: str,
    at: dt.datetime | None,
    allow_unknown: bool,
) -> Flow[Pushed]:
    """Record the merge of a split sheet with a choice for each conflict."""
    request = NewRevision(
        note=note,
        document=settled(seen, choices, remove),
        parents=merged_tips(seen),
        at=opt(at),
        allow_unknown=allow_unknown,
    )
    return (yield from operations.push(SheetName(seen.car, seen.sheet), request, operations.seen(seen.tag)))


def new_car(slug: str, *, name: str, number: str, note: str, at: dt.datetime | None) -> Flow[Car]:
    """Enter a car."""
    return (yield from operations.new_car(NewCar(car=slug, name=name, number=number, note=note, at=opt(at))))


def change_car(slug: str, *, name: str | None, number: str | None, retired: bool | None, note: str) -> Flow[Car]:
    """Change a car in its present state; None leaves a member as it is."""
    present = yield from operations.car(slug)
    request = CarChange(name=opt(name), number=opt(number), retired=opt(retired), note=note)
    return (yield from operations.change_car(slug, request, present.tag))


def diff(since: str, ref: str) -> Flow[Changes]:
    """List the leaves that differ between two references."""
    before = yield from resolve(since)
    after = yield from resolve(ref)
    return (yield from operations.changes(after.id, before.id))


def effects(ref: str, *, since: str | None, travels: Travels | None) -> Flow[Effects]:
    """Ask what a change does; against the first parent unless `since` is given.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    id_, before = yield from compared(ref, since)
    return (yield from operations.effects(id_, before, travels))


def compared(ref: str, since: str | None) -> Flow[tuple[str, str]]:
    """Find a revision, and the one that it is compared with: its first parent unless another is given.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    found = yield from resolve(ref)
    if since is not None:
        return found.id, (yield from resolve(since)).id
    if not found.parents:
        raise local("bad_reference", f"{ref} is the first revision: say since which other one")
    return found.id, found.parents[0]


def what_if(
    ref: str, values: Mapping[str, Any], *, remove: Iterable[str], travels: Travels | None, allow_unknown: bool
) -> Flow[Effects]:
    """Ask what edits would do to a revision."""
    found = yield from resolve(ref)
    request = WhatIf(
        revision=found.id,
        edits=operations.edits_of(values, remove),
        travels=travels or Travels(),
        allow_unknown=allow_unknown,
    )
    return (yield from operations.what_if(request))


def front(ref: str, *, travels: Travels | None) -> Flow[FrontAnswer]:
    """Ask how a revision's front stands and moves."""
    found = yield from resolve(ref)
    return (yield from operations.front(found.id, travels))


def rear(ref: str, *, over: BumpRolls | None) -> Flow[RearAnswer]:
    """Ask how a revision's rear axle is held, stands and moves."""
    found = yield from resolve(ref)
    return (yield from operations.rear(found.id, over))


def joints(ref: str, *, forces: WheelForces | None) -> Flow[JointsAnswer]:
    """Ask what a revision's front joints cost and carry."""
    found = yield from resolve(ref)
    return (yield from operations.joints(found.id, forces))


def damping(ref: str, *, asked: DampingQuery | None) -> Flow[DampingAnswer]:
    """Ask what a revision's shocks, springs, bars, tires and gears come to."""
    found = yield from resolve(ref)
    return (yield from operations.damping(found.id, asked))


def attitude(
    ref: str,
    *,
    heave_in: float,
    roll_deg: float,
    pitch_deg: float,
    steer_in: float,
    edits: Mapping[str, Any] | None,
    remove: Iterable[str],
    allow_unknown: bool,
) -> Flow[AttitudeAnswer]:
    """Ask how a revision's car stands at an attitude, with edits tried on it."""
    found = yield from resolve(ref)
    request = Attitude(
        revision=found.id,
        heave_in=heave_in,
        roll_deg=roll_deg,
        pitch_deg=pitch_deg,
        steer_in=steer_in,
        edits=operations.edits_of(edits or {}, remove),
        allow_unknown=allow_unknown,
    )
    return (yield from operations.attitude(request))


def loads(ref: str) -> Flow[LoadsAnswer]:
    """Ask what a revision's car weighs at each wheel."""
    found = yield from resolve(ref)
    return (yield from operations.loads(found.id))


def cornering(
    ref: str, path: CornerPath, *, edits: Mapping[str, Any] | None, remove: Iterable[str], allow_unknown: bool
) -> Flow[CorneringAnswer]:
    """Ask how a revision's car stands in a corner, with edits tried on it."""
    found = yield from resolve(ref)
    request = Cornering(
        revision=found.id,
        edits=operations.edits_of(edits or {}, remove),
        allow_unknown=allow_unknown,
        **msgspec.structs.asdict(path),
    )
    return (yield from operations.cornering(request))


def search_perches(
    ref: str, wanted: CrossWanted, *, edits: Mapping[str, Any] | None, remove: Iterable[str], allow_unknown: bool
) -> Flow[PerchesAnswer]:
    """Ask which perch turns bring a revision's car to a cross weight, with edits tried on it."""
    found = yield from resolve(ref)
    request = PerchSearch(
        revision=found.id,
        edits=operations.edits_of(edits or {}, remove),
        allow_unknown=allow_unknown,
        **msgspec.structs.asdict(wanted),
    )
    return (yield from operations.search_perches(request))


def search_studs(ref: str, wanted: CamberWanted) -> Flow[StudSearchAnswer]:
    """Ask which parts at one corner of a revision's car come closest to a camber curve."""
    found = yield from resolve(ref)
    return (yield from operations.search_studs(StudSearch(revision=found.id, **msgspec.structs.asdict(wanted))))


def search_carry_over(source: str, ref: str, wanted: LikenessWanted | None) -> Flow[CarryOverAnswer]:
    """Ask by which parts one revision's car reads at the front like the other's."""
    like, found = (yield from resolve(source)), (yield from resolve(ref))
    terms = msgspec.structs.asdict(wanted or LikenessWanted())
    return (yield from operations.search_carry_over(CarryOver(source=like.id, revision=found.id, **terms)))


def export(table: str | Table, *, after: str | None, until: str | None, within_s: float) -> Flow[tuple[Table, Extract]]:
    """Begin to export a table.

    Raises:
        BadReferenceError: there is no such table.
    """
    found = table if isinstance(table, Table) else (yield from _table(table))
    asked = ExportQuery(format="pages", after=opt(after), until=opt(until), within_s=within_s)
    return found, (yield from operations.export(found.name, asked))


def _table(name: str) -> Flow[Table]:
    known = yield from operations.tables()
    try:
        return known[name]
    except KeyError:
        named = ", ".join(each.name for each in known.items)
        raise local("bad_reference", f"{name[:80]!r} is no table: {named}") from None


def _only_tip(sheet: Sheet) -> Revision:
    if sheet.split:
        tips = [tip.id for tip in sheet.tips]
        named = ", ".join(tip[:12] for tip in tips)
        told = f"{sheet.car}/{sheet.sheet} is split: merge it, or name one of {named}"
        raise local("split", told, tag=sheet.tag, tips=tips)
    return sheet.tips[0]
