"""What a crew chief reads first on a card, and what the card assumes."""

from collections.abc import Sequence

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.work import Job, WorkCard, WorkRequest
from studbook_service.work.instructions import ASSUMED_AXIS, axis_assumed
from studbook_service.work.items import Item


def headline(card: WorkCard) -> list[str]:
    """Write first what belongs to another day, then what is inspected, how long it takes, and what fits."""
    planned = [job for job in card.jobs if job.state == "planned"]
    return [
        *_another_day([job for job in card.jobs if job.state != "done"]),
        *_inspected(card),
        *_time(card, planned),
        *_fitting(card),
        *([f"With the wheels on: {', '.join(card.wheels_on)}."] if card.wheels_on else []),
        *([f"No longer needed: {', '.join(card.unneeded)}."] if card.unneeded else []),
        *([f"{len(card.by_hand)} changes have no job in the table: plan them by hand."] if card.by_hand else []),
    ]


def assumptions(card: WorkCard, items: Sequence[Item], after: Tree, request: WorkRequest) -> list[str]:
    """List what the card assumes; a sign that may be wrong first."""
    own = sorted({job.kind for job in card.jobs if job.own_figures})
    return [
        *([ASSUMED_AXIS] if any(axis_assumed(item, after) for item in items) else []),
        "Minutes, people, tools and re-checks are common practice for a practiced crew in the pits"
        + (f"; the team's own for {', '.join(own)}." if own else "."),
        "Each job's minutes include its own jacking and wheel; several at one corner take a little less.",
        *(["The car stands on four stands."] if request.on_stands else []),
        *(["Heights, scales and bump-steer sheets are put off."] if request.measure_later else []),
    ]


def _another_day(jobs: Sequence[Job]) -> list[str]:
    between = [job.title for job in jobs if job.when == "between_days"]
    shop = [job.title for job in jobs if job.when == "shop"]
    return [
        *([f"For Monday or between days, unless it is broken: {', '.join(between)}."] if between else []),
        *([f"For the shop, not the pits: {', '.join(shop)}."] if shop else []),
    ]


def _inspected(card: WorkCard) -> list[str]:
    if not card.sign_first:
        return []
    return [f"Contact: {', '.join(card.sign_first)} first; without it the finished card is not signed off."]


def _time(card: WorkCard, planned: Sequence[Job]) -> list[str]:
    if not planned:
        return ["Nothing to do." if not card.changes else "Nothing is planned."]
    jobs = "1 job" if len(planned) == 1 else f"{len(planned)} jobs"
    crew = "1 person" if card.crew == 1 else f"{card.crew} people"
    shortest = card.bound_min >= card.finish_min
    sure = "and no order is shorter" if shortest else f"and no order is shorter than {card.bound_min:g}"
    return [f"{jobs}, {crew}: {_minutes(card.finish_min)}, {sure}."]


def _fitting(card: WorkCard) -> list[str]:
    out = [change for change in card.changes if not change.fits]
    sentences = []
    if card.minutes_given is not UNSET:
        given = _minutes(card.minutes_given)
        if card.finish_min > card.minutes_given:
            sentences.append(f"It does not fit in {given}.")
        elif not out:
            sentences.append(f"It fits in {given}.")
        else:
            kept = [change.id for change in card.changes if change.fits]
            best = "no choice is better" if card.optimal else "a better choice was not ruled out"
            count = f"{len(kept)} of {len(card.changes)} changes fit ({best}): {', '.join(kept)}"
            sentences.append(f"In {given} {count if kept else 'none of the changes fits'}.")
    reasons = dict.fromkeys(change.why_not for change in out)
    sentences += [f"Left out: {', '.join(each.id for each in out if each.why_not == why)}: {why}." for why in reasons]
    if out and any(job.state == "left_out" and job.kind in {"scales", "bump_sheet"} for job in card.jobs):
        sentences.append("Heights, scales and bump-steer sheets can be put off and owed.")
    owed = [job.id for job in card.jobs if job.state == "owed"]
    return [*sentences, *([f"Owed: {', '.join(owed)}."] if owed else [])]


def _minutes(value: float) -> str:
    return f"{value:g} minute{'' if value == 1 else 's'}"
