"""Pushing a revision of a sheet."""

from collections.abc import Callable, Sequence

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.wire import fields
from studbook.wire.entries import NewRevision, Pushed
from studbook_service.actions import documents
from studbook_service.actions.desk import Desk, tree_of
from studbook_service.actions.lines import car_line, sheet_line
from studbook_service.actions.recording import Change, Terms, check_time, record
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.store import Bearer


async def push(desk: Desk, bearer: Bearer, car: str, sheet: str, wanted: NewRevision, terms: Terms) -> Pushed:
    """Record a revision on the tips its author saw. All that can be refused unseen is, before the database is asked.

    Raises:
        Refusal: `bad_request`, `bad_document` with every fault, `too_large`, `not_found`, `protected`, `erased`,
            `stale`, `split`, `key_reused`.
    """
    line = sheet_line(car, sheet)
    check_time(wanted.at)
    if terms.new and wanted.parents is not UNSET:
        raise unfit("/parents", "a new sheet has no parents")
    compose = _composer(wanted)
    carried_from = None if wanted.carried_from is UNSET else wanted.carried_from
    await _refuse_missing(desk, bearer, car, None if wanted.elsewhere else carried_from, terms)
    change = Change(
        line=line,
        kind="sheet",
        compose=compose,
        note=wanted.note,
        at=wanted.at,
        carried_from=carried_from,
        parents=() if wanted.parents is UNSET else tuple(bytes.fromhex(parent) for parent in wanted.parents),
        afresh=wanted.document is not UNSET,
    )
    recorded = await record(desk, bearer, change, terms)
    unusual = fields.unusual(tree_of(recorded.body))
    return Pushed(revision=recorded.revision, tag=recorded.tag, recorded=recorded.fresh, unusual=unusual)


def _composer(wanted: NewRevision) -> Callable[[Sequence[Tree]], Tree]:
    """Check what needs no parent now, and give what makes the document from its parents."""
    if (wanted.document is UNSET) is (wanted.edits is UNSET):
        raise unfit("", "give either edits or a document")
    if wanted.document is not UNSET:
        tree = documents.whole(wanted.document)

        def replace(parents: Sequence[Tree]) -> Tree:
            if not wanted.allow_unknown:
                documents.refuse_unknown(tree, parents=parents)
            return tree

        return replace

    changes = documents.edits(wanted.edits or [])

    def edit(parents: Sequence[Tree]) -> Tree:
        if not all(same(parent, parents[0]) for parent in parents[1:]):
            raise unfit("/edits", "edits are made on one revision: settle a split with a whole document")
        edited = documents.edited(changes, parents[0] if parents else {})
        if not wanted.allow_unknown:
            documents.refuse_unknown(edited, parents=parents, changes=changes)
        return edited

    return edit


async def _refuse_missing(desk: Desk, bearer: Bearer, car: str, carried_from: str | None, terms: Terms) -> None:
    """Refuse a new sheet of no car, and content carried from nowhere."""
    if terms.new and not await desk.book.tips(bearer.team, car_line(car)):
        raise Refusal("not_found", f"there is no car {car}")
    if carried_from is not None:
        await desk.document(bearer.team, bytes.fromhex(carried_from))
