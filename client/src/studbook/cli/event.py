"""`studbook event`: race nights."""

from typing import Annotated

from cyclopts import App, Parameter

from studbook.cli import recording
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Note
from studbook.cli.printing import table
from studbook.wire.records import Record, typed

event = App(name="event", help="Race nights: list, show, enter, correct.")

Name = Annotated[str, Parameter(help="DATE-PLACE, such as 2026-05-02-north.")]


@event.command(name="list")
def list_(*, json: Json = False) -> None:
    """List the race nights."""
    with open_book() as book:
        none = "No race nights yet: studbook event new DATE-PLACE surface=dirt length_mi=0.375"
        recording.print_records(book.events(), _lines, json=json, none=none)


@event.command
def new(name: Name, /, *fields: str, note: Note = "", allow_unknown: AllowUnknown = False, json: Json = False) -> None:
    """Enter a race night: path=value for what is known of it; the date is that of its name.

    `studbook fields event` lists what may be known.
    """
    recording.enter("event", name, fields, given={"date": name[:10]}, note=note, allow_unknown=allow_unknown, json=json)


recording.add_commands(event, "event", "a race night")


def _lines(found: list[Record]) -> list[str]:
    rows = [
        (
            each.name,
            of.place or "",
            of.surface or "",
            f"{of.length_mi:g}" if of.length_mi else "",
            recording.state_words(each),
        )
        for each in found
        for of in [typed(each)]
    ]
    return table(("event", "place", "surface", "mi", ""), rows, right=frozenset({3}))
