"""`studbook attitude REF --heave --roll --pitch --steer`."""

from collections.abc import Callable
from typing import Annotated, Final

from cyclopts import Parameter
from msgspec import UNSET

from studbook.cli.effects import subject_table
from studbook.cli.environment import bold, open_book
from studbook.cli.front import page_end
from studbook.cli.number_format import fixed
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.parsing import as_edits, parse_changes
from studbook.cli.printing import bullets, print_answer, table
from studbook.cli.rear import roll_center_text
from studbook.cli.weights import WHEELS, carrying
from studbook.wire.attitude import AttitudeAnswer, CarStance, WheelStance


def attitude(
    ref: Ref,
    /,
    *changes: str,
    heave: Annotated[float, Parameter(help="Rise of the chassis origin since the survey, in.")] = 0.0,
    roll: Annotated[float, Parameter(help="Since the survey, deg, + right side down.")] = 0.0,
    pitch: Annotated[float, Parameter(help="Since the survey, deg, + nose down.")] = 0.0,
    steer: Annotated[float, Parameter(help="Of the rack or center link, in, + toward the left.")] = 0.0,
    remove: Remove = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Tell how the car stands on its four wheels at an attitude; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    with open_book() as book:
        pulled = book.pull(ref)
        wanted = parse_changes(changes, remove=remove or [], document=pulled.document(), allow_unknown=allow_unknown)
        edits, removed = as_edits(wanted)
        answer = book.attitude(
            pulled.revision.id,
            heave_in=heave,
            roll_deg=roll,
            pitch_deg=pitch,
            steer_in=steer,
            edits=edits,
            remove=removed,
            allow_unknown=allow_unknown,
        )
    print_answer(answer, attitude_page, json=json)


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
    if answer.asked is not UNSET:
        page += [*_car("AT THE ATTITUDE", answer.asked), *carrying(answer.engaged, []), ""]
    page += _car("AT RIDE HEIGHT", answer.ride_height)
    page += bullets("Stops before", answer.limits) + bullets(
        "Pressed further than its curve was measured", answer.past_curve
    )
    if answer.effect is not UNSET:
        page += ["", *subject_table(answer.effect)]
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


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
        f"  front roll center {roll_center_text(car.front_roll_center)}",
        f"  rear roll center {roll_center_text(car.rear_roll_center)}",
    ]
