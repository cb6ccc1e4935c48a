"""`studbook check CAR`: the readings of a car that came back, before anything is touched."""

import math
import re
from typing import Annotated, Final

from cyclopts import Parameter
from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli import recording
from studbook.cli.environment import open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.number_format import change, fixed
from studbook.cli.options import Json, Note
from studbook.cli.parsing import parse_corner_weights
from studbook.cli.printing import bullets, headline, page_end, print_json, table
from studbook.history.canonical import Tree
from studbook.history.leaves import dotted, leaves
from studbook.wire.around_scales import Finding, ReturnedAnswer

TOE_BASE_IN: Final = 26.0
DIGITS: Final = {"lb": 1, "percent": 2, "deg": 2, "in": 3}
_ALIGNED: Final = re.compile(r"(?P<corner>[lr]f)\.(?P<what>(?:camber|caster|toe)_(?:deg|in))=(?P<value>.*)")


def check(
    car: str,
    /,
    *readings: str,
    left: Annotated[
        str | None, Parameter(help="The setup it had: CAR/SHEET or an id; else what it raced last.")
    ] = None,
    at: Annotated[str | None, Parameter(help="When, such as 9:30 today or 2026-05-04T09:30; now unless given.")] = None,
    to: Annotated[str | None, Parameter(help="Add to this check, CAR/DATE-HHMM, instead of a new one.")] = None,
    look: Annotated[bool, Parameter(name="--look", negative="", help="Show the findings and record nothing.")] = False,
    note: Note = "",
    json: Json = False,
) -> None:
    """Compare a returned car's readings with the setup it had, and record them.

    Readings: scales=590,503,718,629 rf.height_in=5.25 rf.camber_deg=-4.6 rf.toe_in=-0.09 (over 26 in) lr.lead_in=0.1
    rf.upper_joint.play_axial_in=0.004 basis.driver_aboard=true. A path may be shortened to its last steps.
    """
    if not readings:
        raise CommandFailedError("say what was read, such as scales=590,503,718,629 rf.camber_deg=-4.6")
    words = [_as_field(word) for word in readings if not word.startswith("scales=")]
    document = recording.build_document("check", words, given=_scales(readings))
    if to is None or at is not None:
        document["at"] = recording.now() if at is None else recording.parse_time(at)
    if to is not None and (look or to.partition("/")[0] != car):
        raise CommandFailedError(f"--to {to}: {'--look records nothing' if look else f'that is none of car {car}'}")
    with open_book() as book:
        if left is not None:
            document["revision"] = book.resolve(left).id
        answer, name = _added(book, to, document, note) if to else _compared(book, car, document, note, look=look)
    if json:
        print_json(answer)
        return
    print(*returned_page(answer), sep="\n")
    if name:
        print("", f"Recorded as check {name}.", sep="\n")


def _compared(book: Studbook, car: str, document: Tree, note: str, *, look: bool) -> tuple[ReturnedAnswer, str]:
    """Compare readings and record them; give the findings, and the check's name where it has one."""
    answer = book.try_check(car, document)
    document["revision"] = answer.revision
    return answer, "" if look else book.new_check(car, document, note=note).name


def _added(book: Studbook, name: str, document: Tree, note: str) -> tuple[ReturnedAnswer, str]:
    """Put readings into a check that was recorded; give the findings of all that is in it now."""
    edits = {dotted(path): value for path, value in leaves(document).items()}
    book.change_record("check", name, edits, note=note)
    return book.check_findings(name), name


def _scales(words: tuple[str, ...]) -> Tree | None:
    """Read the four pads, if they are given."""
    given = [word.partition("=")[2] for word in words if word.startswith("scales=")]
    if not given:
        return None
    if len(given) > 1:
        raise CommandFailedError("scales= is given twice")
    pads = zip(("lf_lb", "rf_lb", "lr_lb", "rr_lb"), parse_corner_weights(given[0]), strict=True)
    return {"measured": {"scales": dict(pads)}}


def _as_field(word: str) -> str:
    """Spell camber, caster and toe as the setup does; toe read in inches over 26 in as an angle."""
    form = _ALIGNED.fullmatch(word)
    if form is None:
        return word
    what, value = form["what"], form["value"]
    if what == "toe_in":
        try:
            what, value = "toe_deg", f"{math.degrees(math.atan(float(value) / TOE_BASE_IN)):.6f}"
        except ValueError:
            raise CommandFailedError(f"{word}: {value!r} is not a number (in)") from None
    return f"{form['corner']}.alignment.{what}={value}"


def returned_page(answer: ReturnedAnswer) -> list[str]:
    """Lay a check out: what is beyond tolerance first and in words, then every reading."""
    page = headline(answer.headline, indent="  ")
    page += ["", f"against {answer.revision[:12]}, {answer.chosen}"]
    if answer.findings:
        header = ["", "reading", "expected", "off by", "tolerance", ""]
        page += ["", *table(header, map(_row, answer.findings), right=frozenset({1, 2, 3, 4}))]
    page += bullets("Recorded since, and part of what is expected", answer.since)
    page += bullets("Not judged", answer.left_out)
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def _row(found: Finding) -> list[str]:
    digits, unit = DIGITS[found.unit], "%" if found.unit == "percent" else found.unit
    tolerance = "-" if found.tolerance is UNSET else f"{found.tolerance:.4g} {unit}"
    return [
        found.what,
        fixed(found.read, digits),
        fixed(found.expected, digits),
        change(found.difference, digits),
        tolerance,
        "LOOK" if found.beyond else "",
    ]
