"""`studbook front REF`."""

from studbook.cli.environment import open_book
from studbook.cli.front_page import front_page
from studbook.cli.options import Json, Ref
from studbook.cli.printing import print_json


def front(ref: Ref, /, *, json: Json = False) -> None:
    """Tell how a revision's front end stands and moves."""
    with open_book() as book:
        answer = book.front(ref)
    if json:
        print_json(answer)
    else:
        print(*front_page(answer), sep="\n")
