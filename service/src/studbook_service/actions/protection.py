"""Protected sheets: only a chief records on them."""

from studbook.wire.access import Protection
from studbook.wire.operations import access as operations
from studbook_service.actions.context import Context
from studbook_service.actions.lines import sheet_line
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, access_refusals
from studbook_service.store import Bearer, audit_event


@carries_out(operations.PROTECT_SHEET)
async def protect_sheet(context: Context, bearer: Bearer, car: str, sheet: str) -> Protection:
    """Let only a chief record on a sheet."""
    return await _set(context, bearer, car, sheet, protected=True)


@carries_out(operations.UNPROTECT_SHEET)
async def unprotect_sheet(context: Context, bearer: Bearer, car: str, sheet: str) -> Protection:
    """Let the crew record on a sheet again."""
    return await _set(context, bearer, car, sheet, protected=False)


async def _set(context: Context, bearer: Bearer, car: str, sheet: str, *, protected: bool) -> Protection:
    line, access = sheet_line(car, sheet), context.book.access
    if not await context.book.tips(bearer.team, line):
        raise Refusal("not_found", f"car {car} has no sheet {sheet}")
    action = "protection.on" if protected else "protection.off"
    event = audit_event(actor=bearer.member, action=action, subject=line)
    with access_refusals(bearer.member):
        if protected:
            await access.protect(bearer.team, line, by=bearer.member, audit=event)
        else:
            await access.unprotect(bearer.team, line, audit=event)
    context.forget_protection()
    return Protection(car=car, sheet=sheet, protected=protected)
