"""The work card between two revisions, with what the book tells of parts, contact, own times, and what is done."""

from typing import get_args

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.operations import revisions as operations
from studbook.wire.records import KINDS, fitting, typed
from studbook.wire.setup.common import Corner
from studbook.wire.shelf import ShelfQuery
from studbook.wire.shop import JobTimes, ShopTimes, WorkRecord
from studbook.wire.work import INSPECTION, JobTable, SinceWork, WorkCard, WorkRequest
from studbook_service.actions.answers import computed, known_id
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.facts import latest
from studbook_service.actions.lines import place
from studbook_service.actions.operations import carries_out
from studbook_service.actions.records import read_record
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.shelf import read_shelf
from studbook_service.store import Bearer
from studbook_service.work.card import work_card
from studbook_service.work.jobs import JOB_KINDS
from studbook_service.work.request_checks import RequestUnfitError
from studbook_service.work.stock import stock_of
from studbook_service.work.table import job_table


@carries_out(operations.READ_WORK)
async def read_work(context: Context, bearer: Bearer, reference: str, query: SinceWork) -> WorkCard:
    """Make the card from one revision to another; with `undo` the way back.

    Raises:
        Refusal: `not_found` for a revision or for the card's record, `ambiguous`, `erased`, `busy`; `bad_request` for
            a priority that is not on the card.
    """
    there, back = await known_id(context, bearer.team, reference), await known_id(context, bearer.team, query.since)
    before, after = (there, back) if query.undo else (back, there)
    trees = [await _tree(context, bearer, id_) for id_ in (before, after)]
    shelf = await read_shelf(context, bearer, ShelfQuery())
    car = place((await context.entry(bearer.team, there)).line).car
    open_ = {each.corner for each in shelf.corners if each.car == car}
    ticked = await _done(context, bearer, query.card) if isinstance(query.card, str) else []
    request = WorkRequest(
        crew=query.crew,
        minutes=query.minutes,
        on_stands=query.on_stands,
        measure_later=query.measure_later,
        priorities=[priority for each in query.priorities.split(",") if (priority := each.strip())],
        contact=[wheel for wheel in get_args(Corner) if wheel in open_ or INSPECTION + wheel in ticked],
        # Ticked, and to be inspected again: found not straight, or there was contact since.
        done=[job for job in ticked if job.removeprefix(INSPECTION) not in open_],
        own=await _own(context, bearer),
    )

    def answer() -> WorkCard:
        card = work_card(*trees, request=request, back=query.undo, stock=stock_of(shelf, car))
        card.since, card.revision = before.hex(), after.hex()
        return card

    try:
        return await computed(context, answer)
    except RequestUnfitError as error:
        faults = [msgspec.structs.replace(fault, pointer=fault.path, path=UNSET) for fault in error.faults]
        raise Refusal("bad_request", str(error), errors=faults) from None


@carries_out(operations.READ_JOBS)
async def read_jobs(context: Context, bearer: Bearer) -> JobTable:
    """Give the job table, with the team's own figures in it."""
    return job_table(await _own(context, bearer))


async def _tree(context: Context, bearer: Bearer, id_: bytes) -> Tree:
    return tree_of((await context.document(bearer.team, id_)).body)


async def _done(context: Context, bearer: Bearer, name: str) -> list[str]:
    """List the jobs that are ticked off on a card."""
    kind = KINDS["work"]
    if not kind.form.fullmatch(name):
        raise Refusal("bad_reference", f"{name!r} is no card: write {kind.like}")
    found: WorkRecord = typed(await read_record(context, bearer, kind, name))
    return sorted(found.done or {})


async def _own(context: Context, bearer: Bearer) -> dict[str, JobTimes]:
    """Read the team's own figures; those for what is no kind of job here are another version's."""
    tips = await context.book.tip_entries(bearer.team, KINDS["shop_times"].line("times"))
    own = fitting(tree_of(latest(tips).body), ShopTimes).jobs if tips else {}
    return {kind: times for kind, times in (own or {}).items() if kind in JOB_KINDS}
