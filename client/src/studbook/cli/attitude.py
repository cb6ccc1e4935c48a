"""`studbook attitude REF --heave --roll --pitch --steer`: the car at an attitude of its chassis."""

from collections.abc import Callable
from typing import Annotated, Final

from cyclopts import Parameter
from msgspec import UNSET

from studbook.cli.effects import subject_table
from studbook.cli.environment import open_book
from studbook.cli.front import roll_center_text
from studbook.cli.number_format import fixed
from studbook.cli.options import NO_TRIAL, Json, Ref, Trial
from studbook.cli.parsing import trial_of
from studbook.cli.printing import bullets, page_end, print_answer, side_by_side
from studbook.cli.weights import WHEELS, carrying
from studbook.wire.attitude import AttitudeAnswer, CarStance, WheelStance

READINGS: Final[dict[str, Callable[[WheelStance], str]]] = {
    "wheel up in": lambda wheel: fixed(wheel.travel_in, 2),
    "camber to ground deg": lambda wheel: fixed(wheel.camber_deg, 2),
    "toe deg": lambda wheel: fixed(wheel.toe_deg, 2),
    "patch x in": lambda wheel: fixed(wheel.patch_in[0], 2),
    "patch y in": lambda wheel: fixed(wheel.patch_in[1], 2),
}
LOADED: Final[dict[str, Callable[[WheelStance], str]]] = {
    "load lb": lambda wheel: fixed(wheel.load_lb, 0),
    "more tire deflection in": lambda wheel: fixed(wheel.tire_deflection_in, 2),
}


def attitude(
    ref: Ref,
    /,
    *changes: str,
    heave: Annotated[float, Parameter(help="Rise of the chassis origin since the survey, in.")] = 0.0,
    roll: Annotated[float, Parameter(help="Since the survey, deg, + right side down.")] = 0.0,
    pitch: Annotated[float, Parameter(help="Since the survey, deg, + nose down.")] = 0.0,
    steer: Annotated[float, Parameter(help="Of the rack or center link, in, + toward the left.")] = 0.0,
    trial: Trial = NO_TRIAL,
    json: Json = False,
) -> None:
    """Show the car on its four wheels at an attitude; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    with open_book() as book:
        pulled, _, edits = trial_of(book, ref, changes, trial)
        answer = book.attitude(
            pulled.revision.id, heave_in=heave, roll_deg=roll, pitch_deg=pitch, steer_in=steer, **edits
        )
    print_answer(answer, attitude_page, json=json)


def attitude_page(answer: AttitudeAnswer) -> list[str]:
    """Lay an answer out: at the attitude, at ride height, what stops it, and what edits do there."""
    page = []
    if answer.requested is not UNSET:
        page += [*_car("AT THE ATTITUDE", answer.requested), *carrying(answer.engaged, []), ""]
    page += _car("AT RIDE HEIGHT", answer.ride_height) + bullets("Stops before", answer.limits)
    page += bullets("Pressed further than its curve was measured", answer.past_curve)
    if answer.effect is not UNSET:
        page += ["", *subject_table(answer.effect)]
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def _car(title: str, car: CarStance) -> list[str]:
    wheels: dict[str, WheelStance] = {name.upper(): getattr(car, name) for name in WHEELS}
    side = "left" if car.steer_in > 0 else "right"
    return [
        *side_by_side(title, wheels, READINGS if car.lf.load_lb is UNSET else READINGS | LOADED),
        f"  heave {car.heave_in:+.2f} in, roll {car.roll_deg:+.2f}, pitch {car.pitch_deg:+.2f} deg since the survey",
        *([f"  steering {abs(car.steer_in):.2f} in to the {side}"] if car.steer_in else []),
        f"  front roll center {roll_center_text(car.front_roll_center)}",
        f"  rear roll center {roll_center_text(car.rear_roll_center)}",
    ]
