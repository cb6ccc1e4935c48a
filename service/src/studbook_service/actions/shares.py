"""Shares: another team reads one car or sheet until a date, and nothing else."""

import datetime as dt

from msgspec import UNSET

from studbook.wire.access import NewShare, Share, ShareMade, Shares
from studbook.wire.operations import access as operations
from studbook_service import store
from studbook_service.actions.context import Context
from studbook_service.actions.lines import car_line, place, sheet_line
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, access_refusals, unfit
from studbook_service.store import Bearer, ShareRow, audit_event, opaque_id

LONGEST = dt.timedelta(days=731)
"""Two years, one of them a leap year."""


@carries_out(operations.LIST_SHARES)
async def list_shares(context: Context, bearer: Bearer) -> Shares:
    """List the team's shares."""
    return Shares(items=[_shown(row) for row in await context.book.access.shares(bearer.team)])


@carries_out(operations.MAKE_SHARE)
async def make_share(context: Context, bearer: Bearer, wanted: NewShare) -> ShareMade:
    """Share a car or a sheet."""
    _refuse_date(wanted.until)
    line = car_line(wanted.car) if wanted.sheet is UNSET else sheet_line(wanted.car, wanted.sheet)
    if not await context.book.tips(bearer.team, line):
        no_sheet = f"car {wanted.car} has no sheet {wanted.sheet}"
        raise Refusal("not_found", f"there is no car {wanted.car}" if wanted.sheet is UNSET else no_sheet)
    id_, token = opaque_id("s"), store.mint()
    until = wanted.until.astimezone(dt.UTC)
    event = audit_event(
        actor=bearer.member, action="share.make", subject=id_, line=line, until=until.isoformat(timespec="seconds")
    )
    with access_refusals(bearer.member):
        await context.book.access.add_share(
            bearer.team,
            id=id_,
            secret_hash=store.secret_hash(token),
            line=line,
            label=wanted.label,
            until=until,
            by=bearer.member,
            audit=event,
        )
    return ShareMade(token=token, share=_shown(await _one(context, bearer, id_)))


@carries_out(operations.END_SHARE)
async def end_share(context: Context, bearer: Bearer, id_: str) -> Share:
    """End a share before its date; one that was ended before stays as it is."""
    row = await _one(context, bearer, id_)
    if row.ended_at is not None:
        return _shown(row)
    event = audit_event(actor=bearer.member, action="share.end", subject=id_, line=row.line)
    with access_refusals(bearer.member):
        await context.book.access.end_share(bearer.team, id_, audit=event)
    return _shown(await _one(context, bearer, id_))


def _refuse_date(until: dt.datetime) -> None:
    now = dt.datetime.now(dt.UTC)
    if not now < until <= now + LONGEST:
        detail = f"until: {until.isoformat()} is not between now and {LONGEST.days} days from now"
        raise unfit("/until", detail, value=until.isoformat())


async def _one(context: Context, bearer: Bearer, id_: str) -> ShareRow:
    found = next((row for row in await context.book.access.shares(bearer.team) if row.id == id_), None)
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
