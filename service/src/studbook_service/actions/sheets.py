"""A car's sheets: what they hold now, and how they came to it."""

import asyncio
import base64
from hashlib import sha256
from typing import Any
from uuid import UUID

import msgspec
from msgspec import UNSET

from studbook.wire.entries import History, Sheet, SheetHead, Sheets
from studbook.wire.problem import FieldFault
from studbook_service.actions import merging
from studbook_service.actions.desk import Desk
from studbook_service.actions.lines import agreed, by_line, car_line, place, sheet_line
from studbook_service.actions.recording import tag_of
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.views import revision
from studbook_service.store import Bearer, EntryHead

_GENERATION_BYTES, _ID_BYTES, _LINE_BYTES = 4, 32, 8


async def list_sheets(desk: Desk, bearer: Bearer, car: str) -> Sheets:
    """List a car's sheets, without their documents.

    Raises:
        Refusal: `not_found`, there is no such car.
    """
    line = car_line(car)
    own, tips, protected = await asyncio.gather(
        desk.book.tips(bearer.team, line),
        desk.book.heads(bearer.team, f"{line}/sheet/", "sheet"),
        desk.protected(bearer.team),
    )
    # Who is shown one sheet alone sees it and not its car.
    if not own and not tips:
        raise Refusal("not_found", f"there is no car {car}")
    return Sheets(items=[await _head(desk, bearer, of_one, protected) for of_one in by_line(tips)])


async def tips(desk: Desk, bearer: Bearer, car: str, sheet: str) -> SheetHead:
    """Show where a sheet stands, without its document.

    Raises:
        Refusal: `not_found`.
    """
    found = await desk.book.tips(bearer.team, sheet_line(car, sheet))
    if not found:
        raise Refusal("not_found", f"car {car} has no sheet {sheet}")
    return await _head(desk, bearer, found, await desk.protected(bearer.team))


async def with_document(desk: Desk, team: UUID, head: SheetHead) -> Sheet:
    """Add its document to a sheet, or to a split one what its tips make together; neither where that was erased.

    Raises:
        Refusal: `busy`, too many computations wait before the merge.
    """
    ids = [bytes.fromhex(tip.id) for tip in head.tips]
    sheet = Sheet(**msgspec.structs.asdict(head))
    try:
        if sheet.split:
            sheet.merge = await merging.show(desk, team, head.tips[0].line, ids)
        else:
            document = await desk.document(team, ids[0])
            # The stored bytes go into the answer as they are: taking them apart first would only cost time.
            stored: Any = msgspec.Raw(document.body)
            sheet.document = stored
    except Refusal as refusal:
        if refusal.code != "erased":
            raise
        sheet.erased = True
    return sheet


async def history(desk: Desk, bearer: Bearer, car: str, sheet: str, *, limit: int, cursor: str | None) -> History:
    """Read a page of a sheet's revisions, newest first.

    Args:
        desk: this process's place at the book.
        bearer: who asks.
        car: the car.
        sheet: the sheet.
        limit: most revisions on the page.
        cursor: `next` of the page before, or None for the first.

    Raises:
        Refusal: `not_found`; `bad_request` for a cursor that is none of this sheet's.
    """
    missing = f"car {car} has no sheet {sheet}"
    return await line_history(desk, bearer, sheet_line(car, sheet), limit=limit, cursor=cursor, missing=missing)


async def line_history(
    desk: Desk, bearer: Bearer, line: str, *, limit: int, cursor: str | None, missing: str
) -> History:
    """Read a page of any line's entries, newest first.

    Args:
        desk: this process's place at the book.
        bearer: who asks.
        line: the line.
        limit: most entries on the page.
        cursor: `next` of the page before, or None for the first.
        missing: what to say where there is no such line.

    Raises:
        Refusal: `not_found`; `bad_request` for a cursor that is none of this line's.
    """
    before = None if cursor is None else _position(cursor, line)
    found = await desk.book.history(bearer.team, line, before=before, limit=limit + 1)
    if not found and before is None:
        raise Refusal("not_found", missing)
    page = found[:limit]
    more = _cursor(page[-1], line) if len(found) > limit else UNSET
    return History(items=[revision(head) for head in page], next=more)


async def _head(desk: Desk, bearer: Bearer, found: list[EntryHead], protected: frozenset[str]) -> SheetHead:
    """Show where a sheet stands; the documents of its tips are read only where there are several."""
    where, ids = place(found[0].line), [tip.id for tip in found]
    return SheetHead(
        car=where.car,
        sheet=str(where.sheet),
        tips=[revision(tip) for tip in found],
        tag=tag_of(ids),
        split=len(ids) > 1 and not agreed(await desk.book.several(bearer.team, ids)),
        protected=found[0].line in protected,
    )


def _cursor(head: EntryHead, line: str) -> str:
    """Write where a page ended: generation, id and whose line it is."""
    place_ = head.generation.to_bytes(_GENERATION_BYTES) + head.id
    return base64.urlsafe_b64encode(place_ + _mark(place_, line)).rstrip(b"=").decode()


def _position(cursor: str, line: str) -> tuple[int, bytes]:
    try:
        read = base64.b64decode(cursor.encode("ascii") + b"=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
    except ValueError:
        read = b""
    place_, mark = read[: _GENERATION_BYTES + _ID_BYTES], read[_GENERATION_BYTES + _ID_BYTES :]
    if mark != _mark(place_, line):
        detail = "cursor: is none that this history gave"
        raise Refusal("bad_request", detail, errors=[FieldFault(pointer="cursor", detail=detail)])
    return int.from_bytes(place_[:_GENERATION_BYTES]), place_[_GENERATION_BYTES:]


def _mark(place_: bytes, line: str) -> bytes:
    return sha256(place_ + line.encode()).digest()[:_LINE_BYTES]
