"""What belongs to the whole car: masses, drive, brakes, rules."""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.setup.common import FieldGroup, Name, Point
from studbook.wire.units import Opt, means, within

WheelbaseLength = Annotated[float, within("in", 90, 120)]
TrackWidth = Annotated[float, within("in", 50, 76, "between the tread centers, at the ground")]


class Wheelbase(FieldGroup):
    """Wheelbase of each side; the sides of an oval car may differ."""

    left_in: Opt[WheelbaseLength] = UNSET
    right_in: Opt[WheelbaseLength] = UNSET


class Track(FieldGroup):
    """Track of each axle."""

    front_in: Opt[TrackWidth] = UNSET
    rear_in: Opt[TrackWidth] = UNSET


class CenterOfGravity(FieldGroup):
    """Center of gravity height, and how it is known."""

    height_in: Opt[Annotated[float, within("in", 10, 28)]] = UNSET
    height_sigma_in: Opt[Annotated[float, within("in", 0, 6, "one standard deviation")]] = UNSET
    known_by: Opt[Annotated[Literal["raised_axle", "tilt", "estimate"], means("measured or guessed")]] = UNSET


class BallastItem(FieldGroup):
    """One piece of ballast."""

    weight_lb: Opt[Annotated[float, within("lb", 1, 150)]] = UNSET
    position_in: Opt[Point] = UNSET
    fixing: Opt[Annotated[str, means("two bolts, not clamps", most=200)]] = UNSET
    marked: Opt[Annotated[bool, means("painted with the car's number")]] = UNSET


class FuelCell(FieldGroup):
    """The fuel tank."""

    position_in: Opt[Annotated[Point, means("middle of the fuel as it burns off", unit="in")]] = UNSET
    capacity_gal: Opt[Annotated[float, within("gal", 1, 40)]] = UNSET


class Seat(FieldGroup):
    """The driver's seat."""

    position_in: Opt[Annotated[Point, means("middle of the driver's weight", unit="in")]] = UNSET


class Drivetrain(FieldGroup):
    """Gears and engine limit."""

    ring_pinion_ratio: Opt[Annotated[float, within("ratio", 2, 8)]] = UNSET
    spur_ratio: Opt[Annotated[float, within("ratio", 0.5, 2)]] = UNSET
    final_drive_ratio: Opt[Annotated[float, within("ratio", 2, 12)]] = UNSET
    rpm_limit: Opt[Annotated[float, within("rpm", 2000, 12000)]] = UNSET


class Brakes(FieldGroup):
    """Brakes as fitted."""

    front_share_percent: Opt[Annotated[float, within("percent", 40, 80, "of the braking force, at the front")]] = UNSET
    front_caliper_on: Opt[Literal["spindle"]] = UNSET
    rear_caliper_on: Opt[
        Annotated[Literal["axle", "birdcage", "floater"], means("each has its own anti-lift line")]
    ] = UNSET
    rf_valve: Opt[Annotated[Literal["open", "closed", "none"], means("right-front cut-off valve")]] = UNSET
    pads: Opt[Name] = UNSET
    rotor_temperature_deg_f: Opt[Annotated[float, within("deg_f", 0, 2000, "highest seen, by paint or label")]] = UNSET


class Rules(FieldGroup):
    """A series' limits as the team typed them; the series' own book governs."""

    series: Opt[Name] = UNSET
    min_weight_lb: Opt[Annotated[float, within("lb", 1000, 5000)]] = UNSET
    max_left_percent: Opt[Annotated[float, within("percent", 40, 75)]] = UNSET
    max_rear_percent: Opt[Annotated[float, within("percent", 40, 75)]] = UNSET
    min_height_in: Opt[Annotated[float, within("in", 0, 12)]] = UNSET
    min_wheelbase_in: Opt[WheelbaseLength] = UNSET
    max_track_in: Opt[Annotated[float, within("in", 50, 90)]] = UNSET
    tolerance_percent: Opt[Annotated[float, within("percent", 0, 5)]] = UNSET
    fuel_rule: Opt[Annotated[str, means("burned, or filled after the race", most=400)]] = UNSET
