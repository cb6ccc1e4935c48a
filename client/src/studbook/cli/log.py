"""`studbook log CAR "RR perch +2 turns, LR pressure -1"`: what was turned, before there is time for a revision.

The revision that logs became names them in its note. Should marking them be cut off, the next `--into` marks them and
puts nothing in twice.
"""

from typing import Annotated

from cyclopts import Parameter
from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli.environment import open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import Json, Note
from studbook.cli.parsing import change_text
from studbook.cli.printing import print_json, table
from studbook.cli.push import report
from studbook.core.logbook import ADJUSTABLES
from studbook.core.references import sheet_name
from studbook.history.changes import diff
from studbook.wire.records import Record, Records, typed


def log(
    car: str,
    words: str | None = None,
    /,
    *,
    into: Annotated[str | None, Parameter(help="Make a revision of all that is logged on this sheet.")] = None,
    against: Annotated[str | None, Parameter(help="Show this sheet beside what is really on the car.")] = None,
    note: Note = "",
    json: Json = False,
) -> None:
    """Note down a line; without one, list what is in no revision yet.

    A line: changes joined by commas: corner, what, how far, unit unless it is the usual one, such as
    "RR perch +2 turns, LR pressure -1, RF rebound +2 clicks, LF shims +1/8". Of a perch + is in (tighten, raises).
    """
    if sum(each is not None for each in (words, into, against)) > 1:
        raise CommandFailedError("say one of a line to note down, --into, --against")
    with open_book() as book:
        if words is not None:
            _print([book.log(car, words)], json=json, head="Logged, in no revision yet:")
        elif into is not None:
            _take(book, _sheet(car, into), note, json=json)
        elif against is not None:
            _beside(book, _sheet(car, against))
        else:
            _print(book.open_logs(car), json=json, head="In no revision yet:")


def _sheet(car: str, name: str) -> str:
    return str(sheet_name(name if "/" in name else f"{car}/{name}"))


def _print(logs: list[Record], *, json: bool, head: str) -> None:
    if json:
        print_json(Records(items=logs))
    elif not logs:
        print(f"Nothing is open. A line may name {', '.join(ADJUSTABLES)}.")
    else:
        rows = [
            [each.name, str(record.at or "")[:16].replace("T", " "), str(record.words or "")]
            for each in logs
            for record in [typed(each)]
        ]
        print(head, *table(["log", "at", "what"], rows), sep="\n")


def _take(book: Studbook, sheet: str, note: str, *, json: bool) -> None:
    pushed = book.take_logs(sheet, note=note)
    if pushed is None:
        print(f"All that is logged was in {sheet} already; it is marked now.")
    else:
        report(pushed, json=json)


def _beside(book: Studbook, sheet: str) -> None:
    """Show the setup as recorded beside what is on the car."""
    recorded, document = book.on_the_car(sheet)
    changes = [each for each in diff(recorded.document(), document) if each.after is not UNSET]
    print(f"{sheet} at {recorded.revision.id[:12]} as recorded -> as it is on the car:")
    print(*([f"  {change_text(each)}" for each in changes] or ["  nothing differs"]), sep="\n")
