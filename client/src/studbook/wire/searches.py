"""Searches: which studs, shims, spacers and rod length come closest to what is wanted, from what is in the trailer.

A search tries every combination of the parts at hand, the perch turned so that the wheel is where it was, toe put
back by the rod to the nearest flat. What it gives is what no other combination beats in everything: trade-offs, ranked.
"""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, field

from studbook.wire.answers import Adjustment, Missing
from studbook.wire.entries import Answer, Request, ShortId
from studbook.wire.setup.joints import Length
from studbook.wire.shelf import SplitRead
from studbook.wire.units import Degrees, DegreesPerInch, Inches, InchesPerInch, Opt, means, within

Travel = Annotated[float, within("in", -8, 8, "wheel up from where it stands")]
Camber = Annotated[float, within("deg", -12, 10, "+ top of the wheel outboard")]
Count = Annotated[int, within("count")]
Joint = Literal["upper", "lower"]
Seat = Literal["lf.upper", "lf.lower", "rf.upper", "rf.lower"]


class StudStock(Request):
    """Studs in the trailer; those fitted need not be listed, and those taken from the book must not be.

    Attributes:
        joint: which joints it fits.
    """

    joint: Literal["upper", "lower", "either"]
    length_in: Length
    count: Annotated[int, within("count", 1, 99)] = 1


class SearchTerms(Request):
    """What a search may use: parts, and how much of its answerer's time."""

    inventory: Annotated[
        Literal["listed", "trailer", "anywhere"],
        means(
            "studs listed alone, or also those of the book that are fit and go into the seat: in the trailer, or all"
        ),
    ] = "listed"
    studs: Annotated[list[StudStock], Meta(max_length=40)] = []
    shims_within_in: Annotated[float, within("in", 0, 1, "camber and caster adjusters move at most this far")] = 0.25
    spacers_within_in: Annotated[float, within("in", 0, 1, "the bump steer adjuster moves at most this far")] = 0.25
    keep_count: Annotated[int, within("count", 1, 50, "how many of the best to give")] = 12
    most_count: Annotated[
        int, within("count", 1, 400_000, "more combinations than this are refused before any is tried")
    ] = 100_000
    time_s: Annotated[float, within("s", 0.1, 10, "what is not tried by then is left out, as the answer says")] = 5.0


class CamberWanted(SearchTerms, kw_only=True):
    """A camber curve for one front corner to come close to; the other corner stays as it stands.

    Attributes:
        camber_target: pairs of wheel travel, in, and camber, deg.
        roll_center_in: least and greatest height of the roll center.
    """

    corner: Literal["lf", "rf"]
    camber_target: Annotated[list[tuple[Travel, Camber]], Meta(min_length=1, max_length=29)]
    roll_center_in: Opt[Annotated[tuple[Inches, Inches], means("lowest and highest", unit="in")]] = UNSET
    bump_steer_most_deg_per_in: Opt[
        Annotated[
            float, Meta(ge=0, le=2, extra_json_schema={"unit": "deg_per_in", "unitName": "degree per inch of travel"})
        ]
    ] = UNSET
    caster_within_deg: Annotated[float, within("deg", 0, 12, "caster stays this near to where it is")] = 0.5


class StudSearch(CamberWanted, kw_only=True):
    """The same of a revision's car; nothing is stored."""

    revision: ShortId


class LikenessWanted(SearchTerms, kw_only=True):
    """By which parts of its own a car shall read at the front like another: outcomes are matched, not parts.

    Attributes:
        travel_in: where their camber is compared.
    """

    travel_in: Annotated[list[Travel], Meta(min_length=1, max_length=29)] = field(
        default_factory=lambda: [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0]
    )


class CarryOver(LikenessWanted, kw_only=True):
    """The same of two revisions' cars; nothing is stored.

    Attributes:
        source: of the car to be like.
        revision: of the car to change.
    """

    source: ShortId
    revision: ShortId


class CornerOutcome(Answer):
    """How a front corner reads, its wheel where it was.

    Attributes:
        camber_off_deg: root mean square of what its camber curve is off.
        camber_deg: at the search's travels.
        toe_change_deg: the largest change of toe from where it stands, over those travels.
        line_at_center_in: height at which its n-line crosses y = 0.
    """

    camber_off_deg: Degrees
    camber_deg: list[Degrees]
    camber_gain_deg_per_in: DegreesPerInch
    caster_deg: Degrees
    toe_deg: Degrees
    toe_change_deg: Degrees
    bump_steer_deg_per_in: DegreesPerInch
    bump_steer_in_per_in: InchesPerInch
    line_at_center_in: Inches


class RollCenterAt(Answer):
    """The kinematic roll center; a value is absent where the n-lines do not meet."""

    height_in: Opt[Inches] = UNSET
    y_in: Opt[Inches] = UNSET


class StudTaken(Answer):
    """A stud to put in.

    Attributes:
        part, where: its tag and where it lies; absent of one that was listed.
    """

    joint: Joint
    length_in: Inches
    part: Opt[str] = UNSET
    where: Opt[Literal["trailer", "shelf"]] = UNSET


class CornerPlan(Answer):
    """What to put in at a corner, and how it then reads.

    Attributes:
        studs: those to put in; no stud is in a plan twice.
        upper_stud_in, lower_stud_in: the studs that are then in; absent where the one fitted is not recorded.
        todo: the jobs in words, studs first; empty when nothing changes.
        parts_changed_count: studs, pivots, spacers and the rod, each counted once.
    """

    todo: list[str]
    adjustments: list[Adjustment]
    parts_changed_count: Count
    outcome: CornerOutcome
    studs: list[StudTaken] = []
    upper_stud_in: Opt[Inches] = UNSET
    lower_stud_in: Opt[Inches] = UNSET


class Candidate(CornerPlan, kw_only=True):
    """A combination that no other beats in everything; `best_in` names what it is the best of all in."""

    roll_center: Opt[RollCenterAt] = UNSET
    best_in: list[str] = []


class Excluded(Answer):
    """How many combinations a constraint excluded, each counted under the first that did."""

    constraint: str
    count: Count


class Counts(Answer):
    """What was tried: `total_count` less what is not in stock and what time did not allow."""

    total_count: Count
    tried_count: Count
    fitting_count: Count
    excluded: list[Excluded]


class StudAtHand(Answer):
    """A stud of the book that may be put in.

    Attributes:
        fits: the joints into whose seat it goes.
        by_angle_alone: those of them where the large end of the stud or of the seat is not recorded.
    """

    part: str
    length_in: Inches
    where: Literal["trailer", "shelf"]
    fits: list[Seat]
    by_angle_alone: list[Seat] = []


class StudLeftOut(Answer):
    """A stud of the book that is put in nowhere, and why."""

    part: str
    why: str


class Inventory(Answer):
    """The studs of the book as they were read for a search; scrapped ones are gone, and are not named.

    Attributes:
        splits: those whose record is split in what does not matter here, and which tip was used.
    """

    taken_from: Literal["trailer", "anywhere"]
    studs: list[StudAtHand]
    left_out: list[StudLeftOut]
    splits: list[SplitRead] = []


class StudSearchAnswer(Answer):
    """The parts that come closest at one corner, closest to the camber curve first; read `said` first."""

    engine: str
    revision: str
    corner: str
    said: list[str]
    travel_in: list[Inches]
    camber_target_deg: list[Degrees]
    counts: Counts
    now: CornerOutcome
    ranked: list[Candidate]
    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]
    roll_center_now: Opt[RollCenterAt] = UNSET
    inventory: Opt[Inventory] = UNSET


class FrontPlan(Answer):
    """What to put in at both front corners (at one, where the other cannot be computed)."""

    parts_changed_count: Count
    lf: Opt[CornerPlan] = UNSET
    rf: Opt[CornerPlan] = UNSET
    roll_center: Opt[RollCenterAt] = UNSET
    best_in: list[str] = []


class Likeness(Answer):
    """One corner of both cars, and what was tried at it."""

    aim: CornerOutcome
    now: CornerOutcome
    counts: Counts


class CarryOverAnswer(Answer):
    """By which parts one car is like another at the front, most alike first; read `said` first."""

    engine: str
    source: str
    revision: str
    said: list[str]
    travel_in: list[Inches]
    ranked: list[FrontPlan]
    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]
    lf: Opt[Likeness] = UNSET
    rf: Opt[Likeness] = UNSET
    roll_center_aim: Opt[RollCenterAt] = UNSET
    roll_center_now: Opt[RollCenterAt] = UNSET
    inventory: Opt[Inventory] = UNSET
