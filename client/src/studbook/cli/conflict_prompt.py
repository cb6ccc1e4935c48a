"""Choosing, field by field, between the sides of a split."""

import string
from typing import Any

from msgspec import UNSET

from studbook.cli.exit_codes import STALE, CommandFailedError
from studbook.cli.printing import short, table, when, who, with_unit
from studbook.formats.cells import NotThisError, from_cell
from studbook.history.canonical import UnrecordableError, canonical
from studbook.history.leaves import steps
from studbook.wire.entries import Conflict, ConflictSide, Revision, Sheet
from studbook.wire.fields import field


def side_lines(seen: Sheet) -> list[str]:
    """List the tips of a split sheet, each under its letter."""
    rows = [
        (letter, tip.id[:12], when(tip.at), who(tip.author), short(tip.note, 50))
        for letter, tip in zip(string.ascii_lowercase, seen.tips, strict=False)
    ]
    return [f"{seen.car}/{seen.sheet} is split:", *table(("side", "revision", "when", "who", "note"), rows)]


def prompt_choice(conflict: Conflict) -> Any:
    """Ask for the value of a field in conflict.

    Returns:
        One side's value, or one typed; UNSET to leave the field out.

    Raises:
        CommandFailedError: the user stopped.
    """
    letters = dict(zip(string.ascii_lowercase, conflict.sides, strict=False))
    unit = conflict.unit or ""
    was = "the sides began with different values" if conflict.base_unknown else f"was {with_unit(conflict.base, unit)}"
    print(f"\n{conflict.path}: {was}")
    for letter, side in letters.items():
        print(f"  {letter}  {short(with_unit(side.value, unit), 50)}  {_set_by(side)}")
    while True:
        try:
            answer = input(f"take {', '.join(letters)}, type a value, - leaves the field out, Enter stops: ").strip()
        except EOFError:
            answer = ""
        if not answer:
            raise CommandFailedError("stopped; nothing was recorded", code=STALE)
        if answer in letters:
            return letters[answer].value
        if answer == "-":
            return UNSET
        try:
            path = steps(conflict.path)
            return canonical(from_cell(answer.removeprefix("="), field(path), path))
        except (NotThisError, UnrecordableError) as error:
            print(f"  {error}")


def _set_by(side: ConflictSide) -> str:
    if not isinstance(side.set_by, Revision):
        return "as before"
    note = f": {short(side.set_by.note, 40)}" if side.set_by.note else ""
    return f"{who(side.set_by.author)}, {when(side.set_by.at)}{note}"
