"""The work card: jobs from one document to another, planned for a crew, with all that each brings."""

from dataclasses import replace
from typing import Final

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.fields import leaf_change
from studbook.wire.work import ChangeOnCard, Job, WorkCard, WorkRequest
from studbook_service.translate.document import checked
from studbook_service.work import cautions
from studbook_service.work.difference import Difference, difference
from studbook_service.work.headline import assumptions, headline
from studbook_service.work.instructions import already_fitted, instructions
from studbook_service.work.items import Item
from studbook_service.work.order import STEPS_PER_MINUTE, with_checks
from studbook_service.work.parts import Stock, no_stock, parts_needed
from studbook_service.work.plan import NO_OWN, Planner, WorkPlan
from studbook_service.work.request_checks import check_priorities, check_request
from studbook_service.work.schedule import SEARCH_STEPS

STATES: Final = ("planned", "left_out", "owed", "done")


def work_card(
    before: Tree,
    after: Tree,
    *,
    request: WorkRequest,
    back: bool = False,
    stock: Stock = no_stock,
    search_steps: int = SEARCH_STEPS,
) -> WorkCard:
    """Make the card from what is on the car to what shall be on it.

    Args:
        before: the document of what is on the car.
        after: the document of what shall be on it.
        request: what the card is for.
        back: an undo card: `after` is the older. Of the jobs that lead to `before` those in `request.done` are undone,
            all where none is named; the others are not needed any more.
        stock: finds a part's price and place.
        search_steps: steps that each search for a schedule may take.

    Returns:
        The card. Its times are the shortest there are, and no better choice of changes fits, where it says `optimal`.

    Raises:
        RequestUnfitError: the request is out of bounds, or names what there is not.
        FieldsUnfitError: a document holds values out of type or bounds.

    Example:
        >>> one, other = ({"setup": {"brakes": {"front_share_percent": share}}} for share in (58, 60))
        >>> work_card(one, other, request=WorkRequest()).headline
        ['1 job, 2 people: 1 minute, and no order is shorter.', 'With the wheels on: brake-bias.']
    """
    check_request(request)
    found, unneeded = difference(checked(before), checked(after), back=back), list[str]()
    if back and request.done:
        found, unneeded = _undone(found, difference(after, before), request)
        request = msgspec.structs.replace(request, done=[])
    planner = Planner(found.items, request, search_steps=search_steps)
    check_priorities(request, {*planner.changes, *(item.id for item in found.items)})
    plan = planner.plan()
    jobs = _jobs(planner, plan, after, stock)
    prices = [part.price_usd for job in jobs if job.state == "planned" for part in job.parts if not part.fitted]
    known_prices = [price for price in prices if price is not UNSET]
    card = WorkCard(
        headline=[],
        back=back,
        crew=request.crew,
        minutes_given=request.minutes,
        finish_min=_minutes(plan.schedule.end),
        bound_min=_minutes(plan.schedule.bound),
        optimal=plan.schedule.optimal and plan.proven,
        everything_fits=not plan.why_not and (request.minutes is UNSET or plan.schedule.end <= planner.limit),
        jobs=jobs,
        changes=_changes(planner, plan),
        parts_price_usd=sum(known_prices) if known_prices else UNSET,
        assumptions=[],
        cautions=list(cautions.CARD),
        sign_first=[item.id for item in planner.always if item.id not in request.done],
        wheels_on=[job.id for job in jobs if job.state == "planned" and job.wheels_on and job.change],
        by_hand=[leaf_change(change) for change in found.by_hand],
        recorded=[leaf_change(change) for change in found.recorded],
        unneeded=unneeded,
    )
    card.headline = headline(card)
    card.assumptions = assumptions(card, found.items, after, request)
    return card


def _undone(back: Difference, there: Difference, request: WorkRequest) -> tuple[Difference, list[str]]:
    """Keep the jobs that undo one that was done; name those of the way there that are not needed any more."""
    kept = replace(back, items=[item for item in back.items if item.id in request.done])
    wanted = {item.id for item in with_checks(kept.items)} | set(request.done)
    return kept, [item.id for item in with_checks(there.items) if item.id not in wanted]


def _jobs(planner: Planner, plan: WorkPlan, after: Tree, stock: Stock) -> list[Job]:
    """Give the planned jobs by when they begin, then what is left out, owed and done."""
    chosen = {item.id: item for item in plan.items}
    everything = {item.id: item for item in planner.with_all(list(planner.changes))} | chosen
    place = {item.id: task for task, item in enumerate(plan.planned)}
    jobs = []
    for item in everything.values():
        job = _job(item, planner, after, stock)
        job.brings = [other.id for other in everything.values() if item.id in other.because]
        if item.id in place:
            task = place[item.id]
            begin = plan.schedule.begin[task]
            job.begin_min, job.end_min = _minutes(begin), _minutes(begin + plan.tasks.duration[task])
            job.who = plan.who[task]
        elif item.id in planner.request.done:
            job.state = "done"
        else:
            job.state = "owed" if item.id in chosen else "left_out"
        jobs.append(job)
    return sorted(jobs, key=lambda job: (STATES.index(job.state), job.begin_min if job.begin_min is not UNSET else 0))


def _job(item: Item, planner: Planner, after: Tree, stock: Stock) -> Job:
    own = planner.request.own.get(item.kind, NO_OWN)
    parts = parts_needed(item, after, stock=stock, price_usd=own.price_usd)
    return Job(
        id=item.id,
        kind=item.kind,
        where=item.where,
        minutes=planner.minutes(item),
        people=planner.people(item),
        state="planned",
        todo=[*already_fitted(parts), *instructions(item, after)],
        parts=parts,
        because=list(item.because),
        change=item.change or UNSET,
        own_figures=own.time_min is not UNSET or own.people is not UNSET,
        **item.of.shown | {"title": item.title},
    )


def _changes(planner: Planner, plan: WorkPlan) -> list[ChangeOnCard]:
    return [
        ChangeOnCard(
            id=name,
            title=", ".join(item.title for item in items),
            jobs=[item.id for item in items],
            changes=[leaf_change(change) for item in items for change in item.leaves],
            fits=name not in plan.why_not,
            why_not=plan.why_not.get(name, UNSET),
        )
        for name, items in planner.changes.items()
    ]


def _minutes(steps: int) -> float:
    return round(steps / STEPS_PER_MINUTE, 2)
