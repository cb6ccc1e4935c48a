"""Readings: what was measured, when, by whom and on what basis. A reading is a result, never a cause."""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.setup.car import Track, Wheelbase
from studbook.wire.setup.common import Alignment, Basis, FieldGroup, Heights, Name, Text, When
from studbook.wire.setup.joints import JointReading
from studbook.wire.units import Opt, means, within

CornerLoad = Annotated[float, within("lb", 150, 1500)]
BumpRow = tuple[
    Annotated[float, within("in", -8, 8)],
    Annotated[float, within("in", -3, 3)],
    Annotated[float, within("deg", -15, 15)],
]


class Scales(FieldGroup):
    """Corner weights."""

    at: Opt[When] = UNSET
    lf_lb: Opt[CornerLoad] = UNSET
    rf_lb: Opt[CornerLoad] = UNSET
    lr_lb: Opt[CornerLoad] = UNSET
    rr_lb: Opt[CornerLoad] = UNSET


AxleLoad = Annotated[float, within("lb", 400, 2500)]


class RaisedWeighing(FieldGroup):
    """A weighing with one axle raised and the suspension locked, from which the height of the weight follows."""

    at: Opt[When] = UNSET
    raised: Opt[Annotated[Literal["front", "rear"], means("the axle that was raised")]] = UNSET
    raised_level_lb: Opt[Annotated[AxleLoad, means("that axle, weighed level")]] = UNSET
    ground_level_lb: Opt[Annotated[AxleLoad, means("the other axle, weighed level")]] = UNSET
    raised_tilted_lb: Opt[Annotated[AxleLoad, means("the raised axle, weighed while raised")]] = UNSET
    tilt_deg: Opt[Annotated[float, within("deg", 2, 30, "of the chassis from its level stand")]] = UNSET
    rise_in: Opt[Annotated[float, within("in", 4, 50, "of that axle's center, where the angle was not read")]] = UNSET
    scale_sigma_lb: Opt[Annotated[float, within("lb", 0, 20, "standard error of each weight")]] = UNSET
    tilt_sigma_deg: Opt[Annotated[float, within("deg", 0, 2, "standard error of the angle")]] = UNSET
    length_sigma_in: Opt[Annotated[float, within("in", 0, 1, "standard error of wheelbase and radii")]] = UNSET


class AlignmentReading(Alignment):
    """Camber, caster and toe as read; it overrides what is computed until the reading is of an older fit."""

    at: Opt[When] = UNSET
    by: Opt[Name] = UNSET


class BumpSheet(FieldGroup):
    """Dial readings of toe and camber over travel."""

    at: Opt[When] = UNSET
    plate_length_in: Opt[Annotated[float, within("in", 8, 40, "length over which toe was read")]] = UNSET
    travel_toe_camber: Opt[
        Annotated[
            list[BumpRow],
            means("rows of wheel travel in, toe in over the plate (+ in), camber deg; from ride height", most=64),
        ]
    ] = UNSET


class MeasuredFrontCorner(FieldGroup):
    """Readings at one front corner; a torque of an inner pivot is of the whole arm about its pivots."""

    alignment: Opt[AlignmentReading] = UNSET
    bump_sheet: Opt[BumpSheet] = UNSET
    upper_joint: Opt[JointReading] = UNSET
    lower_joint: Opt[JointReading] = UNSET
    upper_pivot: Opt[JointReading] = UNSET
    lower_pivot: Opt[JointReading] = UNSET
    tie_inner: Opt[JointReading] = UNSET
    tie_outer: Opt[JointReading] = UNSET
    shock_travel_in: Opt[Annotated[float, within("in", 0, 12, "travel marker on the shaft, after a run")]] = UNSET
    pressure_hot_psi: Opt[Annotated[float, within("psi", 4, 60)]] = UNSET


class MeasuredRearCorner(FieldGroup):
    """Readings at one rear corner."""

    lead_in: Opt[Annotated[float, within("in", -2, 3, "+ forward of square")]] = UNSET
    birdcage_index_deg: Opt[Annotated[float, within("deg", -45, 45)]] = UNSET
    shock_travel_in: Opt[Annotated[float, within("in", 0, 12)]] = UNSET
    pressure_hot_psi: Opt[Annotated[float, within("psi", 4, 60)]] = UNSET


class MeasuredFront(FieldGroup):
    """Readings at the front."""

    lf: Opt[MeasuredFrontCorner] = UNSET
    rf: Opt[MeasuredFrontCorner] = UNSET


class MeasuredRear(FieldGroup):
    """Readings at the rear."""

    lr: Opt[MeasuredRearCorner] = UNSET
    rr: Opt[MeasuredRearCorner] = UNSET
    pinion_deg: Opt[Annotated[float, within("deg", -15, 15)]] = UNSET


class Stagger(FieldGroup):
    """Rollout right minus left."""

    front_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET
    rear_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET


class Run(FieldGroup):
    """What a run left behind."""

    fuel_burned_lb: Opt[Annotated[float, within("lb", 0, 270)]] = UNSET
    stagger_hot_front_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET
    stagger_hot_rear_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET
    lap_times_s: Opt[
        Annotated[list[Annotated[float, within("s", 5, 300)]], means("lap by lap", unit="s", most=500)]
    ] = UNSET
    groove: Opt[Annotated[str, means("where on the track", most=200)]] = UNSET
    yaw_feel: Opt[Annotated[str, means("tight, loose; entry, middle, exit", most=400)]] = UNSET


class Measured(FieldGroup):
    """All readings of this revision."""

    at: Opt[When] = UNSET
    by: Opt[Name] = UNSET
    basis: Opt[Basis] = UNSET
    scales: Opt[Scales] = UNSET
    raised_weighing: Opt[RaisedWeighing] = UNSET
    ride_height: Opt[Heights] = UNSET
    wheelbase: Opt[Wheelbase] = UNSET
    track: Opt[Track] = UNSET
    stagger: Opt[Stagger] = UNSET
    front: Opt[MeasuredFront] = UNSET
    rear: Opt[MeasuredRear] = UNSET
    run: Opt[Run] = UNSET
    notes: Opt[Text] = UNSET
