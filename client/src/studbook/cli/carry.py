"""`studbook carry REF CAR/SHEET [FIELD…]`."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from studbook.blocking import Studbook
from studbook.cli.connection import open_book_of, split_source
from studbook.cli.environment import foreign_token, insecure_http, open_book, timeout_s
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import Json, Note, ReadRef, SheetRef, TokenFile
from studbook.cli.parsing import full_path
from studbook.cli.push import report
from studbook.core.address import checked_address
from studbook.core.pulled import Pulled
from studbook.formats.cells import NotThisError
from studbook.history.leaves import dotted, steps


def carry(
    ref: ReadRef,
    sheet: SheetRef,
    /,
    *fields: Annotated[str, Parameter(help="A field or a group of fields to carry; everything if none is given.")],
    note: Note = "",
    new: Annotated[bool, Parameter(negative="", help="The sheet does not exist yet.")] = False,
    from_url: Annotated[str | None, Parameter(help="Address of another book to carry from.")] = None,
    token_file: TokenFile = None,
    json: Json = False,
) -> None:
    """Record a revision's setup again: on its own sheet that is a revert, on another a carry-over.

    Nothing is undone or lost: it is a new revision that says where its content came from, also when that is another
    team's book: a source's (SOURCE:CAR/SHEET), or the one at --from-url.
    """
    with open_book() as book:
        source = _elsewhere(ref, from_url, token_file)
        if source is not None:
            pushed = book.carry(source, sheet, fields=_named(fields, source), note=note, new=new)
        else:
            named = _named(fields, book.pull(ref)) if fields else []
            pushed = book.carry(ref, sheet, fields=named, note=note, new=new)
    report(pushed, json=json)


def _elsewhere(ref: str, url: str | None, token_file: Path | None) -> Pulled | None:
    """Bring a setup from another team's book, when it is from there."""
    if url:
        address = checked_address(url, insecure_http=insecure_http())
        token = foreign_token(token_file, url=url)
        with Studbook(address, token, timeout_s=timeout_s(), insecure_http=insecure_http()) as book:
            return book.pull(ref)
    if split_source(ref)[0] is not None:
        with open_book_of(ref) as (book, [there]):
            return book.pull(there)
    return None


def _named(fields: tuple[str, ...], source: Pulled) -> list[str]:
    """Give the fields' full paths; a group of fields is named in full already."""
    document = source.document()
    try:
        return [dotted(full_path(steps(field), document, allow_unknown=True)) for field in fields]
    except NotThisError as error:
        raise CommandFailedError(str(error)) from None
