"""A car on level ground at attitudes of its chassis, with its tires deflected by their loads."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from studbook_service.engine.attitude import Stance, car_stance
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.vectors import Array
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.front_end import FrontEnd
from studbook_service.translate.rear_end import RearEnd
from studbook_service.translate.ride import attitude

STRAIGHT = np.zeros((2, 3, 1))


class ChassisAttitude(NamedTuple):
    """An attitude of the chassis since the survey: heave + up, roll + right side down, pitch + nose down."""

    heave_in: float
    roll_deg: float
    pitch_deg: float

    def moved(self, by: CarState) -> "ChassisAttitude":
        """Give the attitude after a chassis has moved further; angles this small add up."""
        return ChassisAttitude(*(float(here + getattr(by, name)) for name, here in self._asdict().items()))


def ride_height(reader: DocumentReader, since: CarState | None = None) -> ChassisAttitude:
    """Give where a car stands.

    `since` is what the changes since its heights were read did; None where that is not known.

    Raises:
        CannotClose: heights that no chassis has.
    """
    read = attitude(reader)
    if read is None:
        reader.assume("the chassis is taken at its surveyed height: no three heights with their places were read since")
    here = ChassisAttitude(*(read or (0.0, 0.0, 0.0)))
    return here if since is None else here.moved(since)


def stances(
    front: FrontEnd,
    rear: RearEnd,
    attitudes: Sequence[ChassisAttitude],
    *,
    tire_deflection_in: Array,
    steer_in: Array = STRAIGHT,
) -> Stance:
    """Put a car on the ground.

    Args:
        front: with both corners.
        rear: the axle.
        attitudes: since the survey; the batch.
        tire_deflection_in: of each tire beyond that at its loaded radius, (4, attitudes) or (4, 1).
        steer_in: displacement of the left and the right inner tie-rod end, (2, 3, attitudes) or (2, 3, 1).

    Returns:
        The stance, with the camber and toe that are built into the axle.
    """
    heave, roll, pitch = np.array(attitudes).T
    stance = car_stance(
        left=front.each["lf"],
        right=front.each["rf"],
        axle=rear.axle,
        heave_in=heave,
        roll_deg=roll,
        pitch_deg=pitch,
        steer_in=steer_in,
        radius_change_in=np.array([0.0, 0.0, *rear.radius_change_in])[:, None] - tire_deflection_in,
    )
    camber, toe = (np.array([0.0, 0.0, *built_in])[:, None] for built_in in (rear.camber_deg, rear.toe_deg))
    return replace(stance, camber_deg=stance.camber_deg + camber, toe_deg=stance.toe_deg + toe)
