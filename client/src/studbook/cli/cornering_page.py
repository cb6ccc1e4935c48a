"""A car in a corner, on one page."""

from collections.abc import Callable
from typing import Final

from studbook.cli.environment import bold
from studbook.cli.front_page import closing
from studbook.cli.numbers import change, fixed
from studbook.cli.printing import points, table, wrapped
from studbook.cli.scales_page import WHEELS, carrying
from studbook.wire.loads import CorneringAnswer, CornerWheel, WeightTransfer

READINGS: Final[dict[str, Callable[[CornerWheel], str]]] = {
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
PARTS: Final = {
    "total_lb": "moved left to right lb",
    "geometric_lb": "  by the links",
    "unsprung_lb": "  by unsprung weight",
    "elastic_lb": "  by springs, bars, stops",
}


def cornering_page(answer: CorneringAnswer) -> list[str]:
    """Lay an answer out: how it stands, wheel by wheel, axle by axle, and what the model leaves out."""
    wheels = [answer.wheels[name] for name in WHEELS]
    rows = [[name, *(cell(wheel) for wheel in wheels)] for name, cell in READINGS.items()]
    lines = table(["IN THE CORNER", *(name.upper() for name in WHEELS)], rows, right=frozenset(range(1, 5)))
    axles: list[WeightTransfer] = [answer.front_weight_transfer, answer.rear_weight_transfer]
    moved = table(
        ["", "front", "rear"],
        [[said, *(fixed(getattr(axle, part), 0) for axle in axles)] for part, said in PARTS.items()],
        right=frozenset({1, 2}),
    )
    stands = (
        f"roll {change(answer.roll_deg, 2)}, pitch {change(answer.pitch_deg, 2)} deg, heave"
        f" {change(answer.heave_in, 2)} in; cross {answer.cross_percent:.1f} %, bite {answer.bite_lb:.0f} lb"
    )
    return [
        f"{answer.speed_mph:.1f} mph: {answer.lateral_g:.2f} g along the track, {answer.normal_g:.2f} g square to it",
        stands,
        "",
        bold(lines[0]),
        *lines[1:],
        "",
        *moved,
        *carrying(answer.engaged, answer.lifted),
        *points("Pressed further than its curve was measured", answer.past_curve),
        "",
        *wrapped(answer.limits),
        *closing(answer.missing, answer.assumptions, answer.cautions),
    ]
