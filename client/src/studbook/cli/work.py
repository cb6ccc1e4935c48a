"""`studbook work`: the work card of a change, and the card as it is ticked off and signed."""

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, get_args

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli import recording
from studbook.cli.connection import open_book_of
from studbook.cli.environment import bold, open_book
from studbook.cli.exit_codes import REFUSED, STALE, CommandFailedError, print_error
from studbook.cli.options import Json, Note, Ref
from studbook.cli.parsing import change_text, parse_changes
from studbook.cli.printing import bullets, headline, leaf, print_answer, table, wrapped
from studbook.cli.push import report, stale_text
from studbook.core.errors import BadDocumentError, StaleError
from studbook.core.pulled import Pulled
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import dotted, leaves
from studbook.wire.entries import LeafChange
from studbook.wire.records import Record, document_of, typed
from studbook.wire.setup.common import Corner
from studbook.wire.shop import WorkRecord
from studbook.wire.units import opt
from studbook.wire.work import INSPECTION, Job, PartNeeded, WorkCard, WorkQuery

work = App(name="work", help="The work card of a change: make, start, tick off, sign.")

Since = Annotated[str | None, Parameter(help="From which revision; its first parent, if not given.")]
Card = Annotated[str, Parameter(help="The card as it is ticked off: CAR/DATE-HHMM.")]
By = Annotated[str | None, Parameter(help="Who; you, if not given.")]


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class CardOptions:
    """What a card is made for: options that making and starting one share."""

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

    def wanted(self) -> WorkQuery:
        """Spell it for the service."""
        return WorkQuery(
            crew=self.crew,
            minutes=opt(self.minutes),
            on_stands=self.on_stands,
            measure_later=self.owe,
            priorities=",".join(self.priority or []),
            undo=self.undo,
        )


_DEFAULTS: Final = CardOptions()


@work.default
def make(
    ref: Ref,
    /,
    *,
    since: Since = None,
    options: CardOptions = _DEFAULTS,
    card: Card | None = None,
    json: Json = False,
) -> None:
    """Make the work card of a change: jobs in order, who does what, and what fits in the time."""
    wanted = options.wanted()
    wanted.card = opt(card)
    refs = [ref] if since is None else [ref, since]
    with open_book_of(*refs) as (book, [there, *before]):
        answer = book.work(there, since=before[0] if before else None, wanted=wanted)
    print_answer(answer, work_page, json=json)


@work.command
def start(
    ref: Ref,
    /,
    *,
    since: Since = None,
    options: CardOptions = _DEFAULTS,
    note: Note = "",
    json: Json = False,
) -> None:
    """Start a card in the book, to be ticked off and signed: with its planned jobs, under the time of day."""
    with open_book() as book:
        recording.report(book.start_work(ref, since=since, wanted=options.wanted(), note=note), json=json)


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
        record = typed(seen)
        _refuse_unknown(book, record, jobs)
        pulled = book.pull(into or record.revision) if measured and (into or record.revision) else None
        base = pulled.document() if pulled else {}
        read = parse_changes(measured or [], remove=(), document=base, allow_unknown=False)
        edits, gone = _ticks(seen, jobs, read, found, by=by or book.me().name)
        if record.signed_off:
            print_error(f"the card was signed off before that: studbook work sign {card}, again")
        ticked = book.change_record("work", card, edits, remove=gone, note=note, tag=seen.tag)
        recording.report(ticked, json=json)
        if found and not found["straight"] and not json:
            print_error(
                "renew what is bent, never straighten it; no card is signed off until the corner is found straight"
            )
            print_error(
                "which part it is: studbook shop new PART inspected inspected.straight=false inspected.signed_by=..."
            )
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
        record = typed(seen)
        edits: dict[str, object] = {"signed_off.at": recording.now(), "signed_off.by": by or book.me().name}
        planned = record.planned or []
        # What an earlier signature left unfinished may be done by now.
        gone = (
            ["signed_off.unfinished"] if record.signed_off and record.signed_off.unfinished and not unfinished else []
        )
        if record.planned is UNSET and record.since and record.revision:
            edits["planned"] = planned = _all_planned(book, record, card)
        if unfinished:
            open_ = [job for job in planned if job not in (record.done or {}) and not job.startswith(INSPECTION)]
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


recording.add_commands(work, "work", "a card")


def _lines(found: list[Record]) -> list[str]:
    rows = [
        (each.name, _progress(of), _signed(of), recording.state_words(each)) for each in found for of in [typed(each)]
    ]
    return table(("card", "jobs", "", ""), rows)


def _progress(card: WorkRecord) -> str:
    """Count the planned jobs that are done, and the others that are."""
    done, planned = set(card.done or {}), set(card.planned or ())
    if not planned:
        return f"{len(done)} done"
    more = f", {len(done - planned)} besides" if done - planned else ""
    return f"{len(done & planned)} of {len(planned)} done{more}"


def _signed(card: WorkRecord) -> str:
    if not card.signed_off:
        return ""
    left = len(set(card.signed_off.unfinished or ()) - set(card.done or {}))
    return f"signed by {card.signed_off.by or '?'}" + (f", {left} left unfinished" if left else "")


def _inspected(
    jobs: tuple[str, ...], *, straight: bool | None, bent: float | None, method: str | None
) -> dict[str, object]:
    """Give what an inspection found; of jobs that are none, nothing."""
    inspections = [job for job in jobs if job.startswith(INSPECTION)]
    given = not (straight is None and bent is None and method is None)
    if given and not inspections:
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
    seen: Record, jobs: Sequence[str], read: Sequence[FieldChange], found: dict[str, object], *, by: str
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


def _refuse_unknown(book: Studbook, record: WorkRecord, jobs: tuple[str, ...]) -> None:
    """Refuse misspelled jobs; an inspection may be ticked though the contact was recorded after the card's start."""
    inspections = {INSPECTION + corner for corner in get_args(Corner)}
    if not (record.revision and record.since) or set(jobs) <= {*(record.planned or ()), *inspections}:
        return
    known = {job.id for job in book.work(record.revision, since=record.since).jobs}
    for job in jobs:
        if job not in known | inspections:
            near = next(iter(difflib.get_close_matches(job, known, n=1)), None)
            hint = f"the nearest is {near}" if near else f"there are {', '.join(sorted(known)) or 'none'}"
            raise CommandFailedError(f"{job} is no job of the card; {hint}")


def _all_planned(book: Studbook, record: WorkRecord, card: str) -> list[str]:
    """Name the planned jobs of a card that was entered without them, done or not."""
    wanted = WorkQuery(crew=record.crew or WorkQuery().crew, minutes=record.available_min, card=card)
    answer = book.work(str(record.revision), since=str(record.since), wanted=wanted)
    return [job.id for job in answer.jobs if job.state in ("planned", "done")]


def _put(book: Studbook, pulled: Pulled, read: list[FieldChange], *, note: str, json: bool) -> None:
    """Record what was measured on its sheet, as `studbook edit` does."""
    before = pulled.document()
    after = apply(read, before)
    if after == before:
        print(f"All that was measured was in {pulled.car}/{pulled.sheet} already.")
        return
    try:
        pushed = book.push(pulled, after, note=note)
    except StaleError as error:
        raise CommandFailedError(
            stale_text(book, error, "the job is ticked, the sheet is as it was"), code=STALE
        ) from None
    if not json:
        print(*(change_text(change) for change in read), sep="\n")
        report(pushed, json=False)


INDENT = " " * 8
NOT_PLANNED = {"left_out": "LEFT OUT", "owed": "OWED, to be measured later", "done": "DONE"}


def work_page(card: WorkCard) -> list[str]:
    """Lay a card out: the sentences, the times, job by job, and what else is to be known."""
    planned = [job for job in card.jobs if job.state == "planned"]
    page = headline(card.headline)
    if planned:
        page += ["", *_times(planned)]
    shown: dict[str, str] = {}
    for job in planned:
        page += ["", *_job(job, shown)]
    for state, title in NOT_PLANNED.items():
        jobs = [job for job in card.jobs if job.state == state]
        page += ["", bold(title), *(line for job in jobs for line in _briefly(job))] if jobs else []
    page += bullets("Changed, and covered by no job: see by hand", [_change(each) for each in card.by_hand])
    if card.recorded:
        fields = "1 more field was" if len(card.recorded) == 1 else f"{len(card.recorded)} more fields were"
        page += ["", f"{fields} only written down (--json names them)."]
    if card.parts_price_usd is not UNSET:
        page += ["", f"Parts, as far as their prices are known: ${card.parts_price_usd:,.2f}"]
    if card.sign_first:
        page += ["", f"Inspected and signed ({', '.join(card.sign_first)}): ______________________________"]
    if planned:
        page += ["", "Card finished, signed: ______________________________"]
    return page + bullets("Assumptions", card.assumptions) + bullets("Cautions", card.cautions)


def _times(jobs: Sequence[Job]) -> list[str]:
    """Set the jobs one below the other by when they begin, people by number."""
    rows = [[f"{job.begin_min:g}", f"{job.end_min:g}", " ".join(map(str, job.who)), job.title, job.id] for job in jobs]
    lines = table(["from", "to min", "who", "job", ""], rows, right=frozenset({0, 1}))
    return [bold(lines[0]), *lines[1:]]


def _job(job: Job, shown: dict[str, str]) -> list[str]:
    """Lay one job out; a caution is written at the first job that it belongs to, which `shown` keeps."""
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
    return page + list(_cautions(job, shown))


def _cautions(job: Job, shown: dict[str, str]) -> Iterator[str]:
    before = [shown[caution] for caution in job.cautions if caution in shown]
    for caution in job.cautions:
        if caution not in shown:
            shown[caution] = job.id
            yield from wrapped(caution, indent=INDENT, first="    !   ")
    if before:
        yield from wrapped(f"as at {', '.join(dict.fromkeys(before))}", indent=INDENT, first="    !   ")


def _briefly(job: Job) -> list[str]:
    people = "1 person" if job.people == 1 else f"{job.people} people"
    return wrapped(f"{job.title}  ({job.id}; {job.minutes:g} min, {people})", indent=INDENT, first="    ")


def _part(part: PartNeeded) -> str:
    words = [" ".join(each for each in (part.kind, part.name) if each), part.about]
    words.append(f"tag {part.tag}" if part.tag is not UNSET else "")
    words.append(f"${part.price_usd:,.2f}" if part.price_usd is not UNSET else "")
    words.append(part.where if isinstance(part.where, str) else "not in the book of parts")
    if part.fitted:
        words.append("on already")
    elif part.in_trailer is False:
        words.append("NOT in the trailer")
    return ", ".join(each for each in words if each)


def _change(change: LeafChange) -> str:
    return f"{change.path}: {leaf(change.before)} -> {leaf(change.after)}"
