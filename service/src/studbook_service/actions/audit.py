"""The record of every change to who may what."""

from typing import Any

import msgspec
from msgspec import UNSET

from studbook.wire.access import Audit, AuditLine
from studbook_service.actions.desk import Desk
from studbook_service.night.moments import told as moment
from studbook_service.store import AuditRow, Bearer


async def read_audit(desk: Desk, bearer: Bearer, *, after: int, limit: int) -> Audit:
    """Read a page of the record, oldest first."""
    rows = await desk.book.access.audit(bearer.team, after=after, limit=limit + 1)
    page = rows[:limit]
    return Audit(items=[_line(row) for row in page], next=page[-1].seq if len(rows) > limit else UNSET)


def _line(row: AuditRow) -> AuditLine:
    told = msgspec.json.decode(row.event, type=dict[str, Any])
    at = moment(told.pop("at"))
    return AuditLine(seq=row.seq, at=at, chain=row.chain.hex(), **told)
