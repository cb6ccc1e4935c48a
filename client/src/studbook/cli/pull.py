"""`studbook pull REF`."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from studbook.cli import file_origin
from studbook.cli.connection import open_book_of, reference_to, split_source
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_json
from studbook.core.pulled import Pulled
from studbook.formats import Form, FormatError, form_of, write


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
        named = f"{pulled.car}-{pulled.sheet}" if source is None else f"{source}-{pulled.car}-{pulled.sheet}"
        file = Path(output or f"{named}.{form or 'toml'}")
        put(pulled, file, form or form_by(file), source=source, force=force)
        print(f"{file}: {reference_to(pulled, source)} at {pulled.revision.id[:12]}")


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
    file.write_text(write(pulled.document(), form), encoding="utf-8", newline="")
    file_origin.save_origin(file, sheet=reference_to(pulled, source), revision=pulled.revision.id)
