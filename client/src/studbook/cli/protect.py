"""`studbook protect CAR/SHEET`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.environment import open_book
from studbook.cli.options import Json, SheetRef
from studbook.cli.printing import print_answer


def protect(
    sheet: SheetRef,
    /,
    *,
    off: Annotated[bool, Parameter(negative="", help="Let the crew record on it again.")] = False,
    json: Json = False,
) -> None:
    """Let only chiefs record on a sheet."""
    with open_book() as book:
        found = book.unprotect(sheet) if off else book.protect(sheet)
    may = "only chiefs record" if found.protected else "the crew records"
    print_answer(found, lambda _: [f"{may} on {sheet} now"], json=json)
