"""`studbook loads REF`."""

from studbook.cli.environment import open_book
from studbook.cli.loads_page import loads_page
from studbook.cli.options import Json, Ref
from studbook.cli.printing import print_json


def loads(ref: Ref, /, *, json: Json = False) -> None:
    """Tell what a car weighs at each wheel, how stiff it is there, and what one step of everything does."""
    with open_book() as book:
        answer = book.loads(ref)
    if json:
        print_json(answer)
    else:
        print(*loads_page(answer), sep="\n")
