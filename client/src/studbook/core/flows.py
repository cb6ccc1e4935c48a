"""What takes more than one call: resolving a name, pulling, pushing on what was seen. Generators, no I/O."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from msgspec import UNSET

from studbook.core import operations
from studbook.core.call import Flow
from studbook.core.errors import local
from studbook.core.pulled import Pulled, edits_since, pulled, tree_of
from studbook.core.references import SheetName, reference, sheet_name
from studbook.history.canonical import Tree
from studbook.wire.answers import Effects, FrontAnswer, Travels, WhatIf
from studbook.wire.entries import Car, CarChange, Changes, Edit, NewCar, NewRevision, Pushed, Revision, Sheet
from studbook.wire.setup import Setup


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
        return pulled(_only_tip(sheet), sheet.document or {}, tag=sheet.tag)
    found = yield from resolve(ref)
    return pulled(found, (yield from operations.document(found.id)))


def push(
    base: Pulled, document: Tree | Setup, *, note: str, at: dt.datetime | None, allow_unknown: bool
) -> Flow[Pushed]:
    """Record what differs from what was pulled, on the state that was seen then."""
    request = NewRevision(note=note, edits=edits_since(base, document), at=_given(at), allow_unknown=allow_unknown)
    return (yield from operations.push(SheetName(base.car, base.sheet), request, operations.seen(base.tag)))


def edit(sheet: str, edits: Sequence[Edit], *, note: str, at: dt.datetime | None, allow_unknown: bool) -> Flow[Pushed]:
    """Record edits on a sheet's present tip."""
    name = sheet_name(sheet)
    present = yield from operations.sheet(name)
    _only_tip(present)
    request = NewRevision(note=note, edits=list(edits), at=_given(at), allow_unknown=allow_unknown)
    return (yield from operations.push(name, request, operations.seen(present.tag)))


def new_sheet(
    sheet: str,
    document: Tree | Setup,
    *,
    note: str,
    at: dt.datetime | None,
    carried_from: str | None,
    allow_unknown: bool,
) -> Flow[Pushed]:
    """Record the first revision of a sheet."""
    request = NewRevision(
        note=note,
        document=tree_of(document),
        at=_given(at),
        carried_from=_given(carried_from),
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
        at=_given(at),
        carried_from=_given(carried_from),
        allow_unknown=allow_unknown,
    )
    return (yield from operations.push(name, request, operations.seen(present.tag)))


def carry(ref: str, sheet: str, *, note: str, at: dt.datetime | None, new: bool) -> Flow[Pushed]:
    """Record a revision's document again, on the same sheet (a revert) or another."""
    source = yield from pull(ref)
    carried: dict[str, Any] = {"carried_from": source.revision.id, "allow_unknown": True, "note": note, "at": at}
    if new:
        return (yield from new_sheet(sheet, source.document(), **carried))
    return (yield from replace(sheet, source.document(), parents=(), **carried))


def new_car(slug: str, *, name: str, number: str, note: str, at: dt.datetime | None) -> Flow[Car]:
    """Enter a car."""
    return (yield from operations.new_car(NewCar(car=slug, name=name, number=number, note=note, at=_given(at))))


def change_car(slug: str, *, name: str | None, number: str | None, retired: bool | None, note: str) -> Flow[Car]:
    """Change a car in its present state; None leaves a member as it is."""
    present = yield from operations.car(slug)
    request = CarChange(name=_given(name), number=_given(number), retired=_given(retired), note=note)
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
    found = yield from resolve(ref)
    if since is not None:
        before = (yield from resolve(since)).id
    elif found.parents:
        before = found.parents[0]
    else:
        raise local("bad_reference", f"{ref} is the first revision: say since which other one")
    return (yield from operations.effects(found.id, before, travels))


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


def _only_tip(sheet: Sheet) -> Revision:
    if len(sheet.tips) != 1:
        tips = [tip.id for tip in sheet.tips]
        named = ", ".join(tip[:12] for tip in tips)
        raise local("split", f"{sheet.car}/{sheet.sheet} is split: name one of {named}", tag=sheet.tag, tips=tips)
    return sheet.tips[0]


def _given(value: Any) -> Any:
    return UNSET if value is None else value
