"""`studbook cars`."""

from studbook.cli.environment import open_book
from studbook.cli.options import Json
from studbook.cli.printing import print_json, table
from studbook.wire.entries import Cars


def cars(*, json: Json = False) -> None:
    """List the cars."""
    with open_book() as book:
        found = book.cars()
    if json:
        print_json(Cars(items=found))
        return
    if not found:
        print("No cars yet: studbook car add CAR --name NAME --number NUMBER")
        return
    rows = [(each.car, each.number, each.name, "retired" if each.retired else "") for each in found]
    print(*table(("car", "number", "name", ""), rows), sep="\n")
