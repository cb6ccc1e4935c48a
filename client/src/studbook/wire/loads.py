"""What the engine answers about a car on its scales, in a corner, and about its perches.

Wheels are LF, RF, LR, RR. Signs: a rise + up; travel + wheel up against the chassis; roll + right side down; pitch +
nose down; a perch's turns + tighten its spring and raise the car; a corner is a left turn, a bank + raised at the
outside, yaw + nose to the inside; side force + to the left; drive + forward.
"""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, field

from studbook.wire.answers import EngineAnswer
from studbook.wire.entries import Answer, Edit, Request, ShortId
from studbook.wire.scales import Weights, WheelInches, WheelPounds
from studbook.wire.setup.common import Corner
from studbook.wire.units import Degrees, Inches, Mph, Opt, Percent, Pounds, PoundsPerInch, Ratio, within

Turns = Annotated[float, within("turns")]
InchPoundsPerDegree = Annotated[float, within("in_lb_per_deg")]
Gees = Annotated[float, within("g")]


class AxleRates(Answer):
    """An axle's springs at its two wheels, tires and bar left out.

    Attributes:
        left_lb_per_in: force on the left wheel per in of its own travel, the other held; so is the right one's.
        coupling_lb_per_in: force on a wheel per in of travel of the other: the springs of a beam axle feel both.
        heave_lb_per_in: of both wheels moved alike.
        roll_in_lb_per_deg: moment per degree of roll about the chassis datum.
        bar_lb_per_in: of the hooked anti-roll bar, force at each wheel per in of difference.
        left_ratio: motion ratio of the left spring to its own wheel; so is the right one's.
    """

    left_lb_per_in: PoundsPerInch
    right_lb_per_in: PoundsPerInch
    coupling_lb_per_in: PoundsPerInch
    heave_lb_per_in: PoundsPerInch
    roll_in_lb_per_deg: InchPoundsPerDegree
    left_ratio: Ratio
    right_ratio: Ratio
    bar_lb_per_in: Opt[PoundsPerInch] = UNSET


class CenterOfMass(Answer):
    """Where the weight is, with one standard deviation of each.

    Attributes:
        behind_front_in: from the front axle line back.
        left_of_datum_in: from the chassis datum, + left.
        height_from: how the height is known.
        recorded_height_in: what the setup says, where the height comes from a weighing.
    """

    behind_front_in: Inches
    behind_front_sigma_in: Inches
    left_of_datum_in: Inches
    left_of_datum_sigma_in: Inches
    height_from: str
    height_in: Opt[Inches] = UNSET
    height_sigma_in: Opt[Inches] = UNSET
    recorded_height_in: Opt[Inches] = UNSET


class WallSheet(Answer):
    """What one step of each adjustment changes, one at a time, in columns: the wall sheet.

    Attributes:
        what: the adjustment and its step; `lf_lb` and the like are changes of the loads, `lf_in` of the ride heights.
    """

    what: list[str]
    cross_percent: list[Percent]
    bite_lb: list[Pounds]
    lf_lb: list[Pounds]
    rf_lb: list[Pounds]
    lr_lb: list[Pounds]
    rr_lb: list[Pounds]
    lf_in: list[Inches]
    rf_in: list[Inches]
    lr_in: list[Inches]
    rr_in: list[Inches]


class LoadsAnswer(EngineAnswer, kw_only=True):
    """A revision's car on its scales.

    Attributes:
        read: as the scales read, and `read_at` when.
        since: what was changed since and moves a weight.
        now: as the scales would read now.
        height_since: change of the ride heights since that reading.
        bars_hooked, bars_unhooked: the same with every anti-roll bar linked, and with none.
        heights_at: where the sheet's heights are measured: over the wheels, or at the places where they are read.
        engaged: bump stops, droop limits and bars with slack that carry on the scales.
    """

    read: Opt[Weights] = UNSET
    read_at: Opt[str] = UNSET
    since: list[str] = []
    left_out: list[str] = []
    now: Opt[Weights] = UNSET
    height_since: Opt[WheelInches] = UNSET
    bars_hooked: Opt[Weights] = UNSET
    bars_unhooked: Opt[Weights] = UNSET
    front: Opt[AxleRates] = UNSET
    rear: Opt[AxleRates] = UNSET
    cg: Opt[CenterOfMass] = UNSET
    sheet: Opt[WallSheet] = UNSET
    heights_at: Opt[str] = UNSET
    engaged: list[str] = []
    lifted: list[str] = []


class CornerPath(Request):
    """A left-hand corner, and how it is driven.

    Give `speed_mph`, or `time_s`, `distance_ft` and `corner_speed_ratio`.

    Attributes:
        corner_speed_ratio: speed in the corner over the mean of that distance: a lap's mean is not the corner's.
        drive_left_percent: the left rear tire's part of the drive.
    """

    radius_ft: Annotated[float, within("ft", 30, 5000, "of the path, seen from above")]
    speed_mph: Opt[Annotated[float, within("mph", 5, 220, "in the corner")]] = UNSET
    time_s: Opt[Annotated[float, within("s", 0.5, 200, "of a lap, or of the segment round the corner")]] = UNSET
    distance_ft: Opt[Annotated[float, within("ft", 50, 20_000, "driven in that time")]] = UNSET
    corner_speed_ratio: Opt[
        Annotated[float, within("ratio", 0.5, 1.2, "1 for a segment; 0.80 to 0.95 of a lap's mean is usual")]
    ] = UNSET
    banking_deg: Annotated[float, within("deg", -10, 45)] = 0.0
    drive_force_lb: Annotated[float, within("lb", -3000, 4000, "of both rear tires")] = 0.0
    drive_left_percent: Annotated[float, within("percent", 0, 100)] = 50.0
    yaw_deg: Annotated[float, within("deg", -45, 45)] = 0.0


class Cornering(CornerPath, kw_only=True):
    """A corner to put a revision's car in, with edits tried on it; nothing is stored."""

    revision: ShortId
    edits: Annotated[list[Edit], Meta(max_length=5000)] = []
    allow_unknown: bool = False


class CornerWheel(Answer):
    """One wheel in the corner.

    Attributes:
        static_lb: on the scales; `load_lb` in the corner, `change_lb` between, which is the sum of the next three.
        geometric_lb: what the links carry past the springs.
        unsprung_lb: what the unsprung weight does to its own axle's tires.
        elastic_lb: what springs, bars and stops carry.
        travel_in: from where it stands on the scales.
        camber_deg: to the track; `camber_change_deg` from the scales.
    """

    static_lb: Pounds
    load_lb: Pounds
    change_lb: Pounds
    geometric_lb: Pounds
    unsprung_lb: Pounds
    elastic_lb: Pounds
    side_lb: Pounds
    drive_lb: Pounds
    travel_in: Inches
    lifted: bool
    camber_deg: Opt[Degrees] = UNSET
    camber_change_deg: Opt[Degrees] = UNSET


class WeightTransfer(Answer):
    """Load moved from the left to the right wheel of an axle, and its three parts."""

    total_lb: Pounds
    geometric_lb: Pounds
    unsprung_lb: Pounds
    elastic_lb: Pounds


class CorneringAnswer(EngineAnswer, kw_only=True):
    """A car in a corner.

    Attributes:
        limits: what the model leaves out.
        lateral_g: along the track toward the inside, in weights of the car; `normal_g` square to it.
        cross_percent: RF + LR of what stands on the track.
        normal_lb: what the four loads add up to: the forces square to the track.
        engaged: bump stops, droop limits and bars with slack that carry; `past_curve` beyond what was measured.
        lifted: wheels off the ground; one that hangs in its chain on the ground is not.
    """

    limits: str
    speed_mph: Mph
    lateral_g: Gees
    normal_g: Gees
    roll_deg: Degrees
    pitch_deg: Degrees
    heave_in: Inches
    cross_percent: Percent
    bite_lb: Pounds
    normal_lb: Pounds
    wheels: dict[str, CornerWheel]
    front_weight_transfer: WeightTransfer
    rear_weight_transfer: WeightTransfer
    engaged: list[str] = []
    past_curve: list[str] = []
    lifted: list[str] = []


class CrossWanted(Request):
    """A cross weight to reach by perch turns.

    With all four perches the ride heights are held exactly; with fewer they are disturbed least.

    Attributes:
        perches: the perches that may be turned.
        step_turns: to what turns are rounded: 1, 0.5, 0.25, or 0.166667 for flats.
    """

    cross_percent: Annotated[float, within("percent", 38, 62, "to reach")]
    perches: Annotated[list[Corner], Meta(min_length=1, max_length=4)] = field(
        default_factory=lambda: ["lf", "rf", "lr", "rr"]
    )
    step_turns: Annotated[float, within("turns", 0.05, 2)] = 0.25
    least_bite_lb: Opt[Annotated[float, within("lb", -400, 400)]] = UNSET
    most_bite_lb: Opt[Annotated[float, within("lb", -400, 400)]] = UNSET
    least_left_percent: Opt[Annotated[float, within("percent", 40, 75)]] = UNSET
    most_left_percent: Opt[Annotated[float, within("percent", 40, 75)]] = UNSET


class PerchSearch(CrossWanted, kw_only=True):
    """The same of a revision's car, with edits tried on it; nothing is stored."""

    revision: ShortId
    edits: Annotated[list[Edit], Meta(max_length=5000)] = []
    allow_unknown: bool = False


class PerchTurns(Answer):
    """What to do at one perch.

    Attributes:
        exact_turns: unrounded.
        turns: to the step.
        along_spring_in: the same along the spring; `thread_showing_in` what then shows.
    """

    exact_turns: Turns
    turns: Turns
    along_spring_in: Inches
    text: str
    thread_showing_in: Opt[Inches] = UNSET


class PerchOutcome(Answer):
    """How the car then stands."""

    weights: Weights
    change: WheelPounds
    rise: WheelInches
    ride_height: Opt[WheelInches] = UNSET
    engaged: list[str] = []
    lifted: list[str] = []


class PerchesAnswer(EngineAnswer, kw_only=True):
    """Perch turns that reach a cross weight.

    Attributes:
        headline: what to turn, and what comes of it.
        heights: whether they are held or only disturbed least.
        reached: whether the exact turns reach it; not, when a wheel or a stop comes between.
        within_limits: whether bite and left percentage are where they are wanted, after rounding.
        before: on the scales as it stands.
        exact, rounded: with the exact turns, and with those of the step.
    """

    headline: str
    wanted_percent: Percent
    heights: Literal["held", "least disturbed"]
    reached: bool
    within_limits: bool
    perches: dict[str, PerchTurns]
    before: Weights
    exact: PerchOutcome
    rounded: PerchOutcome
