"""`studbook front REF`."""

from studbook.cli.front_page import front_page
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_answer
from studbook.cli.reaching import opened


def front(ref: ReadRef, /, *, json: Json = False) -> None:
    """Tell how a revision's front end stands and moves."""
    with opened(ref) as (book, [there]):
        answer = book.front(there)
    print_answer(answer, front_page, json=json)
