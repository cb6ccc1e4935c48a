"""Four weights and what a change makes of them; wheels and places by corner, LF, RF, LR, RR."""

from msgspec import UNSET

from studbook.wire.entries import Answer
from studbook.wire.units import Inches, Opt, Percent, Pounds


class WheelPounds(Answer):
    """A force at each wheel."""

    lf_lb: Pounds
    rf_lb: Pounds
    lr_lb: Pounds
    rr_lb: Pounds


class Weights(WheelPounds):
    """What four scales read, and what a crew makes of it.

    Attributes:
        left_percent: LF + LR of the total.
        rear_percent: LR + RR of the total.
        cross_percent: RF + LR of the total.
        bite_lb: LR less RR.
    """

    total_lb: Pounds
    left_percent: Percent
    rear_percent: Percent
    cross_percent: Percent
    bite_lb: Pounds


class WheelInches(Answer):
    """A length at each corner."""

    lf_in: Inches
    rf_in: Inches
    lr_in: Inches
    rr_in: Inches


class OnScales(Answer):
    """What a change does to weights and heights with the car put back on its scales and nothing put right.

    Attributes:
        causes: what of the change moves a weight or a height, in words.
        left_out: what might, and was not judged for want of fields.
        rise: of the chassis over each wheel, + up.
        ride_height: change of the ride heights at the places where they are read.
        read: what the scales read after the change, where they were read again.
        engaged: bump stops, droop limits and bars with slack that carry then.
        lifted: wheels off the scales.
    """

    before: Weights
    after: Weights
    change: WheelPounds
    rise: WheelInches
    causes: list[str]
    left_out: list[str] = []
    ride_height: Opt[WheelInches] = UNSET
    read: Opt[Weights] = UNSET
    engaged: list[str] = []
    lifted: list[str] = []
