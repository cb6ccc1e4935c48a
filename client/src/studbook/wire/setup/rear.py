"""The rear: a beam axle on rods, as surveyed and as fitted."""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.setup.common import FieldGroup, Name, Point
from studbook.wire.setup.springing import Bar, BumpStop, DroopLimit, Mounts, Shock, Spring
from studbook.wire.setup.wheels import LoadedRadius, Tire, Wheel
from studbook.wire.units import Opt, means, within

Carrier = Annotated[
    Literal["axle", "birdcage_left", "birdcage_right"], means("the body that the rod's rear end is bolted to")
]


class SurveyedRod(FieldGroup):
    """A locating rod's two ends at the survey."""

    chassis_in: Opt[Point] = UNSET
    carrier_in: Opt[Point] = UNSET
    on: Opt[Carrier] = UNSET
    length_in: Opt[Annotated[float, within("in", 6, 60, "as measured then; the distance of its ends unless given")]] = (
        UNSET
    )


class Rod(FieldGroup):
    """A locating rod as fitted: trailing link, lateral bar or torque link."""

    chassis_hole: Opt[Name] = UNSET
    carrier_hole: Opt[Name] = UNSET
    chassis_in: Opt[Point] = UNSET
    carrier_in: Opt[Point] = UNSET
    on: Opt[Carrier] = UNSET
    length_in: Opt[Annotated[float, within("in", 6, 60)]] = UNSET
    angle_deg: Opt[Annotated[float, within("deg", -30, 40, "as read, + front end up")]] = UNSET
    kind: Opt[
        Annotated[
            Literal["rigid", "pull", "lift_arm", "leaf", "truck_arm"],
            means("a leaf or truck arm is kept in the book and not modeled"),
        ]
    ] = UNSET
    spring_rate_lb_per_in: Opt[Annotated[float, within("lb_per_in", 200, 4000, "spring or rubber in the link")]] = UNSET
    spring_preload_in: Opt[Annotated[float, within("in", 0, 3)]] = UNSET
    chain_in: Opt[Annotated[float, within("in", 0, 12, "slack of its limit chain")]] = UNSET


class SurveyedRearCorner(FieldGroup):
    """One rear wheel at the survey."""

    wheel_center_in: Opt[Point] = UNSET
    loaded_radius_in: Opt[LoadedRadius] = UNSET
    wheel_offset_in: Opt[Annotated[float, within("in", -2, 7, "of the wheel fitted at the survey, + outboard")]] = UNSET
    wheel_spacer_in: Opt[Annotated[float, within("in", 0, 2)]] = UNSET
    spring: Opt[Mounts] = UNSET
    shock: Opt[Mounts] = UNSET


class SurveyedRear(FieldGroup):
    """The rear axle and its rods, by name, at the survey."""

    lr: Opt[SurveyedRearCorner] = UNSET
    rr: Opt[SurveyedRearCorner] = UNSET
    rods: Opt[dict[str, SurveyedRod]] = UNSET


class RearCorner(FieldGroup):
    """One rear corner as fitted."""

    spring: Opt[Spring] = UNSET
    spring_base_in: Opt[Annotated[float, within("in", -40, 40, "y of the spring on the axle")]] = UNSET
    bump_stop: Opt[BumpStop] = UNSET
    droop_limit: Opt[DroopLimit] = UNSET
    shock: Opt[Shock] = UNSET
    wheel: Opt[Wheel] = UNSET
    tire: Opt[Tire] = UNSET
    lead_in: Opt[Annotated[float, within("in", -2, 3, "wheel ahead of square, + forward")]] = UNSET
    birdcage_index_deg: Opt[Annotated[float, within("deg", -45, 45)]] = UNSET
    unsprung_lb: Opt[Annotated[float, within("lb", 70, 220, "this side's half of the axle")]] = UNSET


class RearAxle(FieldGroup):
    """The axle itself."""

    pinion_deg: Opt[Annotated[float, within("deg", -15, 15, "+ nose up, relative to the chassis")]] = UNSET
    drive: Opt[Annotated[Literal["spool", "locker", "open", "limited_slip"], means("how the wheels are tied")]] = UNSET
    camber_left_deg: Opt[Annotated[float, within("deg", -3, 3)]] = UNSET
    camber_right_deg: Opt[Annotated[float, within("deg", -3, 3)]] = UNSET
    toe_left_deg: Opt[Annotated[float, within("deg", -1.5, 1.5)]] = UNSET
    toe_right_deg: Opt[Annotated[float, within("deg", -1.5, 1.5)]] = UNSET


class Rear(FieldGroup):
    """The rear as fitted."""

    lr: Opt[RearCorner] = UNSET
    rr: Opt[RearCorner] = UNSET
    axle: Opt[RearAxle] = UNSET
    rods: Opt[dict[str, Rod]] = UNSET
    bar: Opt[Bar] = UNSET
