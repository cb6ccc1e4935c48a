"""Revisions: what they are, what they hold, how two differ; and pushing one more."""

from collections.abc import Callable, Sequence

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import diff, same
from studbook.wire import fields
from studbook.wire.entries import Changes, NewRevision, Revision, Since
from studbook.wire.operations import cars as operations
from studbook.wire.operations import revisions
from studbook_service.actions import documents
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.entries import EntryDraft, Precondition, check_time, pushed, record
from studbook_service.actions.lines import FULL_ID_DIGITS, car_line, resolve, sheet_line
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.actions.results import Tagged, Written
from studbook_service.actions.views import revision
from studbook_service.store import Bearer


@carries_out(revisions.READ_REVISION)
async def read_revision(context: Context, bearer: Bearer, reference: str) -> Revision:
    """Show one revision, by its id or the beginning of it."""
    return revision(await context.entry(bearer.team, await resolve(context, bearer.team, reference)))


@carries_out(revisions.READ_DOCUMENT)
async def read_document(context: Context, bearer: Bearer, reference: str) -> Tagged:
    """Give one revision's document; under its full id it never changes."""
    document = await context.document(bearer.team, await resolve(context, bearer.team, reference))
    return Tagged(document.body, document.content.hex(), forever=len(reference) == FULL_ID_DIGITS)


@carries_out(revisions.READ_CHANGES)
async def read_changes(context: Context, bearer: Bearer, reference: str, query: Since) -> Changes:
    """List the leaves that differ from one revision to another, of any sheets and cars."""
    old, new = await resolve(context, bearer.team, query.since), await resolve(context, bearer.team, reference)
    before, after = [tree_of((await context.document(bearer.team, id_)).body) for id_ in (old, new)]
    changes = [fields.leaf_change(change) for change in diff(before, after)]
    return Changes(since=old.hex(), revision=new.hex(), changes=changes)


@carries_out(operations.PUSH_REVISION)
async def push_revision(
    context: Context, bearer: Bearer, car: str, sheet: str, wanted: NewRevision, precondition: Precondition
) -> Written:
    """Record a revision on the tips its author saw. All that can be refused unseen is, before the database is queried.

    Raises:
        Refusal: `bad_document` with every fault.
    """
    line = sheet_line(car, sheet)
    check_time(wanted.at)
    if precondition.new and wanted.parents is not UNSET:
        raise unfit("/parents", "a new sheet has no parents")
    compose = _composer(wanted)
    carried_from = None if wanted.carried_from is UNSET else wanted.carried_from
    await _refuse_missing(context, bearer, car, None if wanted.elsewhere else carried_from, precondition)
    draft = EntryDraft(
        line=line,
        kind="sheet",
        compose=compose,
        note=wanted.note,
        at=wanted.at,
        carried_from=carried_from,
        parents=() if wanted.parents is UNSET else tuple(bytes.fromhex(parent) for parent in wanted.parents),
        afresh=wanted.document is not UNSET,
    )
    return pushed(await record(context, bearer, draft, precondition))


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


async def _refuse_missing(
    context: Context, bearer: Bearer, car: str, carried_from: str | None, precondition: Precondition
) -> None:
    """Refuse a new sheet of no car, and content carried from nowhere."""
    if precondition.new and not await context.book.tips(bearer.team, car_line(car)):
        raise Refusal("not_found", f"there is no car {car}")
    if carried_from is not None:
        await context.document(bearer.team, bytes.fromhex(carried_from))
