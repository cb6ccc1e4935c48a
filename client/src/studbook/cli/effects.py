"""`studbook effects REF`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.effects_page import effects_page
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_answer
from studbook.cli.reaching import opened


def effects(
    ref: ReadRef,
    /,
    *,
    since: Annotated[str | None, Parameter(help="Against which revision; its first parent, if not given.")] = None,
    json: Json = False,
) -> None:
    """Tell what a change does to the car: at the front as fitted, and after putting it right."""
    refs = [ref] if since is None else [ref, since]
    with opened(*refs) as (book, [there, *before]):
        answer = book.effects(there, since=before[0] if before else None)
    print_answer(answer, effects_page, json=json)
