"""`studbook push FILE`."""

import datetime as dt
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from studbook.blocking import Studbook
from studbook.cli import file_origin
from studbook.cli.connection import split_source
from studbook.cli.environment import open_book
from studbook.cli.exit_codes import REFUSED, STALE, CommandFailedError, error_lines
from studbook.cli.file_origin import FileOrigin
from studbook.cli.files import read_file
from studbook.cli.options import AllowUnknown, Json, Note, WasSo
from studbook.cli.printing import print_json, when, who
from studbook.cli.pull import form_by
from studbook.cli.recording import parse_time
from studbook.core.errors import BadDocumentError, NotFoundError, StaleError
from studbook.formats import Form, FormatError, lines, read
from studbook.history.canonical import Tree
from studbook.wire.entries import Pushed


def push(
    file: Path,
    sheet: Annotated[str | None, Parameter(help="CAR/SHEET; where it was pulled from, if not given.")] = None,
    /,
    *,
    note: Note = "",
    new: Annotated[bool, Parameter(negative="", help="The sheet does not exist yet.")] = False,
    replace: Annotated[
        bool, Parameter(negative="", help="Put the whole file in place of what the sheet holds now.")
    ] = False,
    at: WasSo = None,
    allow_unknown: AllowUnknown = False,
    form: Annotated[Form | None, Parameter(help="By the file's ending.")] = None,
    json: Json = False,
) -> None:
    """Record what you changed in a file since it was pulled."""
    data = read_file(file)
    form = form or form_by(file)
    try:
        tree = read(data, form)
    except FormatError as error:
        raise CommandFailedError(f"{file}: nothing was pushed\n{error}", code=REFUSED) from None
    if not tree:
        raise CommandFailedError(f"{file}: nothing was pushed\nit holds no field", code=REFUSED)
    mark = file_origin.load_origin(file)
    details = {"note": note, "at": setup_time(at), "allow_unknown": allow_unknown}
    with open_book() as book:
        book.pushes(file, data)
        try:
            pushed = _push(book, tree, mark, sheet, new=new, replace=replace, details=details)
        except StaleError as error:
            raise CommandFailedError(stale_text(book, error, f"{file} is as you left it"), code=STALE) from None
        except BadDocumentError as error:
            raise CommandFailedError(_with_lines(error, lines(data, form)), code=REFUSED) from None
    file_origin.save_origin(file, sheet=f"{pushed.revision.car}/{pushed.revision.sheet}", revision=pushed.revision.id)
    report(pushed, json=json)


def setup_time(at: str | None) -> dt.datetime | None:
    """Read since when a setup was so; None is now."""
    return None if at is None else dt.datetime.fromisoformat(parse_time(at))


def report(pushed: Pushed, *, json: bool) -> None:
    """Print what was recorded, and which values are unusual."""
    if json:
        print_json(pushed)
        return
    revision = pushed.revision
    already = "" if pushed.recorded else " (it was recorded already)"
    print(f"{revision.car}/{revision.sheet} is now {revision.id[:12]}{already}")
    for each in pushed.unusual:
        low, high = each.usual
        print(f"  unusual: {each.path} is {each.value:g} {each.unit}, mostly {low:g} to {high:g}; recorded as it is")


def stale_text(book: Studbook, error: StaleError, kept: str) -> str:
    """Describe who pushed what, and that nothing of one's own is lost."""
    tips = [book.resolve(tip) for tip in error.tips]
    return "\n".join(
        [
            f"someone pushed before you; {kept}",
            *(f"  {who(tip.author)} pushed {tip.id[:12]} at {when(tip.at)}: {tip.note or 'no note'}" for tip in tips),
            "  pull again to another file, see what they did (studbook diff), and push your changes on that",
        ]
    )


def _push(
    book: Studbook,
    tree: Tree,
    mark: FileOrigin | None,
    sheet: str | None,
    *,
    new: bool,
    replace: bool,
    details: dict[str, Any],
) -> Pushed:
    came = f"was pulled from {mark.sheet}" if mark else "was not pulled"
    foreign = mark is not None and split_source(mark.sheet)[0] is not None
    target = sheet or (mark.sheet if mark and not foreign else None)
    if target is None:
        raise CommandFailedError(f"this file {came}: say CAR/SHEET, with --new or --replace")
    carried = mark.revision if mark and mark.sheet != target else None
    if new or replace:
        record = book.new_sheet if new else book.replace
        elsewhere = foreign or (carried is not None and not _holds(book, carried))
        return record(target, tree, carried_from=carried, elsewhere=elsewhere, **details)
    if mark is None or carried:
        raise CommandFailedError(f"this file {came}: say --new, or --replace to put it in place of {target}")
    return book.push(book.pull(mark.revision), tree, **details)


def _holds(book: Studbook, revision: str) -> bool:
    """Whether the book has a revision; a file may have been pulled from another book at the same address."""
    try:
        book.resolve(revision)
    except NotFoundError:
        return False
    return True


def _with_lines(error: BadDocumentError, at: dict[str, int]) -> str:
    """Put the file's line before each fault that the service found."""
    if not error.faults:
        return "\n".join(error_lines(error))
    faults = [f"line {at[fault.path]}: {fault.detail}" if fault.path in at else fault.detail for fault in error.faults]
    return "\n".join(["nothing was pushed", *(f"  {line}" for line in faults)])
