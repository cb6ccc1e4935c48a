"""The path in a corner: how fast, how tight, how banked, and what the surface must then give."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.ride import GRAVITY_IN_PER_S2
from studbook_service.engine.vectors import Array

MPH_IN_IN_PER_S = 63360 / 3600
"""17.6 inches a second to a mile an hour."""


def mean_speed(*, distance_in: npt.ArrayLike, time_s: npt.ArrayLike, corner_factor: npt.ArrayLike) -> Array:
    """Speed in the corner from a time, in/s, (*batch).

    Args:
        distance_in: what was driven in that time: the lap, or the segment round the corner.
        time_s: how long it took.
        corner_factor: corner speed over the mean speed of that distance: 1 for a segment through the corner alone. A
            lap's mean is not the corner's speed; that is 0.80 to 0.95 of it (common practice, no source).

    Raises:
        ValueError: a distance or time not above 0, or a factor outside 0 to 1.5.

    Source: definition.

    >>> float(mean_speed(distance_in=1320 * 12, time_s=18.0, corner_factor=0.9))
    792.0
    """
    distance = bounded("distance_in", distance_in, unit="in", above=0)
    time = bounded("time_s", time_s, unit="s", above=0)
    result: Array = (
        distance / time * bounded("corner_factor", corner_factor, unit="of the mean speed", above=0, most=1.5)
    )
    return result


class InPlane(NamedTuple):
    """What the track's surface must give, in weights of the car, (*batch).

    Attributes:
        lateral_g: in the surface, toward the inside of a left turn.
        normal_g: square to the surface.
    """

    lateral_g: npt.ArrayLike
    normal_g: npt.ArrayLike


def in_plane(*, speed_in_per_s: npt.ArrayLike, radius_in: npt.ArrayLike, bank_deg: npt.ArrayLike = 0.0) -> InPlane:
    """Forces along and square to a banked track: (V²/Rg) cos β − sin β, and cos β + (V²/Rg) sin β.

    Args:
        speed_in_per_s: V, (*batch).
        radius_in: R of the path, seen from above.
        bank_deg: β, + raised at the outside.

    Raises:
        ValueError: a speed below 0, a radius not above 0, a bank outside −10 to 70 deg.

    Source: weight and V²/R resolved in the track's plane, any text on mechanics.

    >>> [round(float(g), 4) for g in in_plane(speed_in_per_s=85 * 17.6, radius_in=700 * 12, bank_deg=12)]
    [0.4671, 1.1216]
    """
    speed = bounded("speed_in_per_s", speed_in_per_s, unit="in per s", least=0)
    radius = bounded("radius_in", radius_in, unit="in", above=0)
    bank = np.radians(bounded("bank_deg", bank_deg, unit="deg", least=-10, most=70))
    central = speed**2 / (radius * GRAVITY_IN_PER_S2)
    return InPlane(central * np.cos(bank) - np.sin(bank), np.cos(bank) + central * np.sin(bank))
