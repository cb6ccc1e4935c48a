"""Around the scales: a session's average, what a car reads that came back, whether it passes, one step of everything.

Wheels are LF, RF, LR, RR. Signs: a height + up; camber + top outboard; toe + in; lead + forward; a perch's turns +
tighten its spring and raise the car.
"""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, field

from studbook.wire.answers import Missing
from studbook.wire.entries import Answer, Edit, Id, Request, ShortId, Slug, Tree
from studbook.wire.scales import Weights, WheelInches, WheelPounds
from studbook.wire.units import Degrees, Inches, Opt, Percent, Pounds, within


class SessionWeights(Answer):
    """What a scale session comes to.

    Attributes:
        count: settled readings.
        average: of them.
        spread: of each pad, largest reading less smallest; so is that of the cross weight.
        tolerance_lb: a spread beyond it is not settled.
        unsettled: the pads where it is beyond, in words.
    """

    count: Annotated[int, within("count")]
    average: Weights
    spread: WheelPounds
    cross_spread_percent: Percent
    tolerance_lb: Pounds
    unsettled: list[str] = []
    assumptions: list[str] = []


class Returned(Request):
    """A check to be held against the book; nothing is stored.

    Attributes:
        document: as a check's record; without a revision it is held against what the car raced last.
    """

    car: Slug
    document: Tree
    allow_unknown: bool = False


class Finding(Answer):
    """One reading held against the book.

    Attributes:
        what: such as `RF camber`.
        subject: what kind of reading; it decides the tolerance.
        expected: what the book says it should read; absent where it says nothing.
        difference: read less expected.
        beyond: out of tolerance.
        recorded: whether anything was recorded since the reading that the book starts from.
        text: the same in words, with the question to ask where it is beyond.
    """

    what: str
    subject: Literal["corner", "total", "cross", "height", "camber", "caster", "toe", "lead", "play"]
    read: float
    unit: str
    text: str
    beyond: bool = False
    recorded: bool = False
    expected: Opt[float] = UNSET
    difference: Opt[float] = UNSET
    tolerance: Opt[float] = UNSET


class ReturnedAnswer(Answer):
    """How a returned car compares with the setup it had.

    Attributes:
        headline: how many readings are beyond tolerance, and each of those in words.
        revision: what was left, and `chosen` how that is known.
        since: what was recorded since the scales were read, and is part of what they should read.
        findings: all readings, in the order in which a crew looks.
        missing: readings that could not be held against anything, and for want of what.
    """

    headline: list[str]
    revision: Id
    chosen: str
    engine: str
    findings: list[Finding]
    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]
    since: list[str] = []
    left_out: list[str] = []


class RaceTerms(Request):
    """What happens to a car between the scales and the series' scales after the race.

    Attributes:
        rules: a name in the book; the limits in the setup itself unless given.
        fuel_burned_lb: by weight.
        driver_weight_lb: of who drives, with suit and helmet, if not as scaled.
        scale_sigma_lb: standard error of each pad, if it is known.
    """

    fuel_burned_lb: Annotated[float, within("lb", 0, 270)]
    rules: Opt[Slug] = UNSET
    driver_weight_lb: Opt[Annotated[float, within("lb", 90, 350)]] = UNSET
    scale_sigma_lb: Opt[Annotated[float, within("lb", 0, 20)]] = UNSET


class Race(RaceTerms, kw_only=True):
    """The same of a revision, with edits tried on it such as a ballast that was moved; nothing is stored."""

    revision: ShortId
    edits: Annotated[list[Edit], Meta(max_length=5000)] = field(default_factory=list)
    allow_unknown: bool = False


class RuleLimit(Answer):
    """One limit of the rules.

    Attributes:
        allowed: the limit with the rules' own tolerance in.
        predicted: after the race; `least` and `most` where a place is not known and it could be anywhere on the car.
        margin: inside is +; from the worse of `least` and `most`.
        plus_or_minus: two standard errors of the scales.
        verdict: `clear` by more than that, `outside` by more than that, else `too_close`.
    """

    what: Literal["total", "left", "rear"]
    side: Literal["at least", "at most"]
    allowed: float
    predicted: float
    least: float
    most: float
    margin: float
    plus_or_minus: float
    unit: str
    verdict: Literal["clear", "too_close", "outside"]
    text: str


class RaceAnswer(Answer):
    """What a car will weigh after the race, against the rules as the team typed them.

    Attributes:
        scaled: as the scales would read now, with everything recorded and tried since.
        after: predicted; where a place is not known, with that weight in the middle of the car.
        moved: what was burned, added or moved in between, in words.
        source: where the limits come from.
    """

    headline: list[str]
    engine: str
    limits: list[RuleLimit]
    moved: list[str]
    source: str
    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]
    total_lb: Pounds
    scaled: Opt[Weights] = UNSET
    after: Opt[Weights] = UNSET


class SensitivityQuery(Request):
    """The steps of a sheet for the wall."""

    perch_turns: Annotated[float, within("turns", 0.1, 6)] = 1.0
    shim_in: Annotated[float, within("in", 0.01, 0.5)] = 0.125
    stud_in: Annotated[float, within("in", 0.05, 1)] = 0.5
    pressure_psi: Annotated[float, within("psi", 0.25, 5)] = 1.0


class Sensitivity(Answer):
    """What one step does, put back on the scales with nothing put right.

    Attributes:
        where, step: the step in words: `RF upper`, `0.50 in (1/2) longer`.
        edits: the step as edits: a what-if with them answers the same.
        loads, heights: changes.
        lf_toe_in: over 26 in, so is the right one's.
    """

    kind: Literal["perch", "shims", "stud", "pressure"]
    where: str
    step: str
    edits: list[Edit]
    loads: WheelPounds
    heights: WheelInches
    cross_percent: Percent
    bite_lb: Pounds
    lf_camber_deg: Opt[Degrees] = UNSET
    rf_camber_deg: Opt[Degrees] = UNSET
    lf_toe_deg: Opt[Degrees] = UNSET
    rf_toe_deg: Opt[Degrees] = UNSET
    lf_toe_in: Opt[Inches] = UNSET
    rf_toe_in: Opt[Inches] = UNSET


class SensitivityAnswer(Answer):
    """The wall sheet: one step of one adjustment at a time, from the car as it is now.

    Attributes:
        stands: on the scales now.
        heights_at: where the heights are measured: over the wheels, or at the places where they are read.
    """

    engine: str
    stands: Weights
    heights_at: str
    steps: list[Sensitivity]
    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]
