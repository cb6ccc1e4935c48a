"""`studbook carry REF CAR/SHEET [FIELD…]`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.assignments import whole
from studbook.cli.endings import CommandFailedError
from studbook.cli.environment import open_book, open_other_book
from studbook.cli.options import Json, Note, Ref, SheetRef
from studbook.cli.push import report
from studbook.core.pulled import Pulled
from studbook.formats.cells import NotThisError
from studbook.history.leaves import dotted, steps


def carry(
    ref: Ref,
    sheet: SheetRef,
    /,
    *fields: Annotated[str, Parameter(help="A field or a group of fields to carry; everything if none is given.")],
    note: Note = "",
    new: Annotated[bool, Parameter(negative="", help="The sheet does not exist yet.")] = False,
    from_url: Annotated[str | None, Parameter(help="Address of another book to carry from.")] = None,
    from_token: Annotated[str | None, Parameter(help="Your token there; better in STUDBOOK_FROM_TOKEN.")] = None,
    json: Json = False,
) -> None:
    """Record a revision's setup again: on its own sheet that is a revert, on another a carry-over.

    Nothing is undone or lost: it is a new revision that says where its content came from.
    """
    with open_book() as book:
        if from_url:
            with open_other_book(from_url, from_token) as other:
                source = other.pull(ref)
            pushed = book.carry(source, sheet, fields=_named(fields, source), note=note, new=new)
        else:
            named = _named(fields, book.pull(ref)) if fields else []
            pushed = book.carry(ref, sheet, fields=named, note=note, new=new)
    report(pushed, json=json)


def _named(fields: tuple[str, ...], source: Pulled) -> list[str]:
    """Give the fields' full paths; a group of fields is named in full already."""
    document = source.document()
    try:
        return [dotted(whole(steps(field), document, allow_unknown=True)) for field in fields]
    except NotThisError as error:
        raise CommandFailedError(str(error)) from None
