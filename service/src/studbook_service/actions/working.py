"""The work card between two revisions, with what the book tells of parts, contact, own times, and what is done."""

from typing import get_args

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.part_states import PartsQuery
from studbook.wire.records import KINDS, fitting, typed
from studbook.wire.setup.common import Corner
from studbook.wire.shop import JobTimes, ShopTimes, WorkRecord
from studbook.wire.work import INSPECTION, JobTable, WorkCard, WorkRequest, WorkWanted
from studbook_service.actions.answering import known, worked
from studbook_service.actions.desk import Desk, tree_of
from studbook_service.actions.facts import latest
from studbook_service.actions.lines import place
from studbook_service.actions.records import read_record
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.shelf import read_shelf
from studbook_service.store import Bearer
from studbook_service.work.card import work_card
from studbook_service.work.jobs import KINDS as JOBS
from studbook_service.work.refusing import AskedUnfitError
from studbook_service.work.stock import stock_of
from studbook_service.work.table import job_table


async def work(desk: Desk, bearer: Bearer, reference: str, since: str, wanted: WorkWanted) -> WorkCard:
    """Make the card from one revision to another; with `undo` the way back.

    Raises:
        Refusal: `not_found` for a revision or for the card's record, `ambiguous`, `erased`, `busy`; `bad_request` for
            a wish that is not on the card.
    """
    there, back = await known(desk, bearer.team, reference), await known(desk, bearer.team, since)
    before, after = (there, back) if wanted.undo else (back, there)
    trees = [await _tree(desk, bearer, id_) for id_ in (before, after)]
    shelf = await read_shelf(desk, bearer, PartsQuery())
    car = place((await desk.entry(bearer.team, there)).line).car
    open_ = {each.corner for each in shelf.corners if each.car == car}
    ticked = await _done(desk, bearer, wanted.card) if isinstance(wanted.card, str) else []
    asked = WorkRequest(
        crew=wanted.crew,
        minutes=wanted.minutes,
        on_stands=wanted.on_stands,
        measure_later=wanted.measure_later,
        wishes=[wish for each in wanted.wishes.split(",") if (wish := each.strip())],
        contact=[wheel for wheel in get_args(Corner) if wheel in open_ or INSPECTION + wheel in ticked],
        # Ticked, and to be inspected again: found not straight, or there was contact since.
        done=[job for job in ticked if job.removeprefix(INSPECTION) not in open_],
        own=await _own(desk, bearer),
    )

    def answer() -> WorkCard:
        card = work_card(*trees, asked=asked, back=wanted.undo, stock=stock_of(shelf, car))
        card.since, card.revision = before.hex(), after.hex()
        return card

    try:
        return await worked(desk, answer)
    except AskedUnfitError as error:
        faults = [msgspec.structs.replace(fault, pointer=fault.path, path=UNSET) for fault in error.faults]
        raise Refusal("bad_request", str(error), errors=faults) from None


async def jobs(desk: Desk, bearer: Bearer) -> JobTable:
    """Give the job table, with the team's own figures in it."""
    return job_table(await _own(desk, bearer))


async def _tree(desk: Desk, bearer: Bearer, id_: bytes) -> Tree:
    return tree_of((await desk.document(bearer.team, id_)).body)


async def _done(desk: Desk, bearer: Bearer, name: str) -> list[str]:
    """List the jobs that are ticked off on a card."""
    kind = KINDS["work"]
    if not kind.form.fullmatch(name):
        raise Refusal("bad_reference", f"{name!r} is no card: write {kind.like}")
    found: WorkRecord = typed(await read_record(desk, bearer, kind, name))
    return sorted(found.done or {})


async def _own(desk: Desk, bearer: Bearer) -> dict[str, JobTimes]:
    """Read the team's own figures; those for what is no kind of job here are another version's."""
    tips = await desk.book.tip_entries(bearer.team, KINDS["shop_times"].line("times"))
    own = fitting(tree_of(latest(tips).body), ShopTimes).jobs if tips else {}
    return {kind: times for kind, times in (own or {}).items() if kind in JOBS}
