"""What the engine answers about a front end: one pose, curves, and what a change does.

Signs: camber + top outboard; toe + in, each wheel; caster + top rearward; kingpin + top inboard; scrub + axis
inboard of the patch; trail + axis ahead of the patch; travel + wheel up from its surveyed height.
"""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, field

from studbook.wire.entries import Answer, Edit, LeafChange, Request, ShortId
from studbook.wire.figures import SubjectEffect
from studbook.wire.scales import OnScales
from studbook.wire.units import (
    Degrees,
    DegreesPerInch,
    Inches,
    InchesPerInch,
    Opt,
    Percent,
    PoundsPerInch,
    Ratio,
    means,
    within,
)


class Missing(Answer):
    """A subject that could not be computed, and the fields it lacks, or why it could not be with all of them there."""

    subject: str
    fields: list[str]
    why: Opt[str] = UNSET


class EngineAnswer(Answer):
    """Base of an answer: the engine that computed it, what it took for granted, what it lacks, what to take care of."""

    engine: str
    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]


class FrontState(Answer):
    """One front corner at one pose.

    Attributes:
        toe_in: toe over 26 in.
        bump_steer_in_per_in: change of `toe_in` per in of travel.
        swing_arm_in: patch to instant center in front view; absent where the arms are parallel.
        instant_center_in: y, z in the plane of the wheel center.
        side_center_in: x, z of the instant center in side view.
        line_at_center_in: height at which the patch's n-line crosses y = 0.
        motion_ratio: -d(spring length)/d(travel); others define the inverse.
    """

    travel_in: Inches
    camber_deg: Degrees
    toe_deg: Degrees
    toe_in: Inches
    caster_deg: Degrees
    kingpin_deg: Degrees
    scrub_in: Inches
    trail_in: Inches
    camber_gain_deg_per_in: DegreesPerInch
    bump_steer_deg_per_in: DegreesPerInch
    bump_steer_in_per_in: InchesPerInch
    line_at_center_in: Inches
    patch_in: Annotated[list[float], means("contact patch x, y, z", unit="in")]
    swing_arm_in: Opt[Inches] = UNSET
    instant_center_in: Opt[Annotated[list[float], means("y, z", unit="in")]] = UNSET
    side_center_in: Opt[Annotated[list[float], means("x, z", unit="in")]] = UNSET
    motion_ratio: Opt[Ratio] = UNSET
    shock_motion_ratio: Opt[Ratio] = UNSET
    spring_length_in: Opt[Inches] = UNSET
    wheel_rate_lb_per_in: Opt[PoundsPerInch] = UNSET
    anti_dive_percent: Opt[Percent] = UNSET


class TravelCurve(Answer):
    """Columns over wheel travel from where it stands; what the linkage cannot reach is left out, `limits` says why."""

    travel_in: list[Inches]
    camber_deg: list[Degrees]
    toe_deg: list[Degrees]
    caster_deg: list[Degrees]
    scrub_in: list[Inches]
    trail_in: list[Inches]
    camber_gain_deg_per_in: list[DegreesPerInch]
    bump_steer_deg_per_in: list[DegreesPerInch]


class RollCenter(Answer):
    """Kinematic roll center: where the two n-lines meet, height above the line joining the patches.

    Attributes:
        determinant: difference of the two slopes; near 0 the lines are parallel and there is no center.
        none_because: why there is none.
    """

    determinant: float
    y_in: Opt[Inches] = UNSET
    height_in: Opt[Inches] = UNSET
    none_because: Opt[str] = UNSET


class ForceRollCenter(Answer):
    """Force-based roll center: n-line heights at `at_y_in` weighted by each patch's share of the side force."""

    height_in: Inches
    at_y_in: Inches
    left_share_percent: Percent
    shares_from: str


class FrontAxle(Answer):
    """Both front corners together at one pose."""

    roll_center: RollCenter
    force_roll_center: ForceRollCenter
    left_line_at_center_in: Inches
    right_line_at_center_in: Inches


class HeaveCurve(Answer):
    """Roll center with both wheels moved alike from where they stand."""

    heave_in: list[Inches]
    y_in: list[Inches]
    height_in: list[Inches]


class SteerCurve(Answer):
    """Columns over rack (or center link) travel at ride height, + toward the left.

    Attributes:
        left_turn_deg, right_turn_deg: turn of each wheel from straight ahead, + to the left.
        ackermann_deg: inner wheel's turn less the outer's, + toe-out in the turn.
    """

    rack_in: list[Inches]
    left_turn_deg: list[Degrees]
    right_turn_deg: list[Degrees]
    left_camber_deg: list[Degrees]
    right_camber_deg: list[Degrees]
    ackermann_deg: list[Degrees]


class TurnToe(Answer):
    """Toe change at a given mean turn of the wheels."""

    turn_deg: Degrees
    toe_out_deg: Degrees
    toe_out_in: Inches


class Limit(Answer):
    """How far a corner's linkage can travel, in from its survey, before a member runs out."""

    corner: str
    direction: Literal["bump", "droop"]
    travel_in: Inches
    ran_out: str


class Spread(Answer):
    """How much an answer moves if one surveyed coordinate is 1/16 in off: the worst coordinate."""

    outcome: str
    plus_or_minus: float
    unit: str
    worst: str


class AxisSpread(Answer):
    """What an unmeasured stud axis leaves open: the range over 5 deg of lean to any side."""

    corner: str
    stud: str
    outcome: str
    least: float
    most: float
    unit: str


class Implied(Answer):
    """What a reading says was moved beyond what is recorded.

    Attributes:
        camber_move_in, caster_move_in: by the corner's adjuster, both pivots alike, and unlike (front less rear).
        tie_rod_in: rod longer.
        text: the same in words.
    """

    camber_move_in: Opt[Inches] = UNSET
    caster_move_in: Opt[Inches] = UNSET
    tie_rod_in: Opt[Inches] = UNSET
    text: str = ""


class SheetFit(Answer):
    """The inner tie-rod end's height that best explains a measured bump sheet."""

    tie_inner_up_in: Inches
    residual_before_deg: Degrees
    residual_after_deg: Degrees


class FrontCornerAnswer(Answer):
    """One front corner: how it stands, how it moves, how far to trust it."""

    now: FrontState
    curve: TravelCurve
    spread: list[Spread] = []
    axis_spread: list[AxisSpread] = []
    limits: list[Limit] = []
    implied: Opt[Implied] = UNSET
    sheet_fit: Opt[SheetFit] = UNSET


class FrontAnswer(EngineAnswer, kw_only=True):
    """The front end of one revision."""

    lf: Opt[FrontCornerAnswer] = UNSET
    rf: Opt[FrontCornerAnswer] = UNSET
    axle: Opt[FrontAxle] = UNSET
    heave: Opt[HeaveCurve] = UNSET
    steer: Opt[SteerCurve] = UNSET
    turn_toe: list[TurnToe] = []


class Adjustment(Answer):
    """One adjustment that puts a setting right.

    Attributes:
        setting: what it puts right; one pivot may serve camber and caster at once.
        by: what is moved; `where` names the place.
        amount_in: exact; + adds (shim, spacer, rod length, perch down the thread).
        turns, flats: of the tie rod, arm or perch, + longer or tighter.
        pieces_in: nearest stack from the sizes at hand; `remaining_in` is what it misses by.
        text: the same in words.
    """

    setting: Literal["camber", "caster", "camber and caster", "toe", "bump_steer", "height"]
    by: str
    where: str
    amount_in: Inches
    text: str
    turns: Opt[Annotated[float, within("turns")]] = UNSET
    flats: Opt[Annotated[float, Meta(description="sixths of a turn")]] = UNSET
    pieces_in: Opt[Annotated[list[float], means("sizes to add, or to take out when negative", unit="in")]] = UNSET
    remaining_in: Opt[Inches] = UNSET


class CornerEffect(Answer):
    """What a change does at one front corner, always twice: as fitted, and after putting it right.

    Attributes:
        before: at its ride height.
        springs_hold: as fitted, the spring keeps its length, so the wheel moves.
        height_restored: as fitted, perch turned until the wheel is back at its height.
        restored: camber, caster, toe and height put right; bump steer is what it is.
        all_restored: bump steer put right too.
        ball_moves: where each changed ball goes, in words.
    """

    before: FrontState
    height_restored: FrontState
    before_curve: TravelCurve
    height_restored_curve: TravelCurve
    adjustments: list[Adjustment]
    ball_moves: list[str] = []
    springs_hold: Opt[FrontState] = UNSET
    restored: Opt[FrontState] = UNSET
    all_restored: Opt[FrontState] = UNSET
    restored_curve: Opt[TravelCurve] = UNSET
    all_restored_curve: Opt[TravelCurve] = UNSET
    axis_spread: list[AxisSpread] = []
    limits: list[Limit] = []
    implied_before: Opt[Implied] = UNSET
    implied_after: Opt[Implied] = UNSET


class AxleEffect(Answer):
    """What a change does to the front axle's roll centers."""

    before: FrontAxle
    height_restored: FrontAxle
    springs_hold: Opt[FrontAxle] = UNSET
    restored: Opt[FrontAxle] = UNSET
    all_restored: Opt[FrontAxle] = UNSET


class Effects(Answer):
    """What a change does. `headline` first: the sentences a crew chief needs.

    Attributes:
        on_scales: weights and heights after the change, springs as they are and no perch turned for it.
        subjects: every other subject (rear, attitude, ...) as the figures that the change moves.
    """

    engine: str
    headline: list[str]
    changes: list[LeafChange]
    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]
    since: Opt[str] = UNSET
    revision: Opt[str] = UNSET
    lf: Opt[CornerEffect] = UNSET
    rf: Opt[CornerEffect] = UNSET
    axle: Opt[AxleEffect] = UNSET
    on_scales: Opt[OnScales] = UNSET
    subjects: list[SubjectEffect] = []


class Travels(Request):
    """Which wheel travels a curve covers."""

    low_in: Annotated[float, within("in", -8, 0)] = -3.0
    high_in: Annotated[float, within("in", 0, 8)] = 4.0
    step_in: Annotated[float, within("in", 0.05, 4)] = 0.25


class SinceTravels(Travels, kw_only=True):
    """Against which revision, and over which travels."""

    since: ShortId

    def travels(self) -> Travels:
        """Give the travels alone."""
        return Travels(low_in=self.low_in, high_in=self.high_in, step_in=self.step_in)


class WhatIf(Request):
    """Edits to try on a revision; nothing is stored.

    Attributes:
        revision: the revision tried on.
        edits: leaves to set or remove.
    """

    revision: ShortId
    edits: Annotated[list[Edit], Meta(min_length=1, max_length=5000)]
    travels: Travels = field(default_factory=Travels)
    allow_unknown: bool = False
