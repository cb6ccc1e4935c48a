"""`studbook sheets CAR`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.connection import open_book_of
from studbook.cli.options import Json
from studbook.cli.printing import print_json, short, table, when, who
from studbook.wire.entries import SheetHead, Sheets


def sheets(car: Annotated[str, Parameter(help="The car; of a source, SOURCE:CAR.")], /, *, json: Json = False) -> None:
    """List a car's sheets, each with its last revision."""
    with open_book_of(car) as (book, [there]):
        found = book.sheets(there)
    if json:
        print_json(Sheets(items=found))
        return
    if not found:
        print(f"No sheets yet: studbook push FILE {car}/SHEET --new -m NOTE")
        return
    print(*table(("sheet", "revision", "when", "who", "note"), [_row(head) for head in found]), sep="\n")


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
