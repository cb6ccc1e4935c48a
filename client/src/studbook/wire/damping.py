"""What the shocks, springs, bars, tires and gears of a revision come to.

Compression and rebound forces are both written positive. Nothing is given for a shaft speed outside those measured.
"""

from typing import Annotated

from msgspec import UNSET

from studbook.wire.answers import Missing
from studbook.wire.entries import Answer, Request
from studbook.wire.units import Inches, InchesPerSecond, InchPounds, Mph, Opt, Pounds, PoundsPerInch, Ratio, within

PoundSecondsPerInch = Annotated[float, within("lb_s_per_in")]
Hertz = Annotated[float, within("hz")]
Rpm = Annotated[float, within("rpm")]


class DampingQuery(Request):
    """Which cycle the shocks are worked through, which turn the stagger is for, and at which speed the engine turns."""

    stroke_in: Annotated[float, within("in", 0.1, 12, "of the shaft, end to end")] = 2.0
    frequency_hz: Annotated[float, within("hz", 0.05, 20, "cycles a second")] = 1.0
    radius_ft: Opt[Annotated[float, within("ft", 30, 5000, "of the turn, at the car's middle, seen from above")]] = (
        UNSET
    )
    bank_deg: Annotated[float, within("deg", 0, 45)] = 0.0
    speed_mph: Opt[Annotated[float, within("mph", 1, 250)]] = UNSET


class ShockAtSpeed(Answer):
    """A shock at one shaft speed.

    Attributes:
        compression_slope_lb_s_per_in: change of force with speed there.
        wheel_compression_lb_s_per_in: that slope times the shock's motion ratio squared.
        compression_damping_ratio: of critical damping, by that slope, the corner's sprung weight and wheel rate.
    """

    compression_lb: Pounds
    rebound_lb: Pounds
    compression_slope_lb_s_per_in: PoundSecondsPerInch
    rebound_slope_lb_s_per_in: PoundSecondsPerInch
    rebound_over_compression_ratio: Opt[Ratio] = UNSET
    wheel_compression_lb_s_per_in: Opt[PoundSecondsPerInch] = UNSET
    wheel_rebound_lb_s_per_in: Opt[PoundSecondsPerInch] = UNSET
    compression_damping_ratio: Opt[Ratio] = UNSET
    rebound_damping_ratio: Opt[Ratio] = UNSET


class ShockCycle(Answer):
    """Work of one sinusoidal cycle of the shaft; the same peak speed from another stroke is another loop.

    Attributes:
        work_in_lb: with a straight line from no force at rest to the first speed measured.
        least_in_lb, most_in_lb: with nothing below that speed, and with its force held.
        coefficient_lb_s_per_in: of the linear shock that takes out as much.
    """

    stroke_in: Inches
    frequency_hz: Hertz
    peak_in_per_s: InchesPerSecond
    work_in_lb: InchPounds
    least_in_lb: InchPounds
    most_in_lb: InchPounds
    coefficient_lb_s_per_in: PoundSecondsPerInch
    wheel_coefficient_lb_s_per_in: Opt[PoundSecondsPerInch] = UNSET
    damping_ratio: Opt[Ratio] = UNSET


class ShockAnswer(Answer):
    """One shock.

    Attributes:
        at: by shaft speed in in/s; a speed outside those measured is left out.
        measured_from_in_per_s, measured_to_in_per_s: the speeds of its curve.
        gas_lb: push of its gas on the shaft, not in the forces.
        compression_stack_in: thickness of the one shim as stiff as the stack, shims of one diameter only; to compare.
    """

    measured_from_in_per_s: Opt[InchesPerSecond] = UNSET
    measured_to_in_per_s: Opt[InchesPerSecond] = UNSET
    at: dict[str, ShockAtSpeed] = {}
    cycle: Opt[ShockCycle] = UNSET
    gas_lb: Opt[Pounds] = UNSET
    compression_stack_in: Opt[Inches] = UNSET
    rebound_stack_in: Opt[Inches] = UNSET


class DampingCorner(Answer):
    """One corner on its spring, shock and tire.

    Attributes:
        spring_rate_lb_per_in: rubbers and second spring included.
        second_stopped: whether the second spring stands on its stop.
        shock_motion_ratio: -d(length)/d(wheel travel); at the rear of bump, both wheels alike.
        wheel_rate_lb_per_in: front only, without the tire.
        ride_hz: of the sprung weight on wheel rate and tire in series.
        hop_hz: of the unsprung weight between wheel rate and tire.
        static_tire_deflection_in: rollout over 2 pi less the loaded radius.
    """

    shock: Opt[ShockAnswer] = UNSET
    shock_motion_ratio: Opt[Ratio] = UNSET
    spring_rate_lb_per_in: Opt[PoundsPerInch] = UNSET
    second_stopped: Opt[bool] = UNSET
    wheel_rate_lb_per_in: Opt[PoundsPerInch] = UNSET
    sprung_lb: Opt[Pounds] = UNSET
    ride_hz: Opt[Hertz] = UNSET
    hop_hz: Opt[Hertz] = UNSET
    static_tire_deflection_in: Opt[Inches] = UNSET


class AxleRide(Answer):
    """The rear axle in bump, both wheels alike; a beam axle has no wheel rate of one wheel alone.

    Attributes:
        rate_lb_per_in: of both springs against bump, without the tires.
        damping_lb_s_per_in: of both shocks against it, by the cycle.
        hz: of the rear's sprung weight on that rate and both tires in series.
    """

    rate_lb_per_in: Opt[PoundsPerInch] = UNSET
    damping_lb_s_per_in: Opt[PoundSecondsPerInch] = UNSET
    sprung_lb: Opt[Pounds] = UNSET
    hz: Opt[Hertz] = UNSET
    damping_ratio: Opt[Ratio] = UNSET


class BarAnswer(Answer):
    """An anti-roll bar.

    Attributes:
        twist_in_lb_per_rad: torque per turn of one arm against the other.
        left_end_lb_per_in: force at the left arm's end per inch of difference of the ends.
        rate_lb_per_in: as entered, at each wheel per inch of difference of the wheels' travels.
    """

    twist_in_lb_per_rad: Opt[Annotated[float, within("in_lb_per_rad")]] = UNSET
    left_end_lb_per_in: Opt[PoundsPerInch] = UNSET
    right_end_lb_per_in: Opt[PoundsPerInch] = UNSET
    rate_lb_per_in: Opt[PoundsPerInch] = UNSET
    slack_in: Opt[Inches] = UNSET
    hooked: Opt[bool] = UNSET


class StaggerAnswer(Answer):
    """Two tires of an axle.

    Attributes:
        stagger_in: right rollout less left.
        rolls_round_ft: radius that a locked axle rolls round by itself, + to the left; absent without stagger.
        needed_in: for the turn in the request.
    """

    stagger_in: Inches
    rolls_round_ft: Opt[Annotated[float, within("ft")]] = UNSET
    needed_in: Opt[Inches] = UNSET


class GearAnswer(Answer):
    """The gears.

    Attributes:
        final_drive_ratio: engine turns per turn of the axle.
        mph_per_1000_rpm: without slip, by the mean rollout of the rear tires.
        limit_mph: at the engine's limit.
        engine_rpm: at the speed in the request.
    """

    final_drive_ratio: Ratio
    mph_per_1000_rpm: Opt[Mph] = UNSET
    limit_mph: Opt[Mph] = UNSET
    engine_rpm: Opt[Rpm] = UNSET


class DampingAnswer(Answer):
    """Shocks, springs, bars, tires and gears of one revision."""

    engine: str
    cautions: list[str]
    assumptions: list[str]
    missing: list[Missing]
    lf: Opt[DampingCorner] = UNSET
    rf: Opt[DampingCorner] = UNSET
    lr: Opt[DampingCorner] = UNSET
    rr: Opt[DampingCorner] = UNSET
    rear_ride: Opt[AxleRide] = UNSET
    front_bar: Opt[BarAnswer] = UNSET
    rear_bar: Opt[BarAnswer] = UNSET
    front_stagger: Opt[StaggerAnswer] = UNSET
    rear_stagger: Opt[StaggerAnswer] = UNSET
    gears: Opt[GearAnswer] = UNSET
