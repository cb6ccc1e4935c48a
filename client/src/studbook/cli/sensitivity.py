"""`studbook sensitivity REF`: the sheet for the wall."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_json
from studbook.cli.reaching import opened
from studbook.cli.sensitivity_page import sensitivity_page, wall_page
from studbook.wire.around_scales import SensitivityQuery


def sensitivity(
    ref: ReadRef,
    /,
    *,
    turns: Annotated[float, Parameter(help="Of each perch.")] = 1.0,
    shim: Annotated[float, Parameter(help="At both upper pivots, in.")] = 0.125,
    stud: Annotated[float, Parameter(help="Longer, in.")] = 0.5,
    psi: Annotated[float, Parameter(help="More.")] = 1.0,
    for_print: Annotated[
        bool, Parameter(name="--print", negative="", help="One page to print: what it is of, and nothing else.")
    ] = False,
    json: Json = False,
) -> None:
    """Tell what one step of each perch, shim, stud and pressure does: cross, bite, heights, camber, toe."""
    asked = SensitivityQuery(perch_turns=turns, shim_in=shim, stud_in=stud, pressure_psi=psi)
    with opened(ref) as (book, [there]):
        revision = book.resolve(there)
        answer = book.sensitivity(revision.id, sizes=asked)
    if json:
        print_json(answer)
    elif for_print:
        print(*wall_page(answer, revision), sep="\n")
    else:
        print(*sensitivity_page(answer), sep="\n")
