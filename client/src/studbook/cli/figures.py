"""The figures of a front corner and axle by name, each with how it is written."""

from collections.abc import Callable
from typing import Final

from studbook.cli.numbers import fixed, sideways, toe, toe_fraction
from studbook.wire.answers import FrontAxle, FrontState

CORNER: Final[dict[str, Callable[[FrontState], str]]] = {
    "camber deg": lambda state: fixed(state.camber_deg, 2),
    "caster deg": lambda state: fixed(state.caster_deg, 2),
    "toe deg": lambda state: fixed(state.toe_deg, 2),
    "toe in at 26 in": lambda state: toe(state.toe_in),
    "  to 1/32": lambda state: toe_fraction(state.toe_in),
    "camber gain deg/in": lambda state: fixed(state.camber_gain_deg_per_in, 2),
    "bump steer deg/in": lambda state: fixed(state.bump_steer_deg_per_in, 3),
    "bump steer in/in": lambda state: fixed(state.bump_steer_in_per_in, 3),
    "wheel up in": lambda state: fixed(state.travel_in, 2),
    "kingpin deg": lambda state: fixed(state.kingpin_deg, 2),
    "scrub in": lambda state: fixed(state.scrub_in, 2),
    "trail in": lambda state: fixed(state.trail_in, 2),
    "swing arm in": lambda state: fixed(state.swing_arm_in, 1),
    "motion ratio": lambda state: fixed(state.motion_ratio, 3),
    "wheel rate lb/in": lambda state: fixed(state.wheel_rate_lb_per_in, 0),
    "anti-dive percent": lambda state: fixed(state.anti_dive_percent, 0),
}

AXLE: Final[dict[str, Callable[[FrontAxle], str]]] = {
    "roll center up in": lambda axle: fixed(axle.roll_center.height_in, 2),
    "roll center across in": lambda axle: sideways(axle.roll_center.y_in),
    "  by side force, up in": lambda axle: fixed(axle.force_roll_center.height_in, 2),
}
