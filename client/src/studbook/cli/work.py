"""`studbook work`: the work card of a change, and the card as it is ticked off and signed."""

import datetime as dt
import difflib
from typing import Annotated, get_args

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli import recording
from studbook.cli.assignments import describe, read_changes
from studbook.cli.endings import STALE, CommandFailedError
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Note, Ref, Remove
from studbook.cli.printing import leaf, print_json, table
from studbook.cli.push import report, stale
from studbook.cli.reaching import opened
from studbook.cli.work_page import work_page
from studbook.core.errors import StaleError
from studbook.core.keeping import free_name
from studbook.core.pulled import Pulled
from studbook.history.changes import Change, apply
from studbook.history.leaves import dotted
from studbook.wire.records import Record, typed
from studbook.wire.setup.common import Corner
from studbook.wire.work import INSPECTION, WorkWanted

work = App(name="work", help="The work card of a change: make, start, tick off, sign.")

Since = Annotated[str | None, Parameter(help="From which revision; its first parent, if not given.")]
Crew = Annotated[int, Parameter(help="People at the car, 1 to 6.")]
Minutes = Annotated[float | None, Parameter(help="Until the car must be ready.")]
Undo = Annotated[bool, Parameter(negative="", help="The way back: to the revision of --since.")]
Card = Annotated[str, Parameter(help="The card as it is ticked off: CAR/DATE-N.")]
By = Annotated[str | None, Parameter(help="Who; you, if not given.")]


@work.default
def make(
    ref: Ref,
    /,
    *,
    since: Since = None,
    crew: Crew = 2,
    minutes: Minutes = None,
    undo: Undo = False,
    wish: Annotated[
        list[str] | None, Parameter(negative="", help="A change or job wanted most; repeat it in order.")
    ] = None,
    owe: Annotated[
        bool, Parameter(negative="", help="Put heights, scales and bump-steer sheets off; they are owed then.")
    ] = False,
    on_stands: Annotated[bool, Parameter(negative="", help="The car stands on four stands.")] = False,
    card: Annotated[str | None, Parameter(help="The card as it is ticked off: CAR/DATE-N.")] = None,
    json: Json = False,
) -> None:
    """Make the work card of a change: jobs in order, who does which at once, and what fits in the minutes."""
    wanted = WorkWanted(
        crew=crew,
        minutes=UNSET if minutes is None else minutes,
        on_stands=on_stands,
        measure_later=owe,
        wishes=",".join(wish or []),
        undo=undo,
        card=UNSET if card is None else card,
    )
    refs = [ref] if since is None else [ref, since]
    with opened(*refs) as (book, [there, *before]):
        answer = book.work(there, since=before[0] if before else None, wanted=wanted)
    if json:
        print_json(answer)
    else:
        print(*work_page(answer), sep="\n")


@work.command
def start(
    ref: Ref,
    /,
    *,
    since: Since = None,
    crew: Crew = 2,
    minutes: Minutes = None,
    undo: Undo = False,
    note: Note = "",
    json: Json = False,
) -> None:
    """Start a card in the book, to be ticked off and signed: under the next free number of the day."""
    with open_book() as book:
        car = book.pull(ref).car
        asked = WorkWanted(crew=crew, minutes=UNSET if minutes is None else minutes, undo=undo)
        answer = book.work(ref, since=since, wanted=asked)
        document: dict[str, object] = {"since": answer.since, "revision": answer.revision, "crew": crew}
        if minutes is not None:
            document["available_min"] = minutes
        taken = {each.name for each in book.records("work", car=car)}
        name = free_name(f"{car}/{dt.datetime.now().astimezone().date()}-", taken)
        recording.report(book.new_record("work", name, document, note=note), json=json)


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
    note: Note = "",
    json: Json = False,
) -> None:
    """Tick jobs off a card; what was really measured is kept with the job, and with --into goes into the setup."""
    if not jobs:
        raise CommandFailedError("say which jobs are done, by their names on the card")
    if measured and len(jobs) > 1:
        raise CommandFailedError("what was measured belongs to one job: tick the others off by themselves")
    if into and not measured:
        raise CommandFailedError("--into takes what was measured: give --measured path=value")
    with open_book() as book:
        seen = book.record("work", card)
        told = typed(seen)
        _refuse_unknown(book, told.revision or None, told.since or None, jobs)
        pulled = book.pull(into or told.revision) if measured and (into or told.revision) else None
        base = pulled.document() if pulled else {}
        read = read_changes(measured or [], remove=(), document=base, allow_unknown=False)
        edits: dict[str, object] = {}
        for job in jobs:
            edits |= {f"done.{job}.at": recording.now(), f"done.{job}.by": by or book.me().name}
            if read:
                edits[f"done.{job}.measured"] = [f"{dotted(each.path)}={leaf(each.after)}" for each in read]
        ticked = book.change_record("work", card, edits, note=note, tag=seen.tag)
        recording.report(ticked, json=json)
        if into and pulled is not None:
            _put(book, pulled, read, note=note or f"Measured at {jobs[0]}, card {card}", json=json)


@work.command
def sign(card: Card, /, *, by: By = None, note: Note = "", json: Json = False) -> None:
    """Sign a finished card off; refused while an inspection after contact is not ticked."""
    with open_book() as book:
        signed = {"signed_off.at": recording.now(), "signed_off.by": by or book.me().name}
        recording.report(book.change_record("work", card, signed, note=note), json=json)


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
    rows = [
        (
            each.name,
            f"{len(of.done or {})} done",
            f"signed by {of.signed_off.by or '?'}" if of.signed_off else "",
            recording.standing(each),
        )
        for each in found
        for of in [typed(each)]
    ]
    return table(("card", "jobs", "", ""), rows)


def _refuse_unknown(book: Studbook, revision: str | None, since: str | None, jobs: tuple[str, ...]) -> None:
    """Refuse slips of the pen; a corner's inspection may be ticked though it was recorded of the part already."""
    if revision is None or since is None:
        return
    known = {job.id for job in book.work(revision, since=since).jobs}
    for job in jobs:
        if job not in known | {INSPECTION + corner for corner in get_args(Corner)}:
            near = next(iter(difflib.get_close_matches(job, known, n=1)), None)
            hint = f"the nearest is {near}" if near else f"there are {', '.join(sorted(known)) or 'none'}"
            raise CommandFailedError(f"{job} is no job of the card; {hint}")


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
