"""`studbook effects REF`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.effects_page import effects_page
from studbook.cli.environment import open_book
from studbook.cli.options import Json, Ref
from studbook.cli.printing import print_json


def effects(
    ref: Ref,
    /,
    *,
    since: Annotated[str | None, Parameter(help="Against which revision; its first parent, if not given.")] = None,
    json: Json = False,
) -> None:
    """Tell what a change does to the car: at the front as fitted, and after putting it right."""
    with open_book() as book:
        answer = book.effects(ref, since=since)
    if json:
        print_json(answer)
    else:
        print(*effects_page(answer), sep="\n")
