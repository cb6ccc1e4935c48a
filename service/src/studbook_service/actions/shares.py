"""Shares: another team reads one car or sheet until a date, and nothing else."""

import datetime as dt

from msgspec import UNSET

from studbook.wire.access import NewShare, Share, ShareMade, Shares
from studbook_service import store
from studbook_service.actions.deciding import deciding
from studbook_service.actions.desk import Desk
from studbook_service.actions.lines import car_line, place, sheet_line
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.store import Bearer, ShareRow, audit_event, opaque_id

LONGEST = dt.timedelta(days=731)
"""Two years, one of them a leap year."""


async def list_shares(desk: Desk, bearer: Bearer) -> Shares:
    """List the team's shares."""
    return Shares(items=[_shown(row) for row in await desk.book.access.shares(bearer.team)])


async def make_share(desk: Desk, bearer: Bearer, wanted: NewShare) -> ShareMade:
    """Share a car or a sheet.

    Raises:
        Refusal: `bad_request`, `bad_reference`, `not_found`, `not_home`.
    """
    _refuse_date(wanted.until)
    line = car_line(wanted.car) if wanted.sheet is UNSET else sheet_line(wanted.car, wanted.sheet)
    if not await desk.book.tips(bearer.team, line):
        no_sheet = f"car {wanted.car} has no sheet {wanted.sheet}"
        raise Refusal("not_found", f"there is no car {wanted.car}" if wanted.sheet is UNSET else no_sheet)
    id_, token = opaque_id("s"), store.mint()
    until = wanted.until.astimezone(dt.UTC)
    told = audit_event(
        actor=bearer.member, action="share.make", subject=id_, line=line, until=until.isoformat(timespec="seconds")
    )
    with deciding(bearer.member):
        await desk.book.access.add_share(
            bearer.team,
            id=id_,
            secret_hash=store.secret_hash(token),
            line=line,
            label=wanted.label,
            until=until,
            by=bearer.member,
            audit=told,
        )
    return ShareMade(token=token, share=_shown(await _one(desk, bearer, id_)))


async def end_share(desk: Desk, bearer: Bearer, id_: str) -> Share:
    """End a share before its date; one that was ended before stays as it is.

    Raises:
        Refusal: `not_found`, `not_home`.
    """
    row = await _one(desk, bearer, id_)
    if row.ended_at is not None:
        return _shown(row)
    told = audit_event(actor=bearer.member, action="share.end", subject=id_, line=row.line)
    with deciding(bearer.member):
        await desk.book.access.end_share(bearer.team, id_, audit=told)
    return _shown(await _one(desk, bearer, id_))


def _refuse_date(until: dt.datetime) -> None:
    now = dt.datetime.now(dt.UTC)
    if not now < until <= now + LONGEST:
        detail = f"until: {until.isoformat()} is not between now and {LONGEST.days} days from now"
        raise unfit("/until", detail, value=until.isoformat())


async def _one(desk: Desk, bearer: Bearer, id_: str) -> ShareRow:
    found = next((row for row in await desk.book.access.shares(bearer.team) if row.id == id_), None)
    if found is None:
        raise Refusal("not_found", f"there is no share {id_[:80]}")
    return found


def _shown(row: ShareRow) -> Share:
    where = place(row.line)
    return Share(
        id=row.id,
        car=where.car,
        sheet=where.sheet or UNSET,
        label=row.label,
        until=row.until,
        made_by=row.made_by,
        made_at=row.made_at,
        ended_at=row.ended_at or UNSET,
    )
