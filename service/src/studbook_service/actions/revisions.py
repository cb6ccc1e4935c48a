"""Revisions by id: what they are, what they hold, and how two differ."""

from studbook.history.changes import diff
from studbook.wire import fields
from studbook.wire.entries import Changes, Revision
from studbook_service.actions.desk import Desk, Document, tree_of
from studbook_service.actions.lines import resolve
from studbook_service.actions.views import revision
from studbook_service.store import Bearer


async def read_revision(desk: Desk, bearer: Bearer, reference: str) -> Revision:
    """Show one revision, by its id or the beginning of it.

    Raises:
        Refusal: `bad_reference`, `not_found`, `ambiguous`.
    """
    return revision(await desk.entry(bearer.team, await resolve(desk, bearer.team, reference)))


async def read_document(desk: Desk, bearer: Bearer, reference: str) -> Document:
    """Give one revision's document.

    Raises:
        Refusal: `bad_reference`, `not_found`, `ambiguous`, `erased`.
    """
    return await desk.document(bearer.team, await resolve(desk, bearer.team, reference))


async def read_changes(desk: Desk, bearer: Bearer, reference: str, since: str) -> Changes:
    """List the leaves that differ from one revision to another, of any sheets and cars.

    Raises:
        Refusal: `bad_reference`, `not_found`, `ambiguous`, `erased`.
    """
    old, new = await resolve(desk, bearer.team, since), await resolve(desk, bearer.team, reference)
    before, after = [tree_of((await desk.document(bearer.team, id_)).body) for id_ in (old, new)]
    changes = [fields.leaf_change(change) for change in diff(before, after)]
    return Changes(since=old.hex(), revision=new.hex(), changes=changes)
