"""`studbook joints REF`."""

from typing import Annotated, Literal

from cyclopts import Parameter

from studbook.cli.joints_page import joints_page
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import print_answer
from studbook.cli.reaching import opened
from studbook.wire.joints import WheelForces
from studbook.wire.units import opt


def joints(
    ref: ReadRef,
    /,
    *,
    vertical: Annotated[float | None, Parameter(help="Load on the tire, lb; the scales' unless given.")] = None,
    side: Annotated[float, Parameter(help="Side force on the tire, lb, + to the left.")] = 0.0,
    braking: Annotated[float, Parameter(help="Braking force on the tire, lb, + to the rear.")] = 0.0,
    brake: Annotated[Literal["free", "locked"] | None, Parameter(help="Locked when braking, unless said.")] = None,
    contact_inboard: Annotated[float, Parameter(help="Force on the rim, lb, + toward the car's middle.")] = 0.0,
    contact_rearward: Annotated[float, Parameter(help="Force on the rim, lb, + to the rear.")] = 0.0,
    on: Annotated[Literal["both", "lf", "rf"], Parameter(help="The wheel these forces act on.")] = "both",
    travel: Annotated[float, Parameter(help="Wheel up from where it stands, in.")] = 0.0,
    tight: Annotated[float, Parameter(help="Torque of a tight ball joint, in-lb.")] = 50.0,
    free: Annotated[float, Parameter(help="Torque of a free one, in-lb.")] = 5.0,
    json: Json = False,
) -> None:
    """Tell what a revision's front joints cost in friction, how far they swing, and what they carry."""
    forces = WheelForces(
        vertical_lb=opt(vertical),
        brake=opt(brake),
        side_lb=side,
        braking_lb=braking,
        contact_inboard_lb=contact_inboard,
        contact_rearward_lb=contact_rearward,
        on=on,
        travel_in=travel,
        tight_in_lb=tight,
        free_in_lb=free,
    )
    with opened(ref) as (book, [there]):
        answer = book.joints(there, forces=forces)
    print_answer(answer, joints_page, json=json)
