"""A document's car on level ground at attitudes of its chassis, its tires squashed as their loads say."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from studbook_service.engine.attitude import Stance, car_stance
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.vectors import Array
from studbook_service.translate.document import Document
from studbook_service.translate.front_end import FrontEnd
from studbook_service.translate.rear_end import RearEnd
from studbook_service.translate.ride import attitude

STRAIGHT = np.zeros((2, 3, 1))


class Place(NamedTuple):
    """An attitude of the chassis since the survey: heave + up, roll + right side down, pitch + nose down."""

    heave_in: float
    roll_deg: float
    pitch_deg: float

    def moved(self, by: CarState) -> "Place":
        """Give the attitude after a chassis has moved further; angles this small add up."""
        return Place(*(float(here + getattr(by, name)) for name, here in self._asdict().items()))


def ride_height(page: Document, since: CarState | None = None) -> Place:
    """Give where a car stands.

    Args:
        page: the document; an assumption is noted in it.
        since: what was changed since its heights were read does; None where that is not known.

    Raises:
        CannotCloseError: heights that no chassis has.
    """
    read = attitude(page)
    if read is None:
        page.assume("the chassis is taken at its surveyed height: no three heights with their places were read since")
    place = Place(*(read or (0.0, 0.0, 0.0)))
    return place if since is None else place.moved(since)


def stances(
    front: FrontEnd, rear: RearEnd, places: Sequence[Place], *, squash_in: Array, steer_in: Array = STRAIGHT
) -> Stance:
    """Put a car on the ground.

    Args:
        front: with both corners.
        rear: the axle.
        places: attitudes since the survey; the batch.
        squash_in: by how much each tire is squashed more than at its loaded radius, (4, places) or (4, 1).
        steer_in: displacement of the left and the right inner tie-rod end, (2, 3, places) or (2, 3, 1).

    Returns:
        The stance; what camber and toe are built into the axle is in.
    """
    heave, roll, pitch = np.array(places).T
    stance = car_stance(
        left=front.each["lf"],
        right=front.each["rf"],
        axle=rear.axle,
        heave_in=heave,
        roll_deg=roll,
        pitch_deg=pitch,
        steer_in=steer_in,
        radius_change_in=np.array([0.0, 0.0, *rear.radius_change_in])[:, None] - squash_in,
    )
    camber, toe = (np.array([0.0, 0.0, *built_in])[:, None] for built_in in (rear.camber_deg, rear.toe_deg))
    return replace(stance, camber_deg=stance.camber_deg + camber, toe_deg=stance.toe_deg + toe)
