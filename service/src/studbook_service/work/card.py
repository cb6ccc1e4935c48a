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
from studbook_service.work.changed import Difference, difference
from studbook_service.work.headline import assumptions, headline
from studbook_service.work.items import Item
from studbook_service.work.order import STEPS_PER_MINUTE, with_checks
from studbook_service.work.parts import Stock, nothing_known, parts_needed
from studbook_service.work.plan import NO_OWN, Plan, Planner
from studbook_service.work.refusing import refuse_unfit, refuse_unknown_wishes
from studbook_service.work.schedule import NODES
from studbook_service.work.words import on_already, todo

STATES: Final = ("planned", "left_out", "owed", "done")


def work_card(
    before: Tree,
    after: Tree,
    *,
    asked: WorkRequest,
    back: bool = False,
    stock: Stock = nothing_known,
    nodes: int = NODES,
) -> WorkCard:
    """Make the card from what is on the car to what shall be on it.

    Args:
        before: the document of what is on the car.
        after: the document of what shall be on it.
        asked: crew, minutes, wishes, contact, what is done, and the team's own figures.
        back: an undo card: `after` is the older. Of the jobs of the way there those in `asked.done` are undone, all of
            them where none is named; the others have become needless.
        stock: looks up a part's price and place.
        nodes: steps that each search for a schedule may take.

    Returns:
        The card. Its times are the shortest there are, and no better choice of changes fits, where it says `optimal`.

    Raises:
        AskedUnfitError: nonsense was asked, with field, value, bound and unit.
        FieldsUnfitError: a document holds values out of type or bounds.

    Example:
        >>> one, other = ({"setup": {"brakes": {"front_share_percent": share}}} for share in (58, 60))
        >>> work_card(one, other, asked=WorkRequest()).headline
        ['1 job, 2 people: 1 minute, and no order is shorter.', 'With the wheels on: brake-bias.']
    """
    refuse_unfit(asked)
    found, needless = difference(checked(before), checked(after), back=back), list[str]()
    if back and asked.done:
        found, needless = _undone(found, difference(after, before), asked)
        asked = msgspec.structs.replace(asked, done=[])
    planner = Planner(found.items, asked, nodes=nodes)
    refuse_unknown_wishes(asked, {*planner.changes, *(item.id for item in found.items)})
    plan = planner.plan()
    jobs = _jobs(planner, plan, after, stock)
    prices = [part.price_usd for job in jobs if job.state == "planned" for part in job.parts if not part.fitted]
    known_prices = [price for price in prices if price is not UNSET]
    card = WorkCard(
        headline=[],
        back=back,
        crew=asked.crew,
        minutes_given=asked.minutes,
        finish_min=_minutes(plan.schedule.end),
        bound_min=_minutes(plan.schedule.bound),
        optimal=plan.schedule.optimal and plan.proven,
        everything_fits=not plan.why_not and (asked.minutes is UNSET or plan.schedule.end <= planner.limit),
        jobs=jobs,
        changes=_changes(planner, plan),
        parts_price_usd=sum(known_prices) if known_prices else UNSET,
        assumptions=[],
        cautions=list(cautions.CARD),
        sign_first=[item.id for item in planner.always if item.id not in asked.done],
        wheels_on=[job.id for job in jobs if job.state == "planned" and job.wheels_on and job.change],
        by_hand=[leaf_change(change) for change in found.by_hand],
        recorded=[leaf_change(change) for change in found.recorded],
        needless=needless,
    )
    card.headline = headline(card)
    card.assumptions = assumptions(card, found.items, after, asked)
    return card


def _undone(back: Difference, there: Difference, asked: WorkRequest) -> tuple[Difference, list[str]]:
    """Keep of the way back what undoes a job that was done; name the jobs of the way there that nobody needs now."""
    kept = replace(back, items=[item for item in back.items if item.id in asked.done])
    wanted = {item.id for item in with_checks(kept.items)} | set(asked.done)
    return kept, [item.id for item in with_checks(there.items) if item.id not in wanted]


def _jobs(planner: Planner, plan: Plan, after: Tree, stock: Stock) -> list[Job]:
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
        elif item.id in planner.asked.done:
            job.state = "done"
        else:
            job.state = "owed" if item.id in chosen else "left_out"
        jobs.append(job)
    return sorted(jobs, key=lambda job: (STATES.index(job.state), job.begin_min if job.begin_min is not UNSET else 0))


def _job(item: Item, planner: Planner, after: Tree, stock: Stock) -> Job:
    own, kind = planner.asked.own.get(item.kind, NO_OWN), item.of
    parts = parts_needed(item, after, stock=stock, price_usd=None if own.price_usd is UNSET else own.price_usd)
    return Job(
        id=item.id,
        kind=item.kind,
        title=item.title,
        where=item.where,
        minutes=planner.minutes(item),
        people=planner.people(item),
        state="planned",
        todo=[*on_already(parts), *todo(item, after)],
        tools=list(kind.tools),
        parts=parts,
        looks=list(kind.looks),
        because=list(item.because),
        cautions=list(kind.cautions),
        wheels_on=kind.wheels_on,
        when=kind.when,
        change=item.change or UNSET,
        own_figures=own.time_min is not UNSET or own.people is not UNSET,
    )


def _changes(planner: Planner, plan: Plan) -> list[ChangeOnCard]:
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
