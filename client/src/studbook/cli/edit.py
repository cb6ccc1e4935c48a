"""`studbook edit CAR/SHEET`."""

import shutil
import subprocess
import tempfile
from pathlib import Path

from studbook.cli import file_origin
from studbook.cli.environment import editor, open_book
from studbook.cli.exit_codes import STALE, CommandFailedError, print_error
from studbook.cli.options import AllowUnknown, Json, Note, Remove, SheetRef, WasSo
from studbook.cli.parsing import change_text, parse_changes
from studbook.cli.pull import put
from studbook.cli.push import push, report, setup_time, stale_text
from studbook.core.errors import StaleError, StudbookError
from studbook.core.pulled import Pulled
from studbook.history.changes import apply


def edit(
    sheet: SheetRef,
    /,
    *changes: str,
    remove: Remove = None,
    note: Note = "",
    at: WasSo = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Record a few changes: path=value, path+=amount, path-=amount; none opens the setup in your editor.

    A path may be shortened to its last steps where one field alone ends so: rf.upper_stud.length_in+=0.5
    """
    with open_book() as book:
        pulled = book.pull(sheet)
        if not changes and not remove:
            _in_editor(pulled, note=note, at=at, allow_unknown=allow_unknown, json=json)
            return
        document = pulled.document()
        wanted = parse_changes(changes, remove=remove or [], document=document, allow_unknown=allow_unknown)
        try:
            after = apply(wanted, document)
            pushed = book.push(pulled, after, note=note, at=setup_time(at), allow_unknown=allow_unknown)
        except StaleError as error:
            raise CommandFailedError(stale_text(book, error, "nothing was recorded"), code=STALE) from None
    if not json:
        print(*(change_text(change) for change in wanted), sep="\n")
    report(pushed, json=json)


def _in_editor(pulled: Pulled, *, note: str, at: str | None, allow_unknown: bool, json: bool) -> None:
    """Let the user change the setup as TOML; the text is kept until it is recorded."""
    words = editor()
    folder = Path(tempfile.mkdtemp(prefix="studbook-"))
    file = folder / f"{pulled.car}-{pulled.sheet}.toml"
    put(pulled, file, "toml", force=False)
    try:
        subprocess.run([*words, str(file)], check=True)  # noqa: S603 - the user's own editor
    except (OSError, subprocess.CalledProcessError) as error:
        raise CommandFailedError(f"the editor failed: {error}") from None
    if file_origin.is_changed(file):
        try:
            push(file, note=note, at=at, allow_unknown=allow_unknown, json=json)
        except (CommandFailedError, StudbookError):
            print_error(f"your text is kept: mend it, then studbook push {file} -m NOTE")
            raise
    else:
        print("Nothing was changed.")
    shutil.rmtree(folder)
