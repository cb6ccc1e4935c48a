"""`studbook pull REF`."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from studbook.cli import file_origin
from studbook.cli.connection import open_book_of, reference_to, split_source
from studbook.cli.exit_codes import REFUSED, CommandFailedError
from studbook.cli.files import check_writable, write_file
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_json
from studbook.core.pulled import Pulled
from studbook.core.references import ID
from studbook.formats import Form, FormatError, form_of, write
from studbook.history.canonical import SLUG


def pull(
    ref: ReadRef,
    /,
    *,
    output: Annotated[
        str | None,
        Parameter(
            name=["-o", "--output"],
            allow_leading_hyphen=True,
            help="The file; - for standard output; CAR-SHEET.toml if not given.",
        ),
    ] = None,
    form: Annotated[Form | None, Parameter(help="By the file's ending, else toml.")] = None,
    force: Annotated[bool, Parameter(negative="", help="Write over a file that holds changes not pushed.")] = False,
    json: Json = False,
) -> None:
    """Write a setup to a file, and note beside it which revision it is."""
    with open_book_of(ref) as (book, [there]):
        pulled = book.pull(there)
    source = split_source(ref)[0]
    if not (SLUG.fullmatch(pulled.car) and SLUG.fullmatch(pulled.sheet)):
        raise CommandFailedError("what that book answers names no sheet: nothing was written", code=REFUSED)
    if json:
        print_json(
            {
                "car": pulled.car,
                "sheet": pulled.sheet,
                "tag": pulled.tag,
                "revision": pulled.revision,
                "document": pulled.document(),
            }
        )
    elif output == "-":
        print(write(pulled.document(), form or "toml"), end="")
    else:
        file = Path(output or f"{file_name(ref)}.{form or 'toml'}")
        put(pulled, file, form or form_by(file), source=source, force=force)
        print(f"{file}: {reference_to(pulled, source)} at {pulled.revision.id[:12]}")


def file_name(ref: str) -> str:
    """Name a file after what the user typed, never after what a book that may be anybody's answers.

    Example:
        >>> file_name("friend:7/baseline~2"), file_name("3f9a1c")
        ('friend-7-baseline', '3f9a1c')
    """
    source, rest = split_source(ref)
    words = [*([] if source is None else [source]), *rest.partition("~")[0].split("/")]
    named = "-".join(words)
    if not all(SLUG.fullmatch(word) or ID.fullmatch(word) for word in words):
        raise CommandFailedError(f"{ref[:80]!r} names no file: give one with -o")
    return named


def form_by(file: Path) -> Form:
    """Give a file's form by its ending.

    Raises:
        CommandFailedError: the ending is none of the three.
    """
    try:
        return form_of(file.name)
    except FormatError as error:
        raise CommandFailedError(f"{error}; or say --form") from None


def put(pulled: Pulled, file: Path, form: Form, *, source: str | None = None, force: bool) -> None:
    """Write what was pulled to a file and set its bookmark.

    Raises:
        CommandFailedError: the file holds changes that were not pushed.
    """
    if not force and file_origin.is_changed(file):
        raise CommandFailedError(f"{file} holds changes that were not pushed; pull to another file, or --force")
    check_writable(file_origin.origin_file(file))
    write_file(file, write(pulled.document(), form).encode())
    file_origin.save_origin(file, sheet=reference_to(pulled, source), revision=pulled.revision.id)
