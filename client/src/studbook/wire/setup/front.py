"""The front: what was surveyed, and what is fitted now."""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.setup.common import Alignment, Direction, FieldGroup, Name, Point, Shift, Sizes
from studbook.wire.setup.joints import Housing, Stud, SurveyedHousing, SurveyedStud
from studbook.wire.setup.springing import Bar, BumpStop, DroopLimit, Mounts, Shock, Spring
from studbook.wire.setup.wheels import LoadedRadius, Tire, Wheel
from studbook.wire.units import Opt, means, within

ShimThickness = Annotated[float, within("in", 0, 3, "total thickness at this pivot", usual=(0, 1))]
SpacerThickness = Annotated[float, within("in", 0, 2, "total spacers under the outer tie-rod end")]
RodLength = Annotated[float, within("in", 8, 24, "center to center")]
ArmLength = Annotated[float, within("in", 5, 20, "adjustable arm, pivot shaft to ball center, square to the shaft")]


class HardPoints(FieldGroup):
    """Centers of the joints of one front corner, all at one survey."""

    upper_front_in: Opt[Point] = UNSET
    upper_rear_in: Opt[Point] = UNSET
    upper_ball_in: Opt[Point] = UNSET
    lower_front_in: Opt[Point] = UNSET
    lower_rear_in: Opt[Point] = UNSET
    lower_ball_in: Opt[Point] = UNSET
    tie_inner_in: Opt[Point] = UNSET
    tie_outer_in: Opt[Point] = UNSET
    wheel_center_in: Opt[Point] = UNSET


class Shims(FieldGroup):
    """Shims at the two upper inner pivots."""

    front_in: Opt[ShimThickness] = UNSET
    rear_in: Opt[ShimThickness] = UNSET


class FittedShims(Shims):
    """Shims as fitted, which way they move the pivot, and the sizes at hand."""

    adding_moves_pivot: Opt[Annotated[Literal["inboard", "outboard"], means("depends on how the shaft is held")]] = (
        UNSET
    )
    sizes_in: Opt[Sizes] = UNSET


class SurveyedTieRod(FieldGroup):
    """The tie rod at the survey."""

    length_in: Opt[RodLength] = UNSET
    outer_spacer_in: Opt[SpacerThickness] = UNSET
    outer_axis: Opt[Direction] = UNSET


class TieRod(FieldGroup):
    """The tie rod as fitted; `outer_axis` of the survey says which way a spacer moves its outer end."""

    length_in: Opt[RodLength] = UNSET
    turns: Opt[Annotated[float, within("turns", -40, 40, "since the survey, + longer; when no length is known")]] = (
        UNSET
    )
    moves_per_turn_in: Opt[
        Annotated[float, within("in_per_turn", 0.04, 0.2, "a sleeve with left and right threads moves twice its pitch")]
    ] = UNSET
    thread: Opt[Name] = UNSET
    engaged_in: Opt[Annotated[float, within("in", 0.6, 4, "thread engaged at the shorter end")]] = UNSET
    outer_spacer_in: Opt[SpacerThickness] = UNSET
    spacer_sizes_in: Opt[Sizes] = UNSET


class SurveyedArm(FieldGroup):
    """An adjustable arm at the survey."""

    length_in: Opt[ArmLength] = UNSET


class Arm(FieldGroup):
    """An adjustable arm as fitted."""

    length_in: Opt[ArmLength] = UNSET
    moves_per_turn_in: Opt[Annotated[float, within("in_per_turn", 0.04, 0.2)]] = UNSET
    part: Opt[Name] = UNSET


class MovedPivots(FieldGroup):
    """Chassis pivots moved from where they were surveyed: slugs, slots, plates, a rack raised."""

    upper_front_in: Opt[Shift] = UNSET
    upper_rear_in: Opt[Shift] = UNSET
    lower_front_in: Opt[Shift] = UNSET
    lower_rear_in: Opt[Shift] = UNSET
    tie_inner_in: Opt[Shift] = UNSET


class Adjusters(FieldGroup):
    """By what each setting of this corner is put right."""

    camber: Opt[
        Annotated[
            Literal["upper_shims", "upper_slots", "upper_slugs", "upper_arm_thread", "lower_slots"],
            means("what camber is set by; upper shims unless given"),
        ]
    ] = UNSET
    caster: Opt[
        Annotated[
            Literal["upper_shims", "upper_slots", "upper_slugs", "lower_slots"],
            means("what caster is set by, unequally front and rear; upper shims unless given"),
        ]
    ] = UNSET
    bump_steer: Opt[
        Annotated[Literal["outer_spacer", "tie_inner_height"], means("outer tie-rod spacers unless given")]
    ] = UNSET
    slug_sizes_in: Opt[Sizes] = UNSET


class SurveyedCorner(FieldGroup):
    """One front corner at the survey; only a new survey changes it."""

    points: Opt[HardPoints] = UNSET
    camber_deg: Opt[Annotated[float, within("deg", -12, 10, "+ top of the wheel outboard")]] = UNSET
    toe_deg: Opt[Annotated[float, within("deg", -1.5, 1.5, "+ toe-in, this wheel")]] = UNSET
    loaded_radius_in: Opt[LoadedRadius] = UNSET
    upper_stud: Opt[SurveyedStud] = UNSET
    lower_stud: Opt[SurveyedStud] = UNSET
    upper_housing: Opt[SurveyedHousing] = UNSET
    lower_housing: Opt[SurveyedHousing] = UNSET
    upper_shims: Opt[Shims] = UNSET
    upper_arm: Opt[SurveyedArm] = UNSET
    tie_rod: Opt[SurveyedTieRod] = UNSET
    wheel_offset_in: Opt[Annotated[float, within("in", -2, 7, "of the wheel fitted at the survey, + outboard")]] = UNSET
    wheel_spacer_in: Opt[Annotated[float, within("in", 0, 2)]] = UNSET
    spring: Opt[Mounts] = UNSET
    shock: Opt[Mounts] = UNSET


class FrontCorner(FieldGroup):
    """One front corner as fitted."""

    upper_stud: Opt[Stud] = UNSET
    lower_stud: Opt[Stud] = UNSET
    upper_housing: Opt[Housing] = UNSET
    lower_housing: Opt[Housing] = UNSET
    upper_shims: Opt[FittedShims] = UNSET
    upper_arm: Opt[Arm] = UNSET
    lower_arm: Opt[Arm] = UNSET
    tie_rod: Opt[TieRod] = UNSET
    moved: Opt[MovedPivots] = UNSET
    adjusters: Opt[Adjusters] = UNSET
    target: Opt[Alignment] = UNSET
    spring: Opt[Spring] = UNSET
    bump_stop: Opt[BumpStop] = UNSET
    droop_limit: Opt[DroopLimit] = UNSET
    shock: Opt[Shock] = UNSET
    wheel: Opt[Wheel] = UNSET
    tire: Opt[Tire] = UNSET
    unsprung_lb: Opt[Annotated[float, within("lb", 40, 130)]] = UNSET


class SurveyedSteering(FieldGroup):
    """How the inner tie-rod ends are carried; for a center link, its arms as points at the survey."""

    kind: Opt[
        Annotated[
            Literal["rack", "center_link", "drag_link"],
            means("a drag link is kept in the book; its steer curves are not modeled"),
        ]
    ] = UNSET
    ahead_of_axle: Opt[Annotated[bool, means("tie rods ahead of the axle")]] = UNSET
    pitman_pivot_in: Opt[Point] = UNSET
    pitman_axis: Opt[Direction] = UNSET
    pitman_end_in: Opt[Point] = UNSET
    idler_pivot_in: Opt[Point] = UNSET
    idler_axis: Opt[Direction] = UNSET
    idler_end_in: Opt[Point] = UNSET


class Steering(FieldGroup):
    """Steering as fitted."""

    half_travel_in: Opt[Annotated[float, within("in", 0.5, 5, "rack or link, center to stop")]] = UNSET
    in_per_turn: Opt[Annotated[float, within("in_per_turn", 0.5, 8, "of the steering wheel")]] = UNSET
    part: Opt[Name] = UNSET


class SurveyedFront(FieldGroup):
    """Both front corners and the steering at the survey."""

    lf: Opt[SurveyedCorner] = UNSET
    rf: Opt[SurveyedCorner] = UNSET
    steering: Opt[SurveyedSteering] = UNSET


class Front(FieldGroup):
    """The front as fitted."""

    lf: Opt[FrontCorner] = UNSET
    rf: Opt[FrontCorner] = UNSET
    steering: Opt[Steering] = UNSET
    bar: Opt[Bar] = UNSET
