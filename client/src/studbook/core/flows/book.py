"""The book: cars, sheets, revisions, and how a reference is resolved."""

import datetime as dt

from studbook.core.call import Flow, Walk
from studbook.core.errors import local
from studbook.core.pulled import Pulled, pulled
from studbook.core.references import SheetName, reference, sheet_name
from studbook.core.request import call, paged
from studbook.wire.entries import Car, CarChange, Changes, NewCar, Revision, Sheet, SheetHead
from studbook.wire.operations.cars import (
    ADD_CAR,
    CHANGE_CAR,
    LIST_CARS,
    LIST_SHEETS,
    READ_CAR,
    READ_HISTORY,
    READ_SHEET,
)
from studbook.wire.operations.revisions import READ_CHANGES, READ_DOCUMENT, READ_REVISION
from studbook.wire.operations.service import READY
from studbook.wire.units import opt


def ready() -> Flow[bool]:
    """Tell that the service and its database answer; else the error says what does not.

    Raises:
        UnavailableError: the service runs, its database does not answer.
    """
    yield from call(READY)
    return True


def cars() -> Flow[list[Car]]:
    """List the team's cars."""
    return (yield from call(LIST_CARS)).items


def car(car: str) -> Flow[Car]:
    """Give a car by its slug."""
    return call(READ_CAR, car)


def new_car(car: str, *, name: str = "", number: str = "", note: str = "", at: dt.datetime | None = None) -> Flow[Car]:
    """Enter a car.

    Args:
        car: its slug, chosen once: 1 to 48 of a-z, 0-9, _ and -.
        name: what people call it.
        number: what is painted on it.
        note: why.
        at: when, if not now; with an offset.

    Raises:
        ExistsError: there is a car by that slug.
    """
    return call(ADD_CAR, body=NewCar(car=car, name=name, number=number, note=note, at=opt(at)))


def change_car(
    car: str, *, name: str | None = None, number: str | None = None, retired: bool | None = None, note: str = ""
) -> Flow[Car]:
    """Change what is given about a car; the rest stays."""
    present = yield from call(READ_CAR, car)
    change = CarChange(name=opt(name), number=opt(number), retired=opt(retired), note=note)
    return (yield from call(CHANGE_CAR, car, body=change, seen=present.tag))


def sheets(car: str) -> Flow[list[SheetHead]]:
    """List a car's sheets."""
    return (yield from call(LIST_SHEETS, car)).items


def sheet(sheet: str) -> Flow[Sheet]:
    """Give a sheet (`CAR/SHEET`) as it stands: its tips, and its document unless it is split."""
    return sheet_named(sheet_name(sheet))


def sheet_named(name: SheetName) -> Flow[Sheet]:
    """Give a sheet as it stands."""
    return call(READ_SHEET, name.car, name.sheet)


def resolve(ref: str) -> Flow[Revision]:
    """Find the revision that a reference names.

    Raises:
        BadReferenceError: no such form, or further back than the first revision.
        SplitError: the sheet has several tips; name one by its id.
    """
    wanted = reference(ref)
    if isinstance(wanted.named, SheetName):
        found = only_tip((yield from sheet_named(wanted.named)))
    else:
        found = yield from call(READ_REVISION, wanted.named)
    for gone in range(wanted.back):
        if not found.parents:
            raise local("bad_reference", f"{ref}: the first revision is reached after {gone} of these steps")
        found = yield from call(READ_REVISION, found.parents[0])
    return found


def pull(ref: str) -> Flow[Pulled]:
    """Bring a revision with its document; one request for a sheet's tip.

    Raises:
        SplitError: the sheet has several tips; pull one by its id.
    """
    wanted = reference(ref)
    if isinstance(wanted.named, SheetName) and wanted.back == 0:
        sheet = yield from sheet_named(wanted.named)
        tip = only_tip(sheet)
        if sheet.erased:
            raise local("erased", f"{ref}: the content of {tip.id[:12]} was erased; pull an earlier revision")
        return pulled(tip, sheet.document or {}, tag=sheet.tag)
    found = yield from resolve(ref)
    return pulled(found, (yield from call(READ_DOCUMENT, found.id)))


def history(sheet: str, *, page: int = 50) -> Walk[Revision]:
    """Walk a sheet's revisions, newest first; pages are fetched as the walk goes on.

    Args:
        sheet: `CAR/SHEET`.
        page: revisions fetched at a time, 1 to 200.
    """
    name = sheet_name(sheet)
    return paged(lambda cursor: call(READ_HISTORY, name.car, name.sheet, query={"limit": page, "cursor": cursor}))


def diff(since: str, ref: str) -> Flow[Changes]:
    """List the leaves that differ from one revision to another, of any sheets."""
    before = yield from resolve(since)
    after = yield from resolve(ref)
    return (yield from call(READ_CHANGES, after.id, query={"since": before.id}))


def compared(ref: str, since: str | None) -> Flow[tuple[str, str]]:
    """Find a revision, and the one that it is compared with: its first parent unless another is given.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    found = yield from resolve(ref)
    if since is not None:
        return found.id, (yield from resolve(since)).id
    if not found.parents:
        raise local("bad_reference", f"{ref} is the first revision: say since which other one")
    return found.id, found.parents[0]


def only_tip(sheet: Sheet) -> Revision:
    """Give the tip of a sheet that has one.

    Raises:
        SplitError: it has several.
    """
    if sheet.split:
        tips = [tip.id for tip in sheet.tips]
        named = ", ".join(tip[:12] for tip in tips)
        detail = f"{sheet.car}/{sheet.sheet} is split: merge it, or name one of {named}"
        raise local("split", detail, tag=sheet.tag, tips=tips)
    return sheet.tips[0]
