"""Shapes that many parts of a setup share: text, points, directions, who measured when."""

from typing import Annotated, Literal

import msgspec
from msgspec import UNSET

from studbook.wire.units import Opt, exactly, means, within

Text = Annotated[str, means("free text", most=4000)]
Name = Annotated[str, means("a short name", most=200)]
When = Annotated[
    str,
    msgspec.Meta(
        description="date, or date and time, as ISO 8601 has it (2026-05-02 or 2026-05-02T18:30)",
        pattern=r"^\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2})?(Z|[+-]\d{2}:\d{2})?)?$",
    ),
]

X = Annotated[float, within("in", -160, 60)]
Y = Annotated[float, within("in", -60, 60)]
Z = Annotated[float, within("in", -12, 60)]

Point = Annotated[
    tuple[X, Y, Z],
    means("x forward, y left, z up; origin on the ground on the chassis datum line, below the front axle", unit="in"),
]
GroundPoint = Annotated[tuple[X, Y], means("x forward, y left, where a height is read", unit="in")]
Direction = Annotated[
    list[Annotated[float, within("ratio", -1, 1)]],
    exactly(3, "a direction x, y, z; its length does not matter", unit="ratio"),
]
Shift = Annotated[
    list[Annotated[float, within("in", -4, 4)]],
    exactly(3, "how far a pivot was moved from where it was surveyed: x, y, z", unit="in"),
]
Sizes = Annotated[list[Annotated[float, within("in", 0.001, 4)]], means("sizes in the box", unit="in", most=32)]

Side = Literal["lf", "rf"]
Corner = Literal["lf", "rf", "lr", "rr"]


class FieldGroup(msgspec.Struct, omit_defaults=True, kw_only=True):
    """Base of every group of a setup: all fields optional, unknown ones kept in the tree beside it."""


class Basis(FieldGroup):
    """What was aboard and set when something was read; a reading without it can be compared with nothing."""

    driver_aboard: Opt[Annotated[bool, means("driver, or ballast for the driver, in the seat")]] = UNSET
    driver_weight_lb: Opt[Annotated[float, within("lb", 90, 350, "driver with suit and helmet")]] = UNSET
    fuel_gal: Opt[Annotated[float, within("gal", 0, 40, "fuel aboard", usual=(0, 30))]] = UNSET
    fuel_lb: Opt[Annotated[float, within("lb", 0, 270, "fuel aboard by weight")]] = UNSET
    fuel_lb_per_gal: Opt[Annotated[float, within("lb_per_gal", 5.5, 8.5, "ask; it differs by fuel")]] = UNSET
    bar_hooked: Opt[Annotated[bool, means("anti-roll bar linked when read")]] = UNSET
    pads_level: Opt[Annotated[bool, means("scale pads or floor leveled")]] = UNSET
    pressures_set: Opt[Annotated[bool, means("tire pressures and stagger set first")]] = UNSET
    rolled_and_bounced: Opt[Annotated[bool, means("suspension settled before reading")]] = UNSET
    steering_straight: Opt[Annotated[bool, means("steering held straight ahead")]] = UNSET
    floor: Opt[Annotated[str, means("shop pads, pit dirt: how far the reading may be trusted", most=200)]] = UNSET


class Height(FieldGroup):
    """A ride height at a named place of the chassis."""

    height_in: Opt[Annotated[float, within("in", 1, 24, "from the ground up", usual=(2, 12))]] = UNSET
    at_in: Opt[GroundPoint] = UNSET
    measured_to: Opt[Annotated[str, means("what the tape touches", most=200)]] = UNSET


class Heights(FieldGroup):
    """Ride heights of the four corners."""

    lf: Opt[Height] = UNSET
    rf: Opt[Height] = UNSET
    lr: Opt[Height] = UNSET
    rr: Opt[Height] = UNSET


class Alignment(FieldGroup):
    """Camber, caster and toe of one wheel."""

    camber_deg: Opt[Annotated[float, within("deg", -12, 10, "+ top of the wheel outboard", usual=(-7, 8))]] = UNSET
    caster_deg: Opt[Annotated[float, within("deg", -4, 12, "+ top of the steer axis rearward")]] = UNSET
    toe_deg: Opt[Annotated[float, within("deg", -1.5, 1.5, "+ toe-in, this wheel", usual=(-0.5, 0.5))]] = UNSET
