"""What the engine answers about a rear axle on its rods.

Signs: bump + wheel centers' midpoint up against the chassis, axle roll + right wheel up; axle steer + to the left;
pinion + nose up; lead change + forward; lateral shift + left; a birdcage's turn + nose up; camber + top outboard; toe
+ in.
"""

from typing import Annotated

from msgspec import UNSET, Meta

from studbook.wire.answers import EngineAnswer, RollCenter, Spread
from studbook.wire.entries import Answer, Request
from studbook.wire.units import Degrees, DegreesPerInch, Inches, Opt, Percent, Ratio, within

DegreesPerDegree = Annotated[
    float, Meta(extra_json_schema={"unit": "deg_per_deg", "unitName": "degree per degree of axle roll"})
]
InchesPerDegree = Annotated[
    float, Meta(extra_json_schema={"unit": "in_per_deg", "unitName": "inch per degree of axle roll"})
]


class RearMotionRatios(Answer):
    """How a spring or shock of the axle moves; + shortens it.

    Attributes:
        one_wheel_ratio: per in of its own wheel's travel, the other wheel held.
        other_wheel_ratio: per in of the other wheel's travel, its own held.
        bump_ratio: per in of bump, both wheels alike.
        roll_in_per_deg: per degree of axle roll, the wheels' midpoint held.
    """

    length_in: Inches
    one_wheel_ratio: Ratio
    other_wheel_ratio: Ratio
    bump_ratio: Ratio
    roll_in_per_deg: InchesPerDegree


class RearWheelState(Answer):
    """One wheel of the axle.

    Attributes:
        travel_in: wheel center up against the chassis since the survey.
        lead_change_in: forward since the survey.
        wheelbase_in: from the front axle line at the survey back to the wheel center.
        squat_ratio: slope of the n-line in side view in drive: pounds lifted per pound of thrust at this wheel.
        anti_squat_percent: in drive, the whole thrust taken into account; + opposes squat.
        anti_lift_percent: in braking, by the rear brakes' share and by what carries the caliper; + opposes lift.
        birdcage_indexing_deg: how far the birdcage turned on the axle since the survey.
    """

    travel_in: Inches
    lead_change_in: Inches
    wheelbase_in: Inches
    camber_deg: Degrees
    toe_deg: Degrees
    squat_ratio: Ratio
    anti_squat_percent: Opt[Percent] = UNSET
    anti_lift_percent: Opt[Percent] = UNSET
    birdcage_indexing_deg: Opt[Degrees] = UNSET
    spring: Opt[RearMotionRatios] = UNSET
    shock: Opt[RearMotionRatios] = UNSET


class RodState(Answer):
    """One locating rod, as fitted and where it stands; `angle_deg` is from level, + chassis end up."""

    length_in: Inches
    angle_deg: Degrees


class LateralBar(Answer):
    """Where a lateral bar's line crosses two planes, over the line that joins the patches; not the roll center itself.

    Attributes:
        center_plane_in: height at y = 0, the chassis datum.
        axle_middle_in: height midway between the wheels.
    """

    center_plane_in: Opt[Inches] = UNSET
    axle_middle_in: Opt[Inches] = UNSET


class RearState(Answer):
    """A rear axle in one place; what a change would do there, per inch and per degree.

    Attributes:
        bump_in: from the survey.
        roll_deg: of the axle against the chassis, from the survey.
        axle_steer_deg: since the survey.
        pinion_change_deg: of the pinion angle against the chassis, since the survey.
        roll_center: from the n-lines in roll with bump held; over the line that joins the patches.
        lateral_bars: every rod that lies more across the car than along it.
    """

    bump_in: Inches
    roll_deg: Degrees
    axle_steer_deg: Degrees
    pinion_change_deg: Degrees
    lateral_shift_in: Inches
    axle_steer_deg_per_deg: DegreesPerDegree
    axle_steer_deg_per_in: DegreesPerInch
    pinion_deg_per_deg: DegreesPerDegree
    pinion_deg_per_in: DegreesPerInch
    roll_center: RollCenter
    lateral_bars: dict[str, LateralBar]
    rods: dict[str, RodState]
    lr: RearWheelState
    rr: RearWheelState


class RearTable(Answer):
    """Columns over bump and axle roll from where it stands, the roll turning fastest.

    Readings are against the survey, as in `now`. What the rods cannot reach is left out, `limits` says why; a roll
    center that does not exist is null.
    """

    bump_in: list[Inches]
    roll_deg: list[Degrees]
    axle_steer_deg: list[Degrees]
    pinion_change_deg: list[Degrees]
    lateral_shift_in: list[Inches]
    left_travel_in: list[Inches]
    right_travel_in: list[Inches]
    left_lead_change_in: list[Inches]
    right_lead_change_in: list[Inches]
    left_wheelbase_in: list[Inches]
    right_wheelbase_in: list[Inches]
    roll_center_y_in: list[Inches | None]
    roll_center_height_in: list[Inches | None]
    left_squat_ratio: list[Ratio]
    right_squat_ratio: list[Ratio]


class RearLimit(Answer):
    """Where, on the way to a bump and axle roll of the table, the rods stop the axle: once for each rod."""

    bump_in: Inches
    roll_deg: Degrees
    ran_out: str


class RearAnswer(EngineAnswer, kw_only=True):
    """The rear axle of one revision.

    Attributes:
        grip_ratio: by how many inches, at the least, the rods would change for an inch of any motion that they are to
            hold; where it is small, errors of the survey count for more.
        loosest: the motion held least.
        spread: how much an answer moves if one surveyed coordinate of a rod is 1/16 in off.
    """

    now: RearState
    grip_ratio: Ratio
    loosest: str
    table: Opt[RearTable] = UNSET
    limits: list[RearLimit] = []
    spread: list[Spread] = []


class BumpRolls(Request):
    """Which bumps and axle rolls a table covers, from where the axle stands."""

    low_in: Annotated[float, within("in", -8, 0)] = -3.0
    high_in: Annotated[float, within("in", 0, 8)] = 3.0
    step_in: Annotated[float, within("in", 0.25, 4)] = 0.5
    roll_low_deg: Annotated[float, within("deg", -12, 0)] = -2.0
    roll_high_deg: Annotated[float, within("deg", 0, 12)] = 6.0
    roll_step_deg: Annotated[float, within("deg", 0.25, 6)] = 1.0
