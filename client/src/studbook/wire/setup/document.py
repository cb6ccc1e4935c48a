"""The whole document: survey, setup and measured, kept apart so that cause and result never mix."""

from msgspec import UNSET

from studbook.wire.setup.car import (
    BallastItem,
    Brakes,
    CenterOfGravity,
    Drivetrain,
    FuelCell,
    Rules,
    Seat,
    Track,
    Wheelbase,
)
from studbook.wire.setup.common import Basis, FieldGroup, Heights, Name, Text, When
from studbook.wire.setup.front import Front, SurveyedFront
from studbook.wire.setup.measured import Measured
from studbook.wire.setup.rear import Rear, SurveyedRear
from studbook.wire.units import Opt


class Survey(FieldGroup):
    """Where everything was, and what was fitted, when the hard points were measured; only a new survey changes it."""

    date: Opt[When] = UNSET
    by: Opt[Name] = UNSET
    basis: Opt[Basis] = UNSET
    ride_height: Opt[Heights] = UNSET
    wheelbase: Opt[Wheelbase] = UNSET
    track: Opt[Track] = UNSET
    front: Opt[SurveyedFront] = UNSET
    rear: Opt[SurveyedRear] = UNSET


class Fitted(FieldGroup):
    """What is on the car."""

    front: Opt[Front] = UNSET
    rear: Opt[Rear] = UNSET
    cg: Opt[CenterOfGravity] = UNSET
    ballast: Opt[dict[str, BallastItem]] = UNSET
    fuel_cell: Opt[FuelCell] = UNSET
    seat: Opt[Seat] = UNSET
    drivetrain: Opt[Drivetrain] = UNSET
    brakes: Opt[Brakes] = UNSET
    rules: Opt[Rules] = UNSET
    surface: Opt[Name] = UNSET


class Setup(FieldGroup):
    """A car's setup as one document. Every field is optional; a computation says which fields it lacks.

    Example:
        >>> import msgspec
        >>> msgspec.convert({"notes": "tacky"}, Setup).notes
        'tacky'
    """

    survey: Opt[Survey] = UNSET
    setup: Opt[Fitted] = UNSET
    measured: Opt[Measured] = UNSET
    notes: Opt[Text] = UNSET
