"""`studbook outing`: each time a car went out."""

from typing import Annotated

from cyclopts import App, Parameter

from studbook.blocking import Studbook
from studbook.cli import recording
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Note, Remove
from studbook.cli.printing import table
from studbook.history.canonical import Tree
from studbook.wire.records import Record, typed

outing = App(name="outing", help="Each time a car went out: list, show, enter, correct.")

Name = Annotated[str, Parameter(help="EVENT/CAR/RUN, such as 2026-05-02-north/7/heat-1.")]
At = Annotated[str | None, Parameter(help="When it went out: 19:40 of that night, or 2026-05-02T19:40.")]
Raced = Annotated[str | None, Parameter(name="--revision", help="The setup as raced: CAR/SHEET, or digits of an id.")]


@outing.command(name="list")
def list_(*, event: str | None = None, car: str | None = None, kind: str | None = None, json: Json = False) -> None:
    """List the outings, of one event, car or kind if given."""
    with open_book() as book:
        found = book.outings(event=event, car=car, kind=kind)
        none = "No such outings yet: studbook outing new EVENT/CAR/RUN kind=heat --revision CAR/SHEET"
        recording.print_records(found, _lines, json=json, none=none)


@outing.command
def new(
    name: Name,
    /,
    *fields: str,
    revision: Raced = None,
    at: At = None,
    note: Note = "",
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Enter an outing: path=value for what is known of it, such as laps=8 words.entry=tight.

    `studbook fields outing` lists what may be known.
    """
    with open_book() as book:
        given = _given(book, name, revision=revision, at=at)
    recording.enter("outing", name, fields, given=given, note=note, allow_unknown=allow_unknown, json=json)


@outing.command
def correct(
    name: Name,
    /,
    *fields: str,
    revision: Raced = None,
    at: At = None,
    remove: Remove = None,
    note: Note = "",
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Correct an outing, or settle one that was recorded twice: path=value, path+=amount."""
    with open_book() as book:
        given = _given(book, name, revision=revision, at=at)
    recording.correct(
        "outing", name, fields, given=given, remove=remove, note=note, allow_unknown=allow_unknown, json=json
    )


recording.add_commands(outing, "outing", "an outing")


def _given(book: Studbook, name: str, *, revision: str | None, at: str | None) -> Tree:
    """Write what options say; the time first, as it needs no service to be refused."""
    started: Tree = {} if at is None else {"started_at": recording.parse_time(at, night=name)}
    return started if revision is None else started | {"revision": book.resolve(revision).id}


def _lines(found: list[Record]) -> list[str]:
    rows = []
    for each in found:
        of = typed(each)
        times = of.lap_times_s or []
        laps = of.laps if isinstance(of.laps, int) else len(times) or ""
        best = f"{min(times):.2f}" if times else ""
        places = f"{of.start_place or '?'}-{of.finish_place or '?'}" if of.start_place or of.finish_place else ""
        rows.append(
            (each.name, of.kind or "", str(laps), best, places, of.track_state or "", recording.state_words(each))
        )
    header = ("outing", "kind", "laps", "best s", "places", "track", "")
    return table(header, rows, right=frozenset({2, 3}))
