"""`studbook sheets CAR`."""

from studbook.cli.environment import open_book
from studbook.cli.options import Json
from studbook.cli.printing import print_json, short, table, when
from studbook.wire.entries import SheetHead, Sheets


def sheets(car: str, /, *, json: Json = False) -> None:
    """List a car's sheets, each with its last revision."""
    with open_book() as book:
        found = book.sheets(car)
    if json:
        print_json(Sheets(items=found))
        return
    if not found:
        print(f"No sheets yet: studbook push FILE {car}/SHEET --new -m NOTE")
        return
    print(*table(("sheet", "revision", "when", "who", "note"), [_row(head) for head in found]), sep="\n")


def _row(head: SheetHead) -> tuple[str, ...]:
    last = max(head.tips, key=lambda tip: tip.at)
    ids = "split" if len(head.tips) > 1 else last.id[:12]
    who = last.author.name or last.author.id
    return f"{head.car}/{head.sheet}", ids, when(last.at), who, short(last.note, 60)
