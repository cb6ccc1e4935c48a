"""`studbook loads REF`."""

from studbook.cli.loads_page import loads_page
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_answer
from studbook.cli.reaching import opened


def loads(ref: ReadRef, /, *, json: Json = False) -> None:
    """Tell what a car weighs at each wheel, how stiff it is there, and what one step of everything does."""
    with opened(ref) as (book, [there]):
        answer = book.loads(there)
    print_answer(answer, loads_page, json=json)
