"""`studbook merge CAR/SHEET`."""

import string
import sys
from collections.abc import Sequence
from typing import Annotated, Any

from cyclopts import Parameter
from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli.diff import change_table
from studbook.cli.environment import open_book
from studbook.cli.exit_codes import STALE, CommandFailedError
from studbook.cli.options import AllowUnknown, Json, Note, SheetRef
from studbook.cli.parsing import parse_changes
from studbook.cli.printing import print_json, short, table, when, who, with_unit
from studbook.cli.push import report, stale_text
from studbook.core.errors import StaleError
from studbook.formats.cells import NotThisError, from_cell
from studbook.history.canonical import UnrecordableError, canonical
from studbook.history.leaves import dotted, steps
from studbook.wire.entries import Conflict, ConflictSide, LeafChange, Merge, Pushed, Revision, Sheet
from studbook.wire.fields import field


def merge(
    sheet: SheetRef,
    /,
    *,
    mine: Annotated[bool, Parameter(negative="", help="Take your side's values: of the one tip you wrote.")] = False,
    theirs: Annotated[bool, Parameter(negative="", help="Take the other side's: of the one tip not yours.")] = False,
    side: Annotated[str | None, Parameter(help="Take the values of the tip whose id begins so.")] = None,
    set_: Annotated[
        list[str] | None, Parameter(name="--set", negative="", help="path=value for a field; may be repeated.")
    ] = None,
    note: Note = "",
    yes: Annotated[
        bool, Parameter(name=["-y", "--yes"], negative="", help="Record a clean merge without a question.")
    ] = False,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Merge the sides of a split sheet.

    Fields that one side alone changed are taken from it. Where the sides differ you choose, unless --mine, --theirs,
    --side or --set say what to take. Nothing is recorded before you agreed, and no side is lost from the history.
    """
    if mine + theirs + (side is not None) > 1:
        raise CommandFailedError("give one of --mine, --theirs and --side")
    with open_book() as book:
        seen = book.sheet(sheet)
        if seen.split and seen.erased:
            report(_whole(book, seen, _tip(book, seen, mine=mine, theirs=theirs, side=side), note=note), json=json)
            return
        if not isinstance(seen.merge, Merge):
            print_json(seen) if json else print(f"{sheet} is not split: there is nothing to merge.")
            return
        if not json:
            print(*_side_lines(seen), *_taken(book, seen, seen.merge), sep="\n")
        wanted = parse_changes(set_ or [], remove=[], document=seen.merge.document, allow_unknown=True)
        choices = {dotted(change.path): change.after for change in wanted}
        tip = _tip(book, seen, mine=mine, theirs=theirs, side=side)
        _fill(seen.merge.conflicts, choices, tip)
        if not seen.merge.conflicts and not choices and not (yes or _agreed()):
            print("Nothing was recorded.")
            return
        try:
            pushed = _record(book, seen, choices, note=note, allow_unknown=allow_unknown)
        except StaleError as error:
            raise CommandFailedError(stale_text(book, error, "nothing was recorded"), code=STALE) from None
    report(pushed, json=json)


def _record(book: Studbook, seen: Sheet, choices: dict[str, Any], *, note: str, allow_unknown: bool) -> Pushed:
    if not choices and not note:
        return book.accept(seen)
    kept = {path: value for path, value in choices.items() if value is not UNSET}
    left_out = [path for path, value in choices.items() if value is UNSET]
    return book.settle(seen, kept, remove=left_out, note=note, allow_unknown=allow_unknown)


def _whole(book: Studbook, seen: Sheet, tip: Revision | None, *, note: str) -> Pushed:
    """Settle a split of which a side was erased, so that nothing can be merged, with all that another side holds."""
    if tip is None:
        raise CommandFailedError(
            "a side was erased, so there is no merge: take a whole side with --side ID", code=STALE
        )
    tips = [each.id for each in seen.tips]
    return book.replace(f"{seen.car}/{seen.sheet}", book.pull(tip.id).document(), note=note, parents=tips)


def _fill(conflicts: Sequence[Conflict], choices: dict[str, Any], tip: Revision | None) -> None:
    """Choose for each conflict that has no choice yet: by the tip named, else by asking."""
    left = [each for each in conflicts if not any(f"{path}.".startswith(f"{each.path}.") for path in choices)]
    if left and tip is None and not sys.stdin.isatty():
        paths = [f"  {each.path}" for each in left]
        how = "choose with --mine, --theirs, --side ID or --set path=value"
        raise CommandFailedError("\n".join(["the sides differ; nothing was recorded", *paths, how]), code=STALE)
    for conflict in left:
        if tip is None:
            choices[conflict.path] = _prompt_choice(conflict)
        else:
            choices[conflict.path] = next(each.value for each in conflict.sides if each.tip == tip.id)


def _tip(book: Studbook, seen: Sheet, *, mine: bool, theirs: bool, side: str | None) -> Revision | None:
    """Find the one tip whose values are to be taken."""
    if side is not None:
        found = [tip for tip in seen.tips if tip.id.startswith(side)]
        if len(side) < 4 or len(found) != 1:
            raise CommandFailedError(f"--side {side}: give 4 or more digits of one tip's id")
        return found[0]
    if not (mine or theirs):
        return None
    me = book.me().id
    found = [tip for tip in seen.tips if (tip.author.id == me) is mine]
    if len(found) != 1:
        how_many = f"{len(found)} of the {len(seen.tips)} tips are {'yours' if mine else 'not yours'}"
        raise CommandFailedError(f"{how_many}: name one with --side ID")
    return found[0]


def _taken(book: Studbook, seen: Sheet, merge_: Merge) -> list[str]:
    """List what each side changed of what it began as, apart from what is in conflict."""
    if len(merge_.bases) != 1:
        first, second, *_ = seen.tips
        compare = f"studbook diff {first.id[:12]} {second.id[:12]}"
        return ["", f"The sides parted at no one revision; see how they differ with: {compare}"]
    page = []
    clashing = [each.path for each in merge_.conflicts]
    for number, tip in enumerate(seen.tips):
        found = [each for each in book.diff(merge_.bases[0], tip.id).changes if not _is_within(each, clashing)]
        if found:
            page += ["", f"Taken from side {chr(ord('a') + number)}:", *(f"  {line}" for line in change_table(found))]
    return page


def _is_within(change: LeafChange, paths: Sequence[str]) -> bool:
    return any(f"{change.path}.".startswith(f"{path}.") for path in paths)


def _agreed() -> bool:
    """Ask whether to record a clean merge: one key, Enter, says yes."""
    if not sys.stdin.isatty():
        raise CommandFailedError("nothing is in conflict; say --yes to record the merge", code=STALE)
    try:
        answer = input("\nNothing is in conflict. Enter records the merge, n leaves it: ")
    except EOFError:
        answer = "n"
    return answer.strip().lower() in ("", "y", "yes")


def _side_lines(seen: Sheet) -> list[str]:
    """List the tips of a split sheet, each under its letter."""
    rows = [
        (letter, tip.id[:12], when(tip.at), who(tip.author), short(tip.note, 50))
        for letter, tip in zip(string.ascii_lowercase, seen.tips, strict=False)
    ]
    return [f"{seen.car}/{seen.sheet} is split:", *table(("side", "revision", "when", "who", "note"), rows)]


def _prompt_choice(conflict: Conflict) -> Any:
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
