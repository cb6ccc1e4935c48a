"""The job, step by step: each step says why, shows the command a crew would type, and runs it."""

import datetime as dt
import io
import textwrap
from collections.abc import Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import msgspec

from studbook.cli import CommandFailedError, main
from studbook.cli.exit_codes import INTERRUPTED
from studbook.cli.printing import PAPER, WIDTH, bullets
from studbook.formats import read, write
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps
from studbook.wire.answers import Effects
from studbook.wire.joints import JointsAnswer
from studbook.wire.season import SeasonReport
from studbook_service.demo.comparing import freed, in_short, side_by_side

A = TypeVar("A")

STUD = "rf.upper_stud.length_in+=0.5"
PAGE = "7-baseline.toml"

# What the crew does after the what-if below, to the nearest piece in the box, and what the gauges then read.
FITTED: Mapping[str, object] = {
    "setup.front.rf.upper_stud.length_in": 1.7,
    "setup.front.rf.upper_stud.nights": 0,
    "setup.front.rf.upper_stud.part": "u-170-1",
    "setup.front.rf.upper_shims.front_in": 0.15625,
    "setup.front.rf.upper_shims.rear_in": 0.21875,
    "setup.front.rf.tie_rod.length_in": 15.0355,
    "setup.front.rf.tie_rod.outer_spacer_in": 0.4375,
    "measured.front.rf.alignment.by": "Robin",
    "measured.front.rf.alignment.camber_deg": -4.25,
    "measured.front.rf.alignment.caster_deg": 5.09,
    "measured.front.rf.alignment.toe_deg": -0.12,
}


@dataclass(frozen=True)
class Typed:
    """One step: why, and the words after `studbook`."""

    why: str
    words: tuple[str, ...]


QUESTIONS = (
    Typed("The crew's cars.", ("cars",)),
    Typed("Car 7 comes out of the book into a file, as it stands tonight.", ("pull", "7/baseline")),
    Typed(
        "It gives grip away at the right front on a slick track. What would a stud half an inch longer in the "
        "right-front upper joint do? Asking records nothing.",
        ("what-if", "7/baseline", STUD),
    ),
)
TAKEN_OFF = ("removed", "--where", "shelf")
PUT_ON = ("fitted", "--car", "7", "--corner", "rf", "--slot", "upper_stud")
RECORDED = (
    Typed(
        "The file goes into the book, on top of the revision it was pulled from.",
        ("push", PAGE, "-m", "RF upper stud +0.5 for the slick. Shims, spacer and rod to suit, read again."),
    ),
    Typed("It is the newest of the sheet's revisions; the older ones stay as they were.", ("history", "7/baseline")),
    Typed("What changed since the revision before it.", ("diff", "7/baseline~1", "7/baseline")),
    Typed("Each stud is known by its tag. One came off ...", ("shop", "new", "u-7-rf", *TAKEN_OFF)),
    Typed("... and one went on; their laps follow from where they were.", ("shop", "new", "u-170-1", *PUT_ON)),
)
WANTING = Typed(
    "Car 12 had contact on its last night. What its studs have run, and what comes before it goes out again:",
    ("part", "list", "--kind", "stud", "--car", "12"),
)
WORK = Typed(
    "Could three people put its dry-slick setup on in forty minutes? Who does what when, and what does not fit:",
    ("work", "12/dry-slick", "--since", "12/dry-slick~1", "--crew", "3", "--minutes", "40"),
)
THIS_CAR = ("what-if", "7/baseline~1", STUD, "--json")
SURVEYED = ("joints", "7/baseline~17", "--json")
TONIGHT = ("joints", "7/baseline", "--json")
SEASON = ("season", "--json")
OTHER_CAR = ("what-if", "12/baseline", STUD, "--json")


def walk(*, folder: Path, today: dt.date) -> None:
    """Walk the job on a loaded book; STUDBOOK_URL and STUDBOOK_TOKEN name it, as for any command.

    Args:
        folder: the working folder, into which the setup is pulled.
        today: the day that is written beside readings.

    Raises:
        CommandFailedError: a command of the walk did not end well.
        KeyboardInterrupt: the walk was interrupted.
    """
    for step in QUESTIONS:
        _show(step)
    _fit(folder / PAGE, today)
    for step in RECORDED:
        _show(step)
    _compare()
    _tight()
    _show(WANTING)
    _show(WORK)
    _season()
    say(
        "All numbers here are invented. On a real car the cautions above come first: gauge and dial, stands, lock to "
        "lock, the part makers' instructions, the series' rules; and nothing bent goes back on."
    )


def say(text: str) -> None:
    """Print something for the reader, set apart from what the commands print."""
    print(f"\n{'-' * WIDTH}\n{textwrap.fill(text, PAPER)}", flush=True)


def _show(step: Typed) -> None:
    say(step.why)
    print(_line(step.words))
    _type(step.words)


def _fit(page: Path, today: dt.date) -> None:
    """Write into the pulled file what was fitted and read."""
    say(f"The crew fits it, follows the answer, reads the wheel again, and writes into {page.name}:")
    print()
    done = {**FITTED, "measured.front.rf.alignment.at": today.isoformat()}
    for path, value in done.items():
        print(f"  {path} = {value}")
    document = read(page.read_text(encoding="utf-8"), "toml")
    changes = (FieldChange(steps(path), after=value) for path, value in done.items())
    page.write_text(write(apply(changes, document), "toml"), encoding="utf-8")


def _compare() -> None:
    say("Car 12 has other hard points. Its answer to the same stud, laid beside car 7's:")
    print(_line(OTHER_CAR))
    answers = {"car 7": _answer(THIS_CAR, Effects), "car 12": _answer(OTHER_CAR, Effects)}
    print("\n".join(side_by_side(answers)))
    print("\n".join(bullets("Assumptions on car 12", answers["car 12"].assumptions)))


def _tight() -> None:
    say(
        "At its survey car 7 had a lower joint at the right front that dragged at 48 in-lb; the crew set it free. What "
        "do tight joints cost? A few pounds at the wheel:"
    )
    print(_line(SURVEYED))
    then, now = (_answer(words, JointsAnswer) for words in (SURVEYED, TONIGHT))
    print(textwrap.fill(then.tight_joints, PAPER))
    print("\n".join(freed(then, now)))


def _season() -> None:
    say(
        "The season: ten nights and a test day. On the test day two clicks of rebound at the right front went in and "
        "out three times with nothing else changed, so the numbers carry an answer; one click between a heat and a "
        "feature does not:"
    )
    print(_line(SEASON))
    print("\n".join(in_short(_answer(SEASON, SeasonReport))))


def _answer(words: Sequence[str], kind: type[A]) -> A:
    """Type a command that answers in JSON, and read what it prints."""
    printed = io.StringIO()
    with redirect_stdout(printed):
        _type(words)
    return msgspec.json.decode(printed.getvalue(), type=kind)


def _type(words: Sequence[str]) -> None:
    code = main(words)
    if code == INTERRUPTED:
        raise KeyboardInterrupt
    if code:
        raise CommandFailedError(f"the demo's `studbook {words[0]}` ended with exit code {code}", code=code)


def _line(words: Sequence[str]) -> str:
    typed = (f'"{word}"' if " " in word else word for word in words)
    return f"\n$ studbook {' '.join(typed)}\n"
