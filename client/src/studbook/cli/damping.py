"""`studbook damping REF`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.damping_page import damping_page
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_answer
from studbook.cli.reaching import opened
from studbook.wire.damping import DampingQuery
from studbook.wire.units import opt


def damping(
    ref: ReadRef,
    /,
    *,
    stroke: Annotated[float, Parameter(help="Stroke of the shaft's cycle, in.")] = 2.0,
    frequency: Annotated[float, Parameter(help="Its cycles a second.")] = 1.0,
    radius: Annotated[float | None, Parameter(help="Radius of the turn, ft: what stagger does it need?")] = None,
    bank: Annotated[float, Parameter(help="Bank of the turn, deg.")] = 0.0,
    speed: Annotated[float | None, Parameter(help="Road speed, mph: how fast does the engine turn?")] = None,
    json: Json = False,
) -> None:
    """Tell what a revision's shocks, springs, bars, tires and gears come to."""
    asked = DampingQuery(
        stroke_in=stroke,
        frequency_hz=frequency,
        radius_ft=opt(radius),
        bank_deg=bank,
        speed_mph=opt(speed),
    )
    with opened(ref) as (book, [there]):
        answer = book.damping(there, conditions=asked)
    print_answer(answer, damping_page, json=json)
