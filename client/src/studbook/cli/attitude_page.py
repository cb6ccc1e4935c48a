"""How a car stands at an attitude, on one page."""

from collections.abc import Callable
from typing import Final

from msgspec import UNSET

from studbook.cli.environment import bold
from studbook.cli.front_page import closing
from studbook.cli.numbers import fixed
from studbook.cli.printing import points, table
from studbook.cli.rear_page import roll_center_said
from studbook.cli.scales_page import WHEELS, carrying
from studbook.cli.subjects_page import figures
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
    "tire squashed more in": lambda wheel: fixed(wheel.tire_deflection_in, 2),
}


def attitude_page(answer: AttitudeAnswer) -> list[str]:
    """Lay an answer out: at the attitude, beside the ride height, what stops it, and what edits do there."""
    page = []
    if answer.requested is not UNSET:
        page += [*_car("AT THE ATTITUDE", answer.requested), *carrying(answer.engaged, []), ""]
    page += _car("AT RIDE HEIGHT", answer.ride_height)
    page += points("Stops before", answer.limits) + points(
        "Pressed further than its curve was measured", answer.past_curve
    )
    if answer.effect is not UNSET:
        page += ["", *figures(answer.effect)]
    return page + closing(answer.missing, answer.assumptions, answer.cautions)


def _car(title: str, car: CarStance) -> list[str]:
    wheels = [getattr(car, name) for name in WHEELS]
    readings = READINGS if wheels[0].load_lb is UNSET else READINGS | LOADED
    rows = [[name, *(cell(wheel) for wheel in wheels)] for name, cell in readings.items()]
    side = "left" if car.steer_in > 0 else "right"
    lines = table([title, *(name.upper() for name in WHEELS)], rows, right=frozenset(range(1, 5)))
    return [
        bold(lines[0]),
        *lines[1:],
        f"  heave {car.heave_in:+.2f} in, roll {car.roll_deg:+.2f}, pitch {car.pitch_deg:+.2f} deg since the survey",
        *([f"  steering {abs(car.steer_in):.2f} in to the {side}"] if car.steer_in else []),
        f"  front roll center {roll_center_said(car.front_roll_center)}",
        f"  rear roll center {roll_center_said(car.rear_roll_center)}",
    ]
