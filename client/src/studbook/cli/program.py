"""The command line: which commands there are, and who else brings some."""

import importlib.metadata
import sys
from collections.abc import Sequence
from typing import Final

from cyclopts import App, CycloptsError

from studbook.cli.endings import EXIT_CODES, USAGE, CommandFailedError, tell

COMMANDS: Final = {
    "cars": "List the cars.",
    "car": "Enter a car, or change its name or number.",
    "sheets": "List a car's sheets.",
    "pull": "Bring a setup into a file.",
    "push": "Record what you changed in a file.",
    "edit": "Record a few changes, or open the setup in your editor.",
    "carry": "Record an older or another setup, or some fields of it, again.",
    "merge": "Bring the sides of a split sheet together.",
    "history": "List a sheet's revisions, newest first.",
    "diff": "List what differs between two revisions.",
    "effects": "Tell what a revision's change does to the car.",
    "what-if": "Tell what a change would do; nothing is recorded.",
    "front": "Tell how a revision's front end stands and moves.",
    "rear": "Tell how a revision's rear axle is held, stands and moves.",
    "joints": "Tell what the front joints cost in friction, how far they swing, and what they carry.",
    "damping": "Tell what the shocks, springs, bars, tires and gears come to.",
    "loads": "Tell what the car weighs at each wheel, and what one step of everything does.",
    "sensitivity": "Tell what one step of each perch, shim, stud and pressure does: the sheet for the wall.",
    "cornering": "Tell how the car stands in a corner: loads, roll, travels, camber.",
    "perches": "Tell which perch turns reach a cross weight.",
    "attitude": "Tell how the car stands on its four wheels at a heave, roll and pitch.",
    "search": "Search for the studs, shims and spacers that come closest to what is wanted.",
    "check": "Hold what a car reads that came back against what was left, and record it.",
    "weigh": "Record a session of settled readings on the scales.",
    "legal": "Tell what the car weighs after the race, against the rules as you typed them.",
    "rules": "A series' limits: list, show, enter, correct.",
    "tolerances": "How far a reading may be from the book before you ask why.",
    "log": "Note down what was turned, before there is time for a revision.",
    "work": "Make the work card of a change: jobs in order, who does which at once, and what fits.",
    "times": "What each kind of job takes, and your own figures over it.",
    "event": "Race nights: list, show, enter, correct.",
    "outing": "Each time a car went out: list, show, enter, correct.",
    "part": "Parts by their tags: where each is, what it has run, what wants doing.",
    "shop": "What was done with parts: fitted, removed, checked, inspected.",
    "season": "Report a season: what was run and changed, and what came of it as far as the numbers carry it.",
    "export": "Write the book as tables, for DuckDB, Polars and the like.",
    "fields": "List what a setup or a record may hold: units, bounds, choices.",
    "me": "Tell whom the book takes you for, and what your token allows.",
    "members": "Who belongs to the team, and what each may.",
    "token": "What opens the book to members, laptops included: list, make, end.",
    "shares": "What other teams may read of your book.",
    "sources": "What other teams share with you.",
    "protect": "Let only chiefs record on a sheet.",
    "audit": "Who changed when who may what.",
}
OF_THE_SERVICE: Final = (
    *(("serve",), ("migrate",), ("demo",), ("peers",), ("sync",), ("stick",), ("verify",), ("erase",)),
    ("token", "recover"),
)
"""Commands that the service brings; `token` is ours, and the service adds a verb to it."""

GROUP: Final = "studbook.commands"


def run(words: Sequence[str]) -> int:
    """Run the command that the words name.

    Returns:
        Exit code.

    Raises:
        CommandFailedError: the command belongs to a distribution that is not installed.
    """
    app = _app()
    if not words or words[0] not in COMMANDS or words[0] == "token":
        _join(app)
    for command in OF_THE_SERVICE:
        if command == tuple(words[: len(command)]) and not _has(app, command):
            raise CommandFailedError(
                f'`studbook {" ".join(command)}` comes with the service: pip install "studbook-service[embedded]"'
            )
    try:
        result = app(list(words), exit_on_error=False, print_error=False, result_action="return_value")
    except CycloptsError as error:
        tell(f"{' '.join(str(error).split())} (see: studbook --help)")
        return USAGE
    except SystemExit as done:
        return done.code if isinstance(done.code, int) else int(done.code is not None)
    sys.stdout.flush()
    return result if isinstance(result, int) else 0


def _app() -> App:
    app = App(
        name="studbook",
        help="The book of each car's setups: what it was, what changed, what the change does.",
        help_epilogue=EXIT_CODES,
        help_format="plaintext",
        version=lambda: importlib.metadata.version("studbook"),
        suppress_keyboard_interrupt=False,
    )
    for name, help_text in COMMANDS.items():
        module = name.replace("-", "_")
        app.command(f"studbook.cli.{module}:{module}", name=name, help=help_text)
    return app


def _has(app: App, command: Sequence[str]) -> bool:
    *groups, last = command
    for group in groups:
        app = app[group]
    return last in app


def _join(app: App) -> None:
    """Let other distributions add their commands."""
    for entry in importlib.metadata.entry_points(group=GROUP):
        try:
            register = entry.load()
        except ImportError as error:
            tell(f"the commands of {entry.value} cannot be loaded: {error}")
            continue
        register(app)
