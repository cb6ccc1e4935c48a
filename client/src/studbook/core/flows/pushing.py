"""Revisions recorded: what was pulled and changed, edits, whole documents, fields of others, merges."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from msgspec import UNSET

from studbook.core.call import Call, Flow
from studbook.core.edits import carried_fields, edits_of, edits_to_carry
from studbook.core.errors import StudbookError, local
from studbook.core.flows.book import only_tip, pull, sheet_named
from studbook.core.pulled import Pulled, edits_since, tree_of
from studbook.core.references import SheetName, sheet_name
from studbook.core.request import call
from studbook.core.settling import merged_tips, settled
from studbook.history.canonical import Tree
from studbook.history.leaves import grown
from studbook.wire.entries import NewRevision, Pushed, Sheet
from studbook.wire.operations.cars import ACCEPT_MERGE, PUSH_REVISION
from studbook.wire.setup import Setup
from studbook.wire.units import opt


def push(
    pulled: Pulled,
    document: Tree | Setup,
    *,
    note: str = "",
    at: dt.datetime | None = None,
    allow_unknown: bool = False,
) -> Flow[Pushed]:
    """Record what differs from what was pulled.

    Args:
        pulled: what `pull` gave.
        document: what `pulled.document()` or `pulled.setup()` gave, changed. Fields unknown to this version survive
            in both.
        note: why.
        at: when, if not now; with an offset.
        allow_unknown: accept new fields that the schema does not know.

    Raises:
        StaleError: someone pushed since; pull again.
        BadDocumentError: some values cannot be recorded; `faults` has each.
        UnchangedError: nothing differs.
    """
    edits = edits_since(pulled, document)
    request = NewRevision(note=note, edits=edits, at=opt(at), allow_unknown=allow_unknown)
    return _recorded(SheetName(pulled.car, pulled.sheet), request, seen=pulled.tag)


def edit(
    sheet: str,
    edits: Mapping[str, Any],
    *,
    remove: Iterable[str] = (),
    note: str = "",
    at: dt.datetime | None = None,
    allow_unknown: bool = False,
) -> Flow[Pushed]:
    """Record a few changes on a sheet's present tip.

    Args:
        sheet: `CAR/SHEET`.
        edits: new values by dotted path, such as `setup.front.rf.upper_stud.length_in`.
        remove: paths to take away.
        note: why.
        at: when, if not now; with an offset.
        allow_unknown: accept new fields that the schema does not know.
    """
    name = sheet_name(sheet)
    present = yield from sheet_named(name)
    only_tip(present)
    request = NewRevision(note=note, edits=edits_of(edits, remove), at=opt(at), allow_unknown=allow_unknown)
    return (yield from _recorded(name, request, seen=present.tag))


def new_sheet(
    sheet: str,
    document: Tree | Setup,
    *,
    note: str = "",
    at: dt.datetime | None = None,
    carried_from: str | None = None,
    elsewhere: bool = False,
    allow_unknown: bool = False,
) -> Flow[Pushed]:
    """Record the first revision of a sheet that does not exist yet.

    Args:
        sheet: `CAR/SHEET`; the car must exist.
        document: the whole setup.
        note: why.
        at: when, if not now; with an offset.
        carried_from: full id of the revision this content comes from.
        elsewhere: that revision is in another book.
        allow_unknown: accept fields that the schema does not know.

    Raises:
        StaleError: there is a sheet by that name.
    """
    request = NewRevision(
        note=note,
        document=tree_of(document),
        at=opt(at),
        carried_from=opt(carried_from),
        elsewhere=elsewhere,
        allow_unknown=allow_unknown,
    )
    return _recorded(sheet_name(sheet), request, seen=None)


def replace(
    sheet: str,
    document: Tree | Setup,
    *,
    note: str = "",
    at: dt.datetime | None = None,
    carried_from: str | None = None,
    elsewhere: bool = False,
    parents: Sequence[str] = (),
    allow_unknown: bool = False,
) -> Flow[Pushed]:
    """Record a whole document on a sheet's present tip, whatever that tip holds.

    Args:
        sheet: `CAR/SHEET`.
        document: the whole setup.
        note: why.
        at: when, if not now; with an offset.
        carried_from: full id of the revision this content comes from.
        elsewhere: that revision is in another book.
        parents: full ids of the tips it follows, on a split sheet: one advances that side, all settle it.
        allow_unknown: accept new fields that the schema does not know.
    """
    name = sheet_name(sheet)
    present = yield from sheet_named(name)
    request = NewRevision(
        note=note,
        document=tree_of(document),
        parents=list(parents) or UNSET,
        at=opt(at),
        carried_from=opt(carried_from),
        elsewhere=elsewhere,
        allow_unknown=allow_unknown,
    )
    return (yield from _recorded(name, request, seen=present.tag))


def carry(
    source: str | Pulled,
    sheet: str,
    *,
    fields: Sequence[str] = (),
    note: str = "",
    at: dt.datetime | None = None,
    new: bool = False,
) -> Flow[Pushed]:
    """Record a revision's document, or chosen fields of it, again: on its own sheet (a revert), or another one.

    Args:
        source: the revision to take it from; what another book's `pull` gave, to carry from that book.
        sheet: `CAR/SHEET` to record it on.
        fields: dotted paths to carry, single fields or groups with all in them; everything if not given.
        note: why.
        at: when, if not now; with an offset.
        new: the sheet does not exist yet.

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
        return (yield from _recorded(name, request, seen=None))
    present = yield from sheet_named(name)
    if fields:
        only_tip(present)
        request.edits = edits_to_carry(chosen, fields, present.document or {})
    else:
        request.document = origin.document()
    return (yield from _recorded(name, request, seen=present.tag))


def accept(seen: Sheet) -> Flow[Pushed]:
    """Record the merge of a split sheet in which nothing is in conflict.

    Whoever accepts the same merge makes the same revision, on whatever node: it is nobody's in particular.

    Args:
        seen: the split sheet, from `sheet`.

    Raises:
        ConflictsError: some fields need a choice; `settle` it.
        StaleError: the sheet is not as it was seen any more.
    """
    return call(ACCEPT_MERGE, seen.car, seen.sheet, seen=seen.tag)


def settle(
    seen: Sheet,
    choices: Mapping[str, Any],
    *,
    remove: Iterable[str] = (),
    note: str = "",
    at: dt.datetime | None = None,
    allow_unknown: bool = False,
) -> Flow[Pushed]:
    """Record the merge of a split sheet with what was chosen for each field in conflict.

    Args:
        seen: the split sheet, from `sheet`; its `merge.conflicts` say what there is to choose from.
        choices: values by dotted path, for each conflict one, and for other fields as wanted.
        remove: paths to leave out; a conflict may be settled so.
        note: why.
        at: when, if not now; with an offset.
        allow_unknown: accept new fields that neither the schema nor a tip knows.

    Raises:
        ConflictsError: a conflict has no choice.
        StaleError: the sheet is not as it was seen any more.
    """
    request = NewRevision(
        note=note,
        document=settled(seen, choices, remove),
        parents=merged_tips(seen),
        at=opt(at),
        allow_unknown=allow_unknown,
    )
    return _recorded(SheetName(seen.car, seen.sheet), request, seen=seen.tag)


def send_again(error: StudbookError) -> Flow[Any]:
    """Send the request of an error again whose outcome is not known, with its key: it is recorded once at most.

    Args:
        error: of a write, with `recorded` "not known".

    Returns:
        What the method that raised the error would have.

    Raises:
        BadRequestError: there is nothing to send again.

    Example::
        try:
            pushed = book.edit("7/baseline", {"setup.cg.height_in": 17.5})
        except StudbookError as error:
            if error.recorded == "not known":
                pushed = book.send_again(error)
    """
    if error.unanswered is None:
        raise local("bad_request", "this error leaves no request to send again")
    unanswered: Call[Any] = error.unanswered
    return iter(unanswered)


def _recorded(name: SheetName, request: NewRevision, *, seen: str | None) -> Flow[Pushed]:
    """Push onto a sheet in the state that was seen; onto one that must not exist yet where none was."""
    return call(PUSH_REVISION, name.car, name.sheet, body=request, seen=seen)
