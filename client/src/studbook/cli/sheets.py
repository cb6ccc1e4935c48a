"""`studbook sheets CAR`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.connection import open_book_of
from studbook.cli.options import Json
from studbook.cli.printing import print_rows, short, when, who
from studbook.wire.entries import SheetHead, Sheets


def sheets(car: Annotated[str, Parameter(help="The car; of a source, SOURCE:CAR.")], /, *, json: Json = False) -> None:
    """List a car's sheets, each with its last revision."""
    with open_book_of(car) as (book, [there]):
        found = book.sheets(there)
    none = f"No sheets yet: studbook push FILE {car}/SHEET --new -m NOTE"
    header = ("sheet", "revision", "when", "who", "note")
    print_rows(Sheets(items=found), header, [_row(head) for head in found], json=json, none=none)


def _row(head: SheetHead) -> tuple[str, ...]:
    last = max(head.tips, key=lambda tip: tip.at) if head.split else head.tips[0]
    ids = "split" if head.split else last.id[:12]
    return (
        f"{head.car}/{head.sheet}",
        ids,
        when(last.at),
        who(last.author),
        short(f"{'[protected] ' * head.protected}{last.note}", 60),
    )
