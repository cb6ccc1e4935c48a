"""`studbook carry REF CAR/SHEET`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.environment import open_book
from studbook.cli.options import Json, Note, Ref, SheetRef
from studbook.cli.push import report


def carry(
    ref: Ref,
    sheet: SheetRef,
    /,
    *,
    note: Note = "",
    new: Annotated[bool, Parameter(negative="", help="The sheet does not exist yet.")] = False,
    json: Json = False,
) -> None:
    """Record a revision's setup again: on its own sheet that is a revert, on another a carry-over.

    Nothing is undone or lost: it is a new revision that says where its content came from.
    """
    with open_book() as book:
        pushed = book.carry(ref, sheet, note=note, new=new)
    report(pushed, json=json)
