"""The record of every change of access."""

from typing import Any

import msgspec
from msgspec import UNSET

from studbook.wire.access import Audit, AuditLine, AuditPage
from studbook.wire.operations import access as operations
from studbook_service.actions.context import Context
from studbook_service.actions.operations import carries_out
from studbook_service.night.times import moment
from studbook_service.store import AuditRow, Bearer


@carries_out(operations.READ_AUDIT)
async def read_audit(context: Context, bearer: Bearer, query: AuditPage) -> Audit:
    """Read a page of the record, oldest first."""
    rows = await context.book.access.audit(bearer.team, after=query.after, limit=query.limit + 1)
    page = rows[: query.limit]
    return Audit(items=[_line(row) for row in page], next=page[-1].seq if len(rows) > query.limit else UNSET)


def _line(row: AuditRow) -> AuditLine:
    event = msgspec.json.decode(row.event, type=dict[str, Any])
    at = moment(event.pop("at"))
    return AuditLine(seq=row.seq, at=at, chain=row.chain.hex(), **event)
