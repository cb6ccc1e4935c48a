"""The command line: which commands there are, and which come from other distributions."""

import importlib.metadata
import sys
from collections.abc import Sequence
from typing import Final

from cyclopts import App, CycloptsError

from studbook.cli.environment import command_line, unsent_store
from studbook.cli.exit_codes import EXIT_CODES, USAGE, CommandFailedError, print_error

COMMANDS: Final = {
    "cars": "List the cars.",
    "car": "Enter a car, or change its name or number.",
    "sheets": "List a car's sheets.",
    "pull": "Write a setup to a file.",
    "push": "Record what you changed in a file.",
    "edit": "Record a few changes, or open the setup in your editor.",
    "carry": "Record an older or another setup again, whole or by fields.",
    "merge": "Merge the sides of a split sheet.",
    "history": "List a sheet's revisions, newest first.",
    "diff": "List what differs between two revisions.",
    "effects": "Show what a revision's change does to the car.",
    "what-if": "Show what a change would do; nothing is recorded.",
    "front": "Show how the front end stands and moves.",
    "rear": "Show how the rear axle is located, stands and moves.",
    "joints": "Show friction, swing and load of the front joints.",
    "damping": "Show spring and wheel rates, damping, bars, stagger and gearing.",
    "loads": "Show wheel weights, wheel rates, and what one step of each adjustment changes.",
    "sensitivity": "Show what one step of each perch, shim, stud and pressure changes: the wall sheet.",
    "cornering": "Show wheel loads, roll, travel and camber in a corner.",
    "perches": "Find the perch turns that reach a cross weight.",
    "attitude": "Show the car on its four wheels at a heave, roll and pitch.",
    "search": "Find the studs, shims and spacers closest to a target.",
    "check": "Compare a returned car's readings with the setup it had, and record them.",
    "weigh": "Record a scale session of settled readings.",
    "legal": "Show what the car weighs after the race, against the rules you entered.",
    "rules": "A series' limits: list, show, enter, correct.",
    "tolerances": "Show or set how far a reading may be off.",
    "log": "Note an adjustment now; make a revision of it later.",
    "work": "Make the work card of a change: jobs in order, who does what, and what fits in the time.",
    "times": "Show or set what each kind of job takes.",
    "event": "Race nights: list, show, enter, correct.",
    "outing": "Each time a car went out: list, show, enter, correct.",
    "part": "Parts by their tags: list, show, enter, correct.",
    "shop": "What was done with parts: list, show, enter, correct.",
    "season": "Report a season: what was run, what was changed, and what the changes did.",
    "export": "Write the book as tables, for DuckDB, Polars and the like.",
    "fields": "List what a setup or a record may hold: units, bounds, choices.",
    "me": "Show who you are in the book, and what your token allows.",
    "members": "The team's members and their roles: list, add, change, end.",
    "token": "Tokens of members and laptops: list, new, end, recover.",
    "shares": "What other teams may read of your book: list, new, end.",
    "sources": "What other teams share with you: list, add, forget.",
    "protect": "Let only chiefs record on a sheet.",
    "audit": "List and verify every change to members, tokens, shares and protection.",
    "unsent": "Requests that were sent and never answered: list, send again, forget.",
}
OF_THE_SERVICE: Final = (
    *(("serve",), ("migrate",), ("demo",), ("peers",), ("sync",), ("stick",), ("verify",), ("erase",)),
    ("token", "recover"),
)
"""Commands that the service adds; to `token` it adds one verb."""

OTHER_WORDS: Final = {"save": "stick write", "load": "stick read", "tokens": "token"}
"""What else people call a command, where spelling alone would suggest another."""

INSECURE_HTTP: Final = "--insecure-http"
"""Allows plain http to another machine, in any command."""

GROUP: Final = "studbook.commands"


def run(words: Sequence[str]) -> int:
    """Run the command that the words name.

    Returns:
        Exit code.

    Raises:
        CommandFailedError: the command belongs to a distribution that is not installed.
    """
    if words and words[0] in OTHER_WORDS:
        print_error(f"there is no command {words[0]}: it is `studbook {OTHER_WORDS[words[0]]}`")
        return USAGE
    if words and words[0] in COMMANDS:
        # Of every command of ours, so it stands at none; the service's `peers add` has one of its own.
        rest = [word for word in words if word != INSECURE_HTTP]
        with command_line(rest, insecure_http=len(rest) < len(words)):
            return _carried_out(rest)
    return _carried_out(words)


def _carried_out(words: Sequence[str]) -> int:
    again = None if not words or words[0] == "unsent" or words[0] not in COMMANDS else _sent_again(words)
    if again is not None:
        return again
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
        print_error(f"{' '.join(str(error).split())} (see: studbook --help)")
        return USAGE
    except SystemExit as done:
        return done.code if isinstance(done.code, int) else int(done.code is not None)
    sys.stdout.flush()
    return result if isinstance(result, int) else 0


def _sent_again(words: Sequence[str]) -> int | None:
    """Send what this line left without an answer, if it did: typed again, it is not a second request.

    Returns:
        Exit code, or None where nothing of the line is open.
    """
    if not unsent_store().folder.is_dir():
        return None
    from studbook.cli.unsent import send_line_again  # noqa: PLC0415 - hardly ever needed, and it imports most commands

    return send_line_again(words)


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
            print_error(f"the commands of {entry.value} cannot be loaded: {error}")
            continue
        register(app)
