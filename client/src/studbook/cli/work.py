"""`studbook work REF`: the work card."""

from typing import Annotated

from cyclopts import Parameter
from msgspec import UNSET

from studbook.cli.options import Json, Ref
from studbook.cli.printing import print_json
from studbook.cli.reaching import opened
from studbook.cli.work_page import work_page
from studbook.wire.work import WorkWanted


def work(
    ref: Ref,
    /,
    *,
    since: Annotated[str | None, Parameter(help="From which revision; its first parent, if not given.")] = None,
    crew: Annotated[int, Parameter(help="People at the car, 1 to 6.")] = 2,
    minutes: Annotated[float | None, Parameter(help="Until the car must be ready.")] = None,
    undo: Annotated[bool, Parameter(negative="", help="The way back: to the revision of --since.")] = False,
    wish: Annotated[
        list[str] | None, Parameter(negative="", help="A change or job wanted most; repeat it in order.")
    ] = None,
    owe: Annotated[
        bool, Parameter(negative="", help="Put heights, scales and bump-steer sheets off; they are owed then.")
    ] = False,
    on_stands: Annotated[bool, Parameter(negative="", help="The car stands on four stands.")] = False,
    card: Annotated[str | None, Parameter(help="The card as it is ticked off: CAR/DATE-N.")] = None,
    json: Json = False,
) -> None:
    """Make the work card of a change: jobs in order, who does which at once, and what fits in the minutes."""
    wanted = WorkWanted(
        crew=crew,
        minutes=UNSET if minutes is None else minutes,
        on_stands=on_stands,
        measure_later=owe,
        wishes=",".join(wish or []),
        undo=undo,
        card=UNSET if card is None else card,
    )
    refs = [ref] if since is None else [ref, since]
    with opened(*refs) as (book, [there, *before]):
        answer = book.work(there, since=before[0] if before else None, wanted=wanted)
    if json:
        print_json(answer)
    else:
        print(*work_page(answer), sep="\n")
