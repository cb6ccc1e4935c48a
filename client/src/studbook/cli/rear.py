"""`studbook rear REF`."""

from studbook.cli.environment import open_book
from studbook.cli.options import Json, Ref
from studbook.cli.printing import print_json
from studbook.cli.rear_page import rear_page


def rear(ref: Ref, /, *, json: Json = False) -> None:
    """Tell how a revision's rear axle is held by its rods, stands, and moves over bump and axle roll."""
    with open_book() as book:
        answer = book.rear(ref)
    if json:
        print_json(answer)
    else:
        print(*rear_page(answer), sep="\n")
