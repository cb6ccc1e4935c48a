"""`studbook work`: the work card of a change, and the card as it is ticked off and signed."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, get_args

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli import recording
from studbook.cli.assignments import describe, read_changes
from studbook.cli.endings import REFUSED, STALE, CommandFailedError, tell
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Note, Ref, Remove
from studbook.cli.printing import leaf, print_answer, table
from studbook.cli.push import report, stale
from studbook.cli.reaching import opened
from studbook.cli.work_page import work_page
from studbook.core.errors import BadDocumentError, StaleError
from studbook.core.pulled import Pulled
from studbook.history.changes import Change, apply
from studbook.history.leaves import dotted, leaves
from studbook.wire.records import Record, document_of, typed
from studbook.wire.setup.common import Corner
from studbook.wire.shop import Work
from studbook.wire.units import opt
from studbook.wire.work import INSPECTION, WorkWanted

work = App(name="work", help="The work card of a change: make, start, tick off, sign.")

Since = Annotated[str | None, Parameter(help="From which revision; its first parent, if not given.")]
Card = Annotated[str, Parameter(help="The card as it is ticked off: CAR/DATE-HHMM.")]
By = Annotated[str | None, Parameter(help="Who; you, if not given.")]


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a card is asked for: options that making and starting one share."""

    crew: Annotated[int, Parameter(help="People at the car, 1 to 6.")] = 2
    minutes: Annotated[float | None, Parameter(help="Until the car must be ready.")] = None
    undo: Annotated[bool, Parameter(negative="", help="The way back: to the revision of --since.")] = False
    priority: Annotated[
        list[str] | None, Parameter(negative="", help="A change or job wanted most; repeat it in order.")
    ] = None
    owe: Annotated[
        bool, Parameter(negative="", help="Put heights, scales and bump-steer sheets off; they are owed then.")
    ] = False
    on_stands: Annotated[bool, Parameter(negative="", help="The car stands on four stands.")] = False

    def wanted(self) -> WorkWanted:
        """Spell it for the service."""
        return WorkWanted(
            crew=self.crew,
            minutes=opt(self.minutes),
            on_stands=self.on_stands,
            measure_later=self.owe,
            priorities=",".join(self.priority or []),
            undo=self.undo,
        )


_PLAIN: Final = Asked()


@work.default
def make(
    ref: Ref,
    /,
    *,
    since: Since = None,
    asked: Asked = _PLAIN,
    card: Card | None = None,
    json: Json = False,
) -> None:
    """Make the work card of a change: jobs in order, who does which at once, and what fits in the minutes."""
    wanted = asked.wanted()
    wanted.card = opt(card)
    refs = [ref] if since is None else [ref, since]
    with opened(*refs) as (book, [there, *before]):
        answer = book.work(there, since=before[0] if before else None, wanted=wanted)
    print_answer(answer, work_page, json=json)


@work.command
def start(
    ref: Ref,
    /,
    *,
    since: Since = None,
    asked: Asked = _PLAIN,
    note: Note = "",
    json: Json = False,
) -> None:
    """Start a card in the book, to be ticked off and signed: with its planned jobs, under the time of day."""
    with open_book() as book:
        recording.report(book.start_work(ref, since=since, wanted=asked.wanted(), note=note), json=json)


@work.command
def done(
    card: Card,
    /,
    *jobs: Annotated[str, Parameter(help="Jobs by their names on the card, such as stud-rf-upper.")],
    by: By = None,
    measured: Annotated[
        list[str] | None, Parameter(negative="", help="What was read and set: path=value; repeat it.")
    ] = None,
    into: Annotated[str | None, Parameter(help="Record what was measured on this CAR/SHEET too.")] = None,
    straight: Annotated[
        bool | None,
        Parameter(negative="--not-straight", help="Of an inspection: the whole corner is straight, or it is not."),
    ] = None,
    bent: Annotated[float | None, Parameter(help="Of an inspection: bent by so many in.")] = None,
    method: Annotated[str | None, Parameter(help="Of an inspection: how, such as 'dial, dye'.")] = None,
    note: Note = "",
    json: Json = False,
) -> None:
    """Tick jobs off a card; what was really measured is kept with the job, and with --into goes into the setup.

    Ticking inspect-CORNER is the inspection after contact, signed by whoever ticks it: say what was found.
    """
    if not jobs:
        raise CommandFailedError("say which jobs are done, by their names on the card")
    if measured and len(jobs) > 1:
        raise CommandFailedError("what was measured belongs to one job: tick the others off by themselves")
    if into and not measured:
        raise CommandFailedError("--into takes what was measured: give --measured path=value")
    found = _inspected(jobs, straight=straight, bent=bent, method=method)
    with open_book() as book:
        seen = book.record("work", card)
        told = typed(seen)
        _refuse_unknown(book, told, jobs)
        pulled = book.pull(into or told.revision) if measured and (into or told.revision) else None
        base = pulled.document() if pulled else {}
        read = read_changes(measured or [], remove=(), document=base, allow_unknown=False)
        edits, gone = _ticks(seen, jobs, read, found, by=by or book.me().name)
        if told.signed_off:
            tell(f"the card was signed off before that: studbook work sign {card}, again")
        ticked = book.change_record("work", card, edits, remove=gone, note=note, tag=seen.tag)
        recording.report(ticked, json=json)
        if found and not found["straight"] and not json:
            tell("renew what is bent, never straighten it; no card is signed off until the corner is found straight")
            tell("which part it is: studbook shop new PART inspected inspected.straight=false inspected.signed_by=...")
        if into and pulled is not None:
            _put(book, pulled, read, note=note or f"Measured at {jobs[0]}, card {card}", json=json)


@work.command
def sign(
    card: Card,
    /,
    *,
    by: By = None,
    unfinished: Annotated[
        bool, Parameter(negative="", help="Sign with planned jobs not ticked; the record says which.")
    ] = False,
    note: Note = "",
    json: Json = False,
) -> None:
    """Sign a finished card off; refused while a planned job is not ticked, or a corner is to be inspected."""
    with open_book() as book:
        seen = book.record("work", card)
        told = typed(seen)
        edits: dict[str, object] = {"signed_off.at": recording.now(), "signed_off.by": by or book.me().name}
        planned = told.planned or []
        # What an earlier signature left unfinished may be done by now.
        gone = ["signed_off.unfinished"] if told.signed_off and told.signed_off.unfinished and not unfinished else []
        if told.planned is UNSET and told.since and told.revision:
            edits["planned"] = planned = _all_planned(book, told, card)
        if unfinished:
            open_ = [job for job in planned if job not in (told.done or {}) and not job.startswith(INSPECTION)]
            edits["signed_off.unfinished"] = open_
        try:
            signed = book.change_record("work", card, edits, remove=gone, note=note, tag=seen.tag)
            recording.report(signed, json=json)
        except BadDocumentError as error:
            if all(fault.path == "signed_off.unfinished" for fault in error.faults):
                why = f"{error}\nto sign with jobs left open, which the record then names: --unfinished"
                raise CommandFailedError(why, code=REFUSED) from None
            raise


@work.command(name="list")
def list_(*, car: str | None = None, json: Json = False) -> None:
    """List the cards that were started."""
    with open_book() as book:
        found = book.records("work") if car is None else book.records("work", car=car)
        recording.print_records(found, _lines, json=json, none="No card was started yet: studbook work start REF")


@work.command
def show(card: Card, /, *, json: Json = False) -> None:
    """Show a card as it is ticked off."""
    with open_book() as book:
        recording.show(book, "work", card, json=json)


@work.command
def correct(
    card: Card,
    /,
    *fields: str,
    remove: Remove = None,
    note: Note = "",
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Correct a card, or settle one that was ticked off on two laptops: path=value."""
    recording.correct("work", card, fields, remove=remove, note=note, allow_unknown=allow_unknown, json=json)


@work.command
def history(card: Card, /, *, json: Json = False) -> None:
    """List what was recorded of a card, newest first."""
    recording.history("work", card, json=json)


def _lines(found: list[Record]) -> list[str]:
    rows = [(each.name, _progress(of), _signed(of), recording.standing(each)) for each in found for of in [typed(each)]]
    return table(("card", "jobs", "", ""), rows)


def _progress(card: Work) -> str:
    """Say how many of the planned jobs are done, and how many besides."""
    done, planned = set(card.done or {}), set(card.planned or ())
    if not planned:
        return f"{len(done)} done"
    more = f", {len(done - planned)} besides" if done - planned else ""
    return f"{len(done & planned)} of {len(planned)} done{more}"


def _signed(card: Work) -> str:
    if not card.signed_off:
        return ""
    left = len(set(card.signed_off.unfinished or ()) - set(card.done or {}))
    return f"signed by {card.signed_off.by or '?'}" + (f", {left} left unfinished" if left else "")


def _inspected(
    jobs: tuple[str, ...], *, straight: bool | None, bent: float | None, method: str | None
) -> dict[str, object]:
    """Give what an inspection found; of jobs that are none, nothing."""
    inspections = [job for job in jobs if job.startswith(INSPECTION)]
    said = not (straight is None and bent is None and method is None)
    if said and not inspections:
        raise CommandFailedError(f"--straight, --bent and --method are of an inspection, such as {INSPECTION}rf")
    if inspections and len(jobs) > 1:
        raise CommandFailedError(f"{inspections[0]} is an inspection: tick the others off by themselves")
    if not inspections:
        return {}
    if straight is None and bent is None:
        raise CommandFailedError(f"{inspections[0]}: what was found? --straight, --not-straight or --bent 0.03")
    if bent is not None and not bent > 0:
        raise CommandFailedError(f"--bent {bent:g}: by how many in? More than 0")
    if straight and bent is not None:
        raise CommandFailedError(f"--straight and --bent {bent:g}: which of them?")
    found = {"straight": bool(straight), "bent_by_in": bent, "method": method}
    return {name: value for name, value in found.items() if value is not None}


def _ticks(
    seen: Record, jobs: Sequence[str], read: Sequence[Change], found: dict[str, object], *, by: str
) -> tuple[dict[str, object], list[str]]:
    """Write ticks as edits of a card; with them goes what an inspection before found and this one did not."""
    edits: dict[str, object] = {}
    for job in jobs:
        edits |= {f"done.{job}.at": recording.now(), f"done.{job}.by": by}
        if read:
            edits[f"done.{job}.measured"] = [f"{dotted(each.path)}={leaf(each.after)}" for each in read]
    if not found:
        return edits, []
    group = f"done.{jobs[0]}.inspected."
    edits |= {group + name: value for name, value in (found | {"signed_by": by}).items()}
    before = (dotted(path) for path in leaves(document_of(seen)))
    return edits, [path for path in before if path.startswith(group) and path not in edits]


def _refuse_unknown(book: Studbook, told: Work, jobs: tuple[str, ...]) -> None:
    """Refuse slips of the pen; a corner's inspection may be ticked though contact was told after the card's start."""
    inspections = {INSPECTION + corner for corner in get_args(Corner)}
    if not (told.revision and told.since) or set(jobs) <= {*(told.planned or ()), *inspections}:
        return
    known = {job.id for job in book.work(told.revision, since=told.since).jobs}
    for job in jobs:
        if job not in known | inspections:
            near = next(iter(difflib.get_close_matches(job, known, n=1)), None)
            hint = f"the nearest is {near}" if near else f"there are {', '.join(sorted(known)) or 'none'}"
            raise CommandFailedError(f"{job} is no job of the card; {hint}")


def _all_planned(book: Studbook, told: Work, card: str) -> list[str]:
    """Name the planned jobs of a card that was entered without them, done or not."""
    wanted = WorkWanted(crew=told.crew or WorkWanted().crew, minutes=told.available_min, card=card)
    answer = book.work(str(told.revision), since=str(told.since), wanted=wanted)
    return [job.id for job in answer.jobs if job.state in ("planned", "done")]


def _put(book: Studbook, pulled: Pulled, read: list[Change], *, note: str, json: bool) -> None:
    """Record what was measured on its sheet, as `studbook edit` does."""
    before = pulled.document()
    after = apply(read, before)
    if after == before:
        print(f"All that was measured was in {pulled.car}/{pulled.sheet} already.")
        return
    try:
        pushed = book.push(pulled, after, note=note)
    except StaleError as error:
        raise CommandFailedError(stale(book, error, "the job is ticked, the sheet is as it was"), code=STALE) from None
    if not json:
        print(*(describe(change) for change in read), sep="\n")
        report(pushed, json=False)
