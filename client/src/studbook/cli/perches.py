"""`studbook perches REF --cross`."""

from typing import Annotated, Literal

from cyclopts import Parameter

from studbook.cli.assignments import as_edits, read_changes
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.perches_page import perches_page
from studbook.cli.printing import print_answer
from studbook.wire.loads import CrossWanted
from studbook.wire.units import opt

Perch = Literal["lf", "rf", "lr", "rr"]


def perches(
    ref: Ref,
    /,
    *changes: str,
    cross: Annotated[float, Parameter(help="Cross weight to reach, percent.")],
    perch: Annotated[
        list[Perch] | None, Parameter(negative="", help="A perch that may be turned; repeat it. All four unless given.")
    ] = None,
    step: Annotated[float, Parameter(help="Turns are rounded to this: 1, 0.5, 0.25, or 0.166667 for flats.")] = 0.25,
    least_bite: Annotated[float | None, Parameter(help="Least bite wanted, lb.")] = None,
    most_bite: Annotated[float | None, Parameter(help="Most bite wanted, lb.")] = None,
    least_left: Annotated[float | None, Parameter(help="Least left percentage wanted.")] = None,
    most_left: Annotated[float | None, Parameter(help="Most left percentage wanted.")] = None,
    remove: Remove = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Tell which perch turns reach a cross weight, heights held or disturbed least; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    asked = CrossWanted(
        cross_percent=cross,
        perches=perch or ["lf", "rf", "lr", "rr"],
        step_turns=step,
        least_bite_lb=opt(least_bite),
        most_bite_lb=opt(most_bite),
        least_left_percent=opt(least_left),
        most_left_percent=opt(most_left),
    )
    with open_book() as book:
        pulled = book.pull(ref)
        wanted = read_changes(changes, remove=remove or [], document=pulled.document(), allow_unknown=allow_unknown)
        edits, removed = as_edits(wanted)
        answer = book.search_perches(
            pulled.revision.id, asked, edits=edits, remove=removed, allow_unknown=allow_unknown
        )
    print_answer(answer, perches_page, json=json)
