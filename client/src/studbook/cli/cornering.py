"""`studbook cornering REF --speed-mph --radius-ft`: the car in a left-hand corner."""

from collections.abc import Callable
from typing import Annotated, Final

from cyclopts import Parameter

from studbook.cli.environment import open_book
from studbook.cli.number_format import change, fixed
from studbook.cli.options import NO_TRIAL, Json, Ref, Trial
from studbook.cli.parsing import trial_of
from studbook.cli.printing import bullets, page_end, print_answer, side_by_side, wrapped
from studbook.cli.weights import WHEELS, carrying
from studbook.wire.loads import CorneringAnswer, CornerPath, CornerWheel, WeightTransfer
from studbook.wire.units import opt

WHEEL: Final[dict[str, Callable[[CornerWheel], str]]] = {
    "on the scales lb": lambda wheel: fixed(wheel.static_lb, 0),
    "in the corner lb": lambda wheel: fixed(wheel.load_lb, 0),
    "change lb": lambda wheel: change(wheel.change_lb, 0),
    "  by the links": lambda wheel: change(wheel.geometric_lb, 0),
    "  by unsprung weight": lambda wheel: change(wheel.unsprung_lb, 0),
    "  by springs, bars, stops": lambda wheel: change(wheel.elastic_lb, 0),
    "side force lb": lambda wheel: fixed(wheel.side_lb, 0),
    "drive lb": lambda wheel: fixed(wheel.drive_lb, 0),
    "wheel up in": lambda wheel: fixed(wheel.travel_in, 2),
    "camber to track deg": lambda wheel: fixed(wheel.camber_deg, 2),
    "  change deg": lambda wheel: fixed(wheel.camber_change_deg, 2),
}
AXLE: Final[dict[str, Callable[[WeightTransfer], str]]] = {
    "weight transfer, left to right lb": lambda axle: fixed(axle.total_lb, 0),
    "  by the links": lambda axle: fixed(axle.geometric_lb, 0),
    "  by unsprung weight": lambda axle: fixed(axle.unsprung_lb, 0),
    "  by springs, bars, stops": lambda axle: fixed(axle.elastic_lb, 0),
}


def cornering(
    ref: Ref,
    /,
    *changes: str,
    radius_ft: Annotated[float, Parameter(help="Of the path, seen from above.")],
    speed_mph: Annotated[float | None, Parameter(help="In the corner.")] = None,
    time_s: Annotated[
        float | None, Parameter(help="Instead of the speed: of a lap, or of the corner's segment.")
    ] = None,
    distance_ft: Annotated[float | None, Parameter(help="Driven in that time.")] = None,
    corner_speed_ratio: Annotated[
        float | None, Parameter(help="Speed in the corner over the mean: 1 for a segment, 0.80 to 0.95 for a lap.")
    ] = None,
    banking_deg: Annotated[float, Parameter(help="+ raised at the outside.")] = 0.0,
    drive_force_lb: Annotated[float, Parameter(help="Of both rear tires.")] = 0.0,
    drive_left_percent: Annotated[float, Parameter(help="The left rear tire's part of it.")] = 50.0,
    yaw_deg: Annotated[float, Parameter(help="+ nose to the inside, tail out.")] = 0.0,
    trial: Trial = NO_TRIAL,
    json: Json = False,
) -> None:
    """Show the car in a left-hand corner: loads, roll, travels, camber; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    path = CornerPath(
        radius_ft=radius_ft,
        speed_mph=opt(speed_mph),
        time_s=opt(time_s),
        distance_ft=opt(distance_ft),
        corner_speed_ratio=opt(corner_speed_ratio),
        banking_deg=banking_deg,
        drive_force_lb=drive_force_lb,
        drive_left_percent=drive_left_percent,
        yaw_deg=yaw_deg,
    )
    with open_book() as book:
        pulled, _, edits = trial_of(book, ref, changes, trial)
        answer = book.cornering(pulled.revision.id, path, **edits)
    print_answer(answer, cornering_page, json=json)


def cornering_page(answer: CorneringAnswer) -> list[str]:
    """Lay an answer out: the car, wheel by wheel, axle by axle, and what the model leaves out."""
    stance = (
        f"roll {change(answer.roll_deg, 2)}, pitch {change(answer.pitch_deg, 2)} deg, heave"
        f" {change(answer.heave_in, 2)} in; cross {answer.cross_percent:.1f} %, bite {answer.bite_lb:.0f} lb"
    )
    return [
        f"{answer.speed_mph:.1f} mph: {answer.lateral_g:.2f} g along the track, {answer.normal_g:.2f} g square to it",
        stance,
        "",
        *side_by_side("IN THE CORNER", {name.upper(): answer.wheels[name] for name in WHEELS}, WHEEL),
        "",
        *side_by_side("", {"front": answer.front_weight_transfer, "rear": answer.rear_weight_transfer}, AXLE),
        *carrying(answer.engaged, answer.lifted),
        *bullets("Pressed further than its curve was measured", answer.past_curve),
        "",
        *wrapped(answer.limits),
        *page_end(answer.missing, answer.assumptions, answer.cautions),
    ]
