"""What a front end's joints cost in friction, how far they swing, and what they and their studs carry.

Car axes: x forward, y left, z up. A stud's axial force is + in compression, - in tension, which is the usual sign of a
lower joint below its boss. Strength is given only for a stud whose material says yield and source; it is a ratio under
the stated forces, never permission.
"""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.answers import Missing, Travels
from studbook.wire.entries import Answer
from studbook.wire.units import (
    Degrees,
    Inches,
    InchesPerSecond,
    InchPounds,
    Opt,
    Pounds,
    PoundsPerInch,
    Ratio,
    means,
    within,
)

Psi = Annotated[float, within("psi")]
RadPerInch = Annotated[float, within("rad_per_in")]
Force = Annotated[list[float], means("x, y, z in car axes", unit="lb")]
Torque = Annotated[float, within("in_lb", 0, 300)]


class WheelForces(Travels, kw_only=True):
    """Which forces act at the wheels, at which travel, and over which travels the joints are swung."""

    vertical_lb: Opt[Annotated[float, within("lb", 0, 10_000, "load on the tire; the scales' unless given")]] = UNSET
    side_lb: Annotated[float, within("lb", -10_000, 10_000, "ground on tire, + to the car's left")] = 0.0
    braking_lb: Annotated[float, within("lb", -10_000, 10_000, "ground on tire, + to the rear")] = 0.0
    brake: Opt[
        Annotated[
            Literal["free", "locked"],
            means("whether the wheel turns on its bearing, or is one body with the spindle; locked when braking"),
        ]
    ] = UNSET
    contact_inboard_lb: Annotated[float, within("lb", -20_000, 20_000, "on the rim, + toward the car's middle")] = 0.0
    contact_rearward_lb: Annotated[float, within("lb", -20_000, 20_000, "on the rim, + to the rear")] = 0.0
    contact_ahead_in: Annotated[float, within("in", -18, 18, "where on the rim, ahead of the wheel center")] = 7.5
    contact_up_in: Annotated[float, within("in", -18, 18, "where on the rim, above the wheel center")] = 0.0
    on: Annotated[
        Literal["both", "lf", "rf"], means("the wheel that these forces act on; the other stands as on the scales")
    ] = "both"
    travel_in: Annotated[float, within("in", -8, 8, "wheel up from where it stands")] = 0.0
    tight_in_lb: Annotated[Torque, means("breakaway torque of each of four tight ball joints")] = 50.0
    free_in_lb: Annotated[Torque, means("the same of four free ones")] = 5.0
    tilt_over_spin: Annotated[
        float, within("ratio", 0.25, 4, "torque swung over torque about the stud; 1 unless measured")
    ] = 1.0


class Swing(Answer):
    """A joint's swing over travel and steering against its limit.

    Attributes:
        angle_deg: stud from the housing's axis, where the wheel stands, straight ahead.
        margin_deg: least margin over all of it; negative means that it binds.
        at_travel_in: where that is, from where the wheel stands.
        at_rack_in: the rack's (or center link's) place there, + to the left.
    """

    limit_deg: Degrees
    angle_deg: Degrees
    margin_deg: Degrees
    at_travel_in: Inches
    at_rack_in: Inches
    binds: bool
    text: str


class BallLoad(Answer):
    """The force of an arm on its ball, and its parts square to the stud and along it.

    Attributes:
        axial_lb: + compression, - tension: the retaining side of the housing then carries it.
    """

    force_lb: Force
    size_lb: Pounds
    across_lb: Pounds
    axial_lb: Pounds
    axial_is: Literal["compression", "tension"]


class Strength(Answer):
    """What bends or shears a stud of stated yield, by a force square to it at the ball; a comparison, no permission.

    Attributes:
        first_yield_lb: the worst section's outer fiber yields.
        hinge_lb: it bends right through.
        shear_lb: it yields in shear.
        share_of_first_yield: the stated force over `first_yield_lb`; contact and fatigue are outside it.
    """

    yield_psi: Psi
    source: str
    first_yield_lb: Pounds
    hinge_lb: Pounds
    shear_lb: Pounds
    share_of_first_yield: Ratio
    bends_first: bool


class LongerStud(Answer):
    """Columns over how much longer the stud would be than the one fitted, under the same force."""

    longer_in: list[Inches]
    bending_psi: list[Psi]
    first_yield_lb: list[Pounds] = []
    hinge_lb: list[Pounds] = []


class StudStress(Answer):
    """Stress in a stud under its ball's load.

    Attributes:
        lever_in: ball center to the large end of the taper.
        title: "seat section only", or "seat and given sections".
        worst_section: where bending is greatest.
        axial_psi: apart from bending; + compression.
        shear_psi: at the neutral fiber, never added to bending.
        slenderness: lever over seat diameter; above 0.368 a round stud bends before it shears.
    """

    title: str
    worst_section: str
    lever_in: Inches
    moment_in_lb: InchPounds
    bending_psi: Psi
    axial_psi: Psi
    shear_psi: Psi
    slenderness: Ratio
    longer: LongerStud
    strength: Opt[Strength] = UNSET


class Joint(Answer):
    """One joint: how fast it turns with travel, what was read, how it swings, what it carries.

    Attributes:
        turns_rad_per_in: whole relative rate of its two bodies, per inch of wheel travel.
        spins_rad_per_in: its part about the stud.
        tilts_rad_per_in: the rest.
        breakaway_in_lb: as read, by wrench or by pull scale times lever.
        load_in_lb: what load adds under the stated forces, where the seat's friction is given.
    """

    turns_rad_per_in: RadPerInch
    spins_rad_per_in: RadPerInch
    tilts_rad_per_in: RadPerInch
    breakaway_in_lb: Opt[InchPounds] = UNSET
    running_in_lb: Opt[InchPounds] = UNSET
    load_in_lb: Opt[InchPounds] = UNSET
    swing: Opt[Swing] = UNSET
    load: Opt[BallLoad] = UNSET
    stud: Opt[StudStress] = UNSET


class JointShare(Answer):
    """What one joint adds at the wheel."""

    preload_lb: Pounds
    load_lb: Pounds = 0.0


class JointFriction(Answer):
    """Friction of a corner's joints as a force at the wheel, of breakaway or of running torques.

    Attributes:
        title: "preload part only", or "preload and load parts".
        total_lb: balls and inner pivots; the tie rod's ends are apart.
    """

    title: str
    total_lb: Pounds
    preload_lb: Pounds
    load_lb: Pounds = 0.0
    tie_rod_lb: Pounds = 0.0
    by_joint: dict[str, JointShare] = {}


class AgainstShock(Answer):
    """Joint friction at the shock's shaft, and the shaft speed below which it is more than the shock's force.

    Attributes:
        compression_below_in_per_s: absent where that lies outside the measured points; `text` says how.
    """

    friction_lb: Pounds
    text: str
    compression_below_in_per_s: Opt[InchesPerSecond] = UNSET
    rebound_below_in_per_s: Opt[InchesPerSecond] = UNSET


class TightJoints(Answer):
    """Two tight ball joints of a corner against two free ones: preload part at the wheel, and the dead band.

    Attributes:
        tight_band_in: full width of travel in which the wheel can rest.
    """

    tight_lb: Pounds
    free_lb: Pounds
    tight_band_in: Opt[Inches] = UNSET
    free_band_in: Opt[Inches] = UNSET


class WheelLoad(Answer):
    """The forces that one wheel's answer is for.

    Attributes:
        vertical_lb: load on the tire; what the links carry is less by `unsprung_lb`.
        brake: how the brake was taken.
        brake_torque_in_lb: that it passes to the spindle.
    """

    vertical_lb: Pounds
    unsprung_lb: Pounds
    side_lb: Pounds
    braking_lb: Pounds
    brake: Literal["free", "locked"]
    brake_torque_in_lb: InchPounds
    text: str
    contact_lb: Opt[Force] = UNSET
    contact_at_in: Opt[Annotated[list[float], means("x, y, z", unit="in")]] = UNSET


class JointsCorner(Answer):
    """The joints of one front corner.

    Attributes:
        wheel_rate_lb_per_in: without the tire.
        joints: by name: upper_ball, lower_ball, upper_pivot, lower_pivot, tie_inner, tie_outer.
        dead_band_in: full width, of breakaway torques.
        cycle_loss_in_lb: lost in an inch up and an inch down and back, of the running torques' preload part.
        steering_in_lb: of both balls about the steer axis, preload part, breakaway.
        tie_rod_lb: + tension.
        spring_lb: + compression.
    """

    joints: dict[str, Joint]
    tight: TightJoints
    wheel_rate_lb_per_in: Opt[PoundsPerInch] = UNSET
    breakaway: Opt[JointFriction] = UNSET
    dead_band_in: Opt[Inches] = UNSET
    running: Opt[JointFriction] = UNSET
    cycle_loss_in_lb: Opt[InchPounds] = UNSET
    steering_in_lb: Opt[InchPounds] = UNSET
    against_shock: Opt[AgainstShock] = UNSET
    load: Opt[WheelLoad] = UNSET
    tie_rod_lb: Opt[Pounds] = UNSET
    spring_lb: Opt[Pounds] = UNSET


class JointsAnswer(Answer):
    """The front's joints at one revision. Cautions first, then what was assumed.

    Attributes:
        bindings: each joint that binds somewhere, in words; the nearest to binding when none does.
        tight_joints: what four tight ball joints cost against four free ones, in words.
    """

    engine: str
    cautions: list[str]
    assumptions: list[str]
    missing: list[Missing]
    bindings: list[str] = []
    tight_joints: str = ""
    lf: Opt[JointsCorner] = UNSET
    rf: Opt[JointsCorner] = UNSET
