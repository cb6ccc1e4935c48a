"""Protected sheets: only a chief records on them."""

from studbook.wire.access import Protection
from studbook_service.actions.deciding import deciding
from studbook_service.actions.desk import Desk
from studbook_service.actions.lines import sheet_line
from studbook_service.actions.refusals import Refusal
from studbook_service.store import Bearer, audit_event


async def protect(desk: Desk, bearer: Bearer, car: str, sheet: str) -> Protection:
    """Let only a chief record on a sheet.

    Raises:
        Refusal: `bad_reference`, `not_found`, `not_home`.
    """
    line = await _known(desk, bearer, car, sheet)
    told = audit_event(actor=bearer.member, action="protection.on", subject=line)
    with deciding(bearer.member):
        await desk.book.access.protect(bearer.team, line, by=bearer.member, audit=told)
    desk.forget_protection()
    return Protection(car=car, sheet=sheet, protected=True)


async def unprotect(desk: Desk, bearer: Bearer, car: str, sheet: str) -> Protection:
    """Let the crew record on a sheet again.

    Raises:
        Refusal: `bad_reference`, `not_found`, `not_home`.
    """
    line = await _known(desk, bearer, car, sheet)
    told = audit_event(actor=bearer.member, action="protection.off", subject=line)
    with deciding(bearer.member):
        await desk.book.access.unprotect(bearer.team, line, audit=told)
    desk.forget_protection()
    return Protection(car=car, sheet=sheet, protected=False)


async def _known(desk: Desk, bearer: Bearer, car: str, sheet: str) -> str:
    line = sheet_line(car, sheet)
    if not await desk.book.tips(bearer.team, line):
        raise Refusal("not_found", f"car {car} has no sheet {sheet}")
    return line
