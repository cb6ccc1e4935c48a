"""Springs, perches, stops, limits, shocks and anti-roll bars."""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.setup.common import FieldGroup, Name, Point, Text, When
from studbook.wire.units import Opt, means, within

SitsOn = Annotated[
    Literal["lower_arm", "upper_arm", "spindle", "axle", "birdcage"],
    means("the body that carries the moving end"),
]


class Mounts(FieldGroup):
    """Where a spring or shock is held, at the survey."""

    chassis_in: Opt[Point] = UNSET
    moving_in: Opt[Point] = UNSET
    sits_on: Opt[SitsOn] = UNSET


class Perch(FieldGroup):
    """The adjustable seat of a spring; its position is the thread that shows, turns are only ever a change."""

    thread_showing_in: Opt[Annotated[float, within("in", 0, 8)]] = UNSET
    in_per_turn: Opt[Annotated[float, within("in_per_turn", 0.04, 0.125, "thread pitch, along the spring")]] = UNSET


class SecondSpring(FieldGroup):
    """A stacked, helper or tender spring in series with the main one."""

    rate_lb_per_in: Opt[Annotated[float, within("lb_per_in", 5, 1500)]] = UNSET
    stop_gap_in: Opt[Annotated[float, within("in", 0, 8, "travel until it is bypassed")]] = UNSET


class Spring(FieldGroup):
    """A spring as fitted."""

    rate_lb_per_in: Opt[Annotated[float, within("lb_per_in", 75, 1500)]] = UNSET
    free_length_in: Opt[Annotated[float, within("in", 3, 26)]] = UNSET
    installed_length_in: Opt[Annotated[float, within("in", 3, 26)]] = UNSET
    coil_bind_in: Opt[Annotated[float, within("in", 1.5, 20, "length at which the coils touch")]] = UNSET
    kind: Opt[Annotated[Literal["coil_over", "big", "leaf", "torsion"], means("how it is built in")]] = UNSET
    rubber_count: Opt[Annotated[int, within("count", 0, 4)]] = UNSET
    rubber_rate_lb_per_in: Opt[Annotated[float, within("lb_per_in", 0, 150, "added by each rubber")]] = UNSET
    second: Opt[SecondSpring] = UNSET
    perch: Opt[Perch] = UNSET
    part: Opt[Name] = UNSET


DeflectionCurve = Annotated[
    list[tuple[Annotated[float, within("in", 0, 6)], Annotated[float, within("lb", 0, 5000)]]],
    means("pairs of in and lb, in growing", most=64),
]


class BumpStop(FieldGroup):
    """A bump stop or bump spring."""

    gap_in: Opt[Annotated[float, within("in", 0, 6, "wheel still free, at the stop")]] = UNSET
    packers_in: Opt[Annotated[float, within("in", 0, 6)]] = UNSET
    curve_in_lb_pairs: Opt[DeflectionCurve] = UNSET
    part: Opt[Name] = UNSET


class DroopLimit(FieldGroup):
    """What stops the wheel from hanging lower."""

    kind: Opt[Annotated[Literal["chain", "strap", "shock"], means("a shock should not be the limit")]] = UNSET
    travel_in: Opt[Annotated[float, within("in", 0.5, 10, "wheel droop from ride height")]] = UNSET


SpeedForce = tuple[
    Annotated[float, within("in_per_s", 0, 30)],
    Annotated[float, within("lb", -2000, 2000)],
]
ForceCurve = Annotated[
    list[SpeedForce], means("pairs of shaft speed in/s and force lb, speed growing from 0.1", most=64)
]
ShimDisc = tuple[Annotated[float, within("in", 0.3, 2.5)], Annotated[float, within("in", 0.002, 0.1)]]
Stack = Annotated[list[ShimDisc], means("pairs of diameter and thickness in, piston side first", most=64, unit="in")]


class Damping(FieldGroup):
    """One direction of a shock's valving."""

    clicks: Opt[Annotated[int, within("count", 0, 60)]] = UNSET
    bleed_in: Opt[Annotated[float, within("in", 0, 0.5, "bleed hole diameter")]] = UNSET
    stack_in: Opt[Stack] = UNSET
    curve_in_per_s_lb: Opt[ForceCurve] = UNSET


class Shock(FieldGroup):
    """A shock as fitted."""

    compression: Opt[Damping] = UNSET
    rebound: Opt[Damping] = UNSET
    clicks_counted_from: Opt[
        Annotated[Literal["full_stiff", "full_soft"], means("a click count without it means nothing")]
    ] = UNSET
    gas_psi: Opt[Annotated[float, within("psi", 0, 300)]] = UNSET
    gas_force_in_curve: Opt[Annotated[bool, means("whether the curve still holds the gas force")]] = UNSET
    rod_diameter_in: Opt[Annotated[float, within("in", 0.4, 0.75)]] = UNSET
    extended_length_in: Opt[Annotated[float, within("in", 8, 30)]] = UNSET
    compressed_length_in: Opt[Annotated[float, within("in", 6, 25)]] = UNSET
    stroke_in: Opt[Annotated[float, within("in", 3, 12)]] = UNSET
    dyno_stroke_in: Opt[Annotated[float, within("in", 0.2, 6, "stroke of the dyno run")]] = UNSET
    dyno_date: Opt[When] = UNSET
    dyno_temperature_deg_f: Opt[Annotated[float, within("deg_f", 20, 350)]] = UNSET
    oil: Opt[Name] = UNSET
    serial: Opt[Name] = UNSET
    notes: Opt[Text] = UNSET


class Bar(FieldGroup):
    """An anti-roll bar: round bar or tube with two arms."""

    outer_diameter_in: Opt[Annotated[float, within("in", 0.5, 2.5)]] = UNSET
    inner_diameter_in: Opt[Annotated[float, within("in", 0, 2.4, "0 for a solid bar")]] = UNSET
    active_length_in: Opt[Annotated[float, within("in", 10, 50)]] = UNSET
    arm_left_in: Opt[Annotated[float, within("in", 4, 20)]] = UNSET
    arm_right_in: Opt[Annotated[float, within("in", 4, 20)]] = UNSET
    rate_lb_per_in: Opt[
        Annotated[float, within("lb_per_in", 0, 2000, "force at each wheel per in of travel difference")]
    ] = UNSET
    motion_ratio: Opt[Annotated[float, within("ratio", 0.2, 1.5, "travel of an arm's end over its wheel's")]] = UNSET
    in_per_turn: Opt[Annotated[float, within("in_per_turn", 0.02, 0.2, "how much a turn moves its link")]] = UNSET
    preload_turns: Opt[Annotated[float, within("turns", 0, 6)]] = UNSET
    preload_side: Opt[
        Annotated[
            Literal["left", "right"],
            means(
                "the link it is put in at: left lifts the left wheel and presses the right, as roll in a left turn does"
            ),
        ]
    ] = UNSET
    slack_in: Opt[Annotated[float, within("in", 0, 6, "free travel before it works")]] = UNSET
    hooked: Opt[Annotated[bool, means("linked, as raced")]] = UNSET
