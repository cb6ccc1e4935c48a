"""A car's sheets: what they hold now, and how they came to it."""

import asyncio
from typing import Any
from uuid import UUID

import msgspec
from msgspec import UNSET, UnsetType

from studbook.wire.entries import History, Page, Sheet, SheetHead, Sheets
from studbook.wire.operations import cars as operations
from studbook_service.actions import merges
from studbook_service.actions.context import Context
from studbook_service.actions.cursors import cursor_of, place_in
from studbook_service.actions.entries import tag_of
from studbook_service.actions.lines import agreed, by_line, car_line, place, sheet_line
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.results import LazyAnswer, state_tag
from studbook_service.actions.views import revision
from studbook_service.store import Bearer, EntryHead

_GENERATION_BYTES = 4


@carries_out(operations.LIST_SHEETS)
async def list_sheets(context: Context, bearer: Bearer, car: str) -> Sheets:
    """List a car's sheets, without their documents.

    Raises:
        Refusal: `not_found`, there is no such car.
    """
    line = car_line(car)
    own, tips, protected = await asyncio.gather(
        context.book.tips(bearer.team, line),
        context.book.heads(bearer.team, f"{line}/sheet/", "sheet"),
        context.protected(bearer.team),
    )
    # Who is shown one sheet alone sees it and not its car.
    if not own and not tips:
        raise Refusal("not_found", f"there is no car {car}")
    return Sheets(items=[await _head(context, bearer, of_one, protected) for of_one in by_line(tips)])


@carries_out(operations.READ_SHEET)
async def read_sheet(context: Context, bearer: Bearer, car: str, sheet: str) -> LazyAnswer:
    """Show a sheet. Its document is not even fetched for a client that has it; it is left out where it was erased.

    Raises:
        Refusal: `not_found`; when computed `busy`, too many computations wait before the merge.
    """
    found = await context.book.tips(bearer.team, sheet_line(car, sheet))
    if not found:
        raise Refusal("not_found", f"car {car} has no sheet {sheet}")
    head = await _head(context, bearer, found, await context.protected(bearer.team))
    return LazyAnswer(state_tag(head.tag, head), lambda: _with_document(context, bearer.team, head))


@carries_out(operations.READ_HISTORY)
async def read_history(context: Context, bearer: Bearer, car: str, sheet: str, page: Page) -> History:
    """Read a page of a sheet's revisions, newest first.

    Raises:
        Refusal: `not_found`; `bad_request` for a cursor that is none of this sheet's.
    """
    return await line_history(context, bearer, sheet_line(car, sheet), page, missing=f"car {car} has no sheet {sheet}")


async def line_history(context: Context, bearer: Bearer, line: str, page: Page, *, missing: str) -> History:
    """Read a page of any line's entries, newest first.

    Args:
        context: what this process gives every action.
        bearer: who asks.
        line: the line.
        page: which page.
        missing: what to say where there is no such line.

    Raises:
        Refusal: `not_found`; `bad_request` for a cursor that is none of this line's.
    """
    before = None
    if page.cursor:
        place_ = place_in(page.cursor, of=line, name="history")
        before = int.from_bytes(place_[:_GENERATION_BYTES]), place_[_GENERATION_BYTES:]
    found = await context.book.history(bearer.team, line, before=before, limit=page.limit + 1)
    if not found and before is None:
        raise Refusal("not_found", missing)
    shown = found[: page.limit]
    following: str | UnsetType = UNSET
    if len(found) > page.limit:
        following = cursor_of(shown[-1].generation.to_bytes(_GENERATION_BYTES) + shown[-1].id, of=line)
    return History(items=[revision(head) for head in shown], next=following)


async def _with_document(context: Context, team: UUID, head: SheetHead) -> Sheet:
    ids = [bytes.fromhex(tip.id) for tip in head.tips]
    sheet = Sheet(**msgspec.structs.asdict(head))
    try:
        if sheet.split:
            sheet.merge = await merges.shown_merge(context, team, head.tips[0].line, ids)
        else:
            document = await context.document(team, ids[0])
            # The stored bytes go into the answer as they are: taking them apart first would only cost time.
            stored: Any = msgspec.Raw(document.body)
            sheet.document = stored
    except Refusal as refusal:
        if refusal.code != "erased":
            raise
        sheet.erased = True
    return sheet


async def _head(context: Context, bearer: Bearer, found: list[EntryHead], protected: frozenset[str]) -> SheetHead:
    """Show where a sheet stands; the documents of its tips are read only where there are several."""
    where, ids = place(found[0].line), [tip.id for tip in found]
    return SheetHead(
        car=where.car,
        sheet=str(where.sheet),
        tips=[revision(tip) for tip in found],
        tag=tag_of(ids),
        split=len(ids) > 1 and not agreed(await context.book.several(bearer.team, ids)),
        protected=found[0].line in protected,
    )
