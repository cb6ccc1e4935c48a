"""`studbook rear REF`."""

from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_answer
from studbook.cli.reaching import opened
from studbook.cli.rear_page import rear_page


def rear(ref: ReadRef, /, *, json: Json = False) -> None:
    """Tell how a revision's rear axle is held by its rods, stands, and moves over bump and axle roll."""
    with opened(ref) as (book, [there]):
        answer = book.rear(there)
    print_answer(answer, rear_page, json=json)
