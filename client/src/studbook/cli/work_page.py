"""A work card on the screen and on paper: who does what when, then each job with its box to tick."""

from collections.abc import Iterator, Sequence

from msgspec import UNSET

from studbook.cli.environment import bold
from studbook.cli.printing import leaf, points, table, wrapped
from studbook.wire.entries import LeafChange
from studbook.wire.work import Job, PartNeeded, WorkCard

INDENT = " " * 8
NOT_PLANNED = {"left_out": "LEFT OUT", "owed": "OWED, to be measured later", "done": "DONE"}


def work_page(card: WorkCard) -> list[str]:
    """Lay a card out: the sentences, the times, job by job, and what else is to be known."""
    planned = [job for job in card.jobs if job.state == "planned"]
    page = [bold(line) for sentence in card.headline for line in wrapped(sentence)]
    if planned:
        page += ["", *_times(planned)]
    said: dict[str, str] = {}
    for job in planned:
        page += ["", *_job(job, said)]
    for state, title in NOT_PLANNED.items():
        jobs = [job for job in card.jobs if job.state == state]
        page += ["", bold(title), *(line for job in jobs for line in _briefly(job))] if jobs else []
    page += points("Changed, and covered by no job: see by hand", [_change(each) for each in card.by_hand])
    if card.recorded:
        fields = "1 more field was" if len(card.recorded) == 1 else f"{len(card.recorded)} more fields were"
        page += ["", f"{fields} only written down (--json names them)."]
    if card.parts_price_usd is not UNSET:
        page += ["", f"Parts, as far as their prices are known: ${card.parts_price_usd:,.2f}"]
    if card.sign_first:
        page += ["", f"Inspected and signed ({', '.join(card.sign_first)}): ______________________________"]
    if planned:
        page += ["", "Card finished, signed: ______________________________"]
    return page + points("Taken for granted", card.assumptions) + points("Take care", card.cautions)


def _times(jobs: Sequence[Job]) -> list[str]:
    """Set the jobs one below the other by when they begin, people by number."""
    rows = [[f"{job.begin_min:g}", f"{job.end_min:g}", " ".join(map(str, job.who)), job.title, job.id] for job in jobs]
    lines = table(["from", "to min", "who", "job", ""], rows, right=frozenset({0, 1}))
    return [bold(lines[0]), *lines[1:]]


def _job(job: Job, said: dict[str, str]) -> list[str]:
    """Tell one job; a caution is written out beside the first job that it belongs to, which `said` remembers."""
    people = "1 person" if job.people == 1 else f"{job.people} people"
    own = ", the team's own" if job.own_figures else ""
    title = f"[ ] {job.title}  ({job.id}; {job.minutes:g} min, {people}{own})"
    page = [bold(line) for line in wrapped(title, indent="    ", first="")]
    for line in job.todo:
        page += wrapped(line, indent=INDENT, first="    --  ")
    for part in job.parts:
        page += wrapped(f"part: {_part(part)}", indent=INDENT, first="    ")
    for name, listed in (
        ("tools", job.tools),
        ("check", job.rechecks),
        ("then", job.brings),
        ("because of", job.because),
    ):
        page += wrapped(f"{name}: {', '.join(listed)}", indent=INDENT, first="    ") if listed else []
    return page + list(_cautions(job, said))


def _cautions(job: Job, said: dict[str, str]) -> Iterator[str]:
    before = [said[caution] for caution in job.cautions if caution in said]
    for caution in job.cautions:
        if caution not in said:
            said[caution] = job.id
            yield from wrapped(caution, indent=INDENT, first="    !   ")
    if before:
        yield from wrapped(f"as at {', '.join(dict.fromkeys(before))}", indent=INDENT, first="    !   ")


def _briefly(job: Job) -> list[str]:
    people = "1 person" if job.people == 1 else f"{job.people} people"
    return wrapped(f"{job.title}  ({job.id}; {job.minutes:g} min, {people})", indent=INDENT, first="    ")


def _part(part: PartNeeded) -> str:
    told = [" ".join(each for each in (part.kind, part.name) if each), part.about]
    told.append(f"tag {part.tag}" if part.tag is not UNSET else "")
    told.append(f"${part.price_usd:,.2f}" if part.price_usd is not UNSET else "")
    told.append(part.where if isinstance(part.where, str) else "not in the book of parts")
    if part.fitted:
        told.append("on already")
    elif part.in_trailer is False:
        told.append("NOT in the trailer")
    return ", ".join(each for each in told if each)


def _change(change: LeafChange) -> str:
    return f"{change.path}: {leaf(change.before)} -> {leaf(change.after)}"
