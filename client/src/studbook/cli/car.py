"""`studbook car add` and `studbook car change`."""

from typing import Annotated

from cyclopts import App, Parameter

from studbook.cli.environment import open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import Json, Note
from studbook.cli.printing import print_answer
from studbook.wire.entries import Car

Slug = Annotated[str, Parameter(help="The car's short name in the book, chosen once: a-z, 0-9, _ and -.")]

car = App(name="car", help="Enter a car, or change its name or number.")


@car.command
def add(slug: Slug, /, *, name: str = "", number: str = "", note: Note = "", json: Json = False) -> None:
    """Enter a car in the book."""
    with open_book() as book:
        entered = book.new_car(slug, name=name, number=number, note=note)
    report(entered, json=json)


@car.command
def change(
    slug: Slug,
    /,
    *,
    name: str | None = None,
    number: str | None = None,
    retired: bool | None = None,
    note: Note = "",
    json: Json = False,
) -> None:
    """Change a car's name or number, or retire it; what is not given stays."""
    if name is None and number is None and retired is None:
        raise CommandFailedError("say what to change: --name, --number or --retired")
    with open_book() as book:
        changed = book.change_car(slug, name=name, number=number, retired=retired, note=note)
    report(changed, json=json)


def report(shown: Car, *, json: bool) -> None:
    """Print a car as it is in the book now."""
    words = [f"car {shown.car}", f"number {shown.number}" * bool(shown.number), shown.name, "retired" * shown.retired]
    print_answer(shown, lambda _: [", ".join(word for word in words if word)], json=json)
