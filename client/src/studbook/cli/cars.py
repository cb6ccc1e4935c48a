"""`studbook cars`."""

from studbook.cli.environment import open_book
from studbook.cli.options import Json
from studbook.cli.printing import print_rows
from studbook.wire.entries import Cars


def cars(*, json: Json = False) -> None:
    """List the cars."""
    with open_book() as book:
        found = book.cars()
    rows = [(each.car, each.number, each.name, "retired" if each.retired else "") for each in found]
    none = "No cars yet: studbook car add CAR --name NAME --number NUMBER"
    print_rows(Cars(items=found), ("car", "number", "name", ""), rows, json=json, none=none)
