"""Ball joints: studs, housings and what was read from them."""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.setup.common import Direction, FieldGroup, Name, Point, When
from studbook.wire.units import Opt, means, within

Length = Annotated[
    float, within("in", 0.6, 3, "ball center to the large end of the seat's taper, not a catalog length")
]
BallOffset = Annotated[
    float, within("in", -3, 3, "ball center from the arm's housing shoulder, along the housing's axis")
]


Section = tuple[Annotated[float, within("in", 0.2, 1.6)], Annotated[float, within("in", 0.05, 3)]]


class SurveyedStud(FieldGroup):
    """The stud that was fitted when the hard points were measured."""

    length_in: Opt[Length] = UNSET
    axis: Opt[Direction] = UNSET
    axis_points_in: Opt[
        Annotated[
            tuple[Point, Point],
            means("two points on a straight rod in the taper: seat first, then ball", unit="in"),
        ]
    ] = UNSET
    ball_is: Opt[
        Annotated[
            Literal["outside", "inside"], means("where the arm holds the ball: outside the bosses, or between them")
        ]
    ] = UNSET


class SurveyedHousing(FieldGroup):
    """The joint housing that was fitted when the hard points were measured."""

    ball_offset_in: Opt[BallOffset] = UNSET
    axis: Opt[Direction] = UNSET


class Material(FieldGroup):
    """Strength data; never defaulted, since tables for one alloy differ by a quarter."""

    yield_psi: Opt[Annotated[float, within("psi", 20_000, 350_000, "yield strength")]] = UNSET
    source: Opt[Annotated[str, means("who says so", most=400)]] = UNSET
    section_in: Opt[Annotated[float, within("in", 0.1, 6, "section size the figure is for")]] = UNSET
    hardness: Opt[Name] = UNSET


class Stud(FieldGroup):
    """A stud as fitted."""

    length_in: Opt[Length] = UNSET
    seat_diameter_in: Opt[Annotated[float, within("in", 0.4, 1.1, "at the large end of the taper")]] = UNSET
    neck_diameter_in: Opt[Annotated[float, within("in", 0.4, 1.1, "smallest section between ball and seat")]] = UNSET
    sections_in: Opt[
        Annotated[
            list[Section],
            means(
                "pairs of diameter and distance from the ball's center of other round sections: neck, undercut, groove",
                unit="in",
                most=8,
            ),
        ]
    ] = UNSET
    ball_diameter_in: Opt[Annotated[float, within("in", 0.7, 1.6)]] = UNSET
    friction_ratio: Opt[Annotated[float, within("ratio", 0, 1, "of ball on seat, measured", usual=(0.02, 0.3))]] = UNSET
    taper_included_deg: Opt[Annotated[float, within("deg", 4, 16)]] = UNSET
    thread: Opt[Name] = UNSET
    nut_torque_ft_lb: Opt[Annotated[float, within("ft_lb", 25, 120, "by the part maker's instruction")]] = UNSET
    lock: Opt[Annotated[str, means("cotter pin, locking nut, wire", most=200)]] = UNSET
    nights: Opt[Annotated[int, within("count", 0, 1000, "race nights on this stud")]] = UNSET
    preload_target_in_lb: Opt[
        Annotated[float, within("in_lb", 0, 300, "breakaway torque the joint is set to", usual=(0, 60))]
    ] = UNSET
    swing_limit_deg: Opt[Annotated[float, within("deg", 10, 40, "from the housing's axis to contact")]] = UNSET
    material: Opt[Material] = UNSET
    part: Opt[Name] = UNSET


class Housing(FieldGroup):
    """A joint housing as fitted in its arm."""

    ball_offset_in: Opt[BallOffset] = UNSET
    axis: Opt[Direction] = UNSET
    mount: Opt[
        Annotated[Literal["screwed", "pressed", "bolted"], means("a pressed housing is no job between races")]
    ] = UNSET
    engaged_in: Opt[Annotated[float, within("in", 0, 3, "thread engaged, or depth pressed")]] = UNSET
    part: Opt[Name] = UNSET


class JointReading(FieldGroup):
    """Torque and play of one joint, as read."""

    at: Opt[When] = UNSET
    by: Opt[Name] = UNSET
    breakaway_in_lb: Opt[Annotated[float, within("in_lb", 0, 300, "to start from rest", usual=(0, 60))]] = UNSET
    running_in_lb: Opt[Annotated[float, within("in_lb", 0, 300, "to keep turning", usual=(0, 60))]] = UNSET
    turned_about: Opt[Annotated[Literal["stud_axis", "swung"], means("turned about the stud, or swung across it")]] = (
        UNSET
    )
    measured_on: Opt[Annotated[Literal["bench", "car"], means("loose in the vise, or drawn into the taper")]] = UNSET
    after_turns: Opt[Annotated[int, within("count", 0, 100, "turns to settle before reading")]] = UNSET
    temperature_deg_f: Opt[Annotated[float, within("deg_f", -20, 350)]] = UNSET
    pull_lb: Opt[Annotated[float, within("lb", 0, 60, "pull scale reading, when read that way")]] = UNSET
    lever_in: Opt[Annotated[float, within("in", 2, 24, "lever the scale pulled on")]] = UNSET
    play_axial_in: Opt[Annotated[float, within("in", 0, 0.06, "by dial", usual=(0, 0.005))]] = UNSET
    play_radial_in: Opt[Annotated[float, within("in", 0, 0.06, "by dial", usual=(0, 0.005))]] = UNSET
