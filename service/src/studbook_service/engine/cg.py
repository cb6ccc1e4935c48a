"""The center of gravity: its place from the scales, its height from weighing with one axle raised."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.vectors import COMPLEX_STEP, Array


class Location(NamedTuple):
    """A place on the ground, + forward and + left of the origin, (*batch)."""

    x_in: Array
    y_in: Array


def cg_from_scales(*, loads_lb: npt.ArrayLike, x_in: npt.ArrayLike, y_in: npt.ArrayLike) -> Location:
    """Center of gravity over the ground by moments of the scale loads.

    Args:
        loads_lb: (4, *batch), or any number of pads.
        x_in: of the patches, + forward, as `loads_lb`.
        y_in: of the patches, + left, as `loads_lb`.

    Raises:
        ValueError: a load below 0, none above 0, or a place that is not finite.

    Source: moments about the axes, any text on statics.

    >>> at = cg_from_scales(loads_lb=[790, 640, 700, 670], x_in=[0, 0, -108, -108], y_in=[33, -33, 32.5, -32.5])
    >>> round(float(at.x_in), 4), round(float(at.y_in), 4)
    (-52.8429, 2.1161)
    """
    loads = bounded("loads_lb", loads_lb, unit="lb", least=0)
    total = bounded("the sum of loads_lb", loads.sum(axis=0), unit="lb", above=0)
    x, y = bounded("x_in", x_in, unit="in"), bounded("y_in", y_in, unit="in")
    return Location((loads * x).sum(axis=0) / total, (loads * y).sum(axis=0) / total)


def tilt_angle(
    *,
    rise_in: npt.ArrayLike,
    wheelbase_in: npt.ArrayLike,
    raised_radius_in: npt.ArrayLike,
    ground_radius_in: npt.ArrayLike,
) -> Array:
    """How far a car is tilted when one axle's center line is raised, deg, (*batch).

    Args:
        rise_in: of that axle's center.
        wheelbase_in: between the axles, level.
        raised_radius_in: loaded radius of the raised axle's tires.
        ground_radius_in: that of the tires which stay.

    Raises:
        ValueError: a length not above 0, or an axle raised higher than the car is long.

    Source: the line of the axle centers keeps its length: sin(θ + θ₀) = (rise + r_raised − r_ground) / its length.

    >>> round(float(tilt_angle(rise_in=15.03, wheelbase_in=108, raised_radius_in=13, ground_radius_in=13)), 2)
    8.0
    """
    base = bounded("wheelbase_in", wheelbase_in, unit="in", above=0)
    step = bounded("raised_radius_in", raised_radius_in, unit="in", above=0) - bounded(
        "ground_radius_in", ground_radius_in, unit="in", above=0
    )
    rise = bounded("rise_in", rise_in, unit="in", above=0)
    line = np.hypot(base, step)
    if not np.all(np.abs(rise + step) < line):
        raise ValueError(f"rise_in is {np.max(rise):g} in; it must be below the wheelbase, {np.min(base):g} in")
    result: Array = np.degrees(np.arcsin((rise + step) / line) - np.arcsin(step / line))
    return result


class CgHeight(NamedTuple):
    """Height of the center of gravity and how sure it is, in, (*batch).

    Attributes:
        height_in: over the ground, the car level.
        sigma_in: its standard uncertainty, all errors together.
        scale_sigma_in, tilt_sigma_in, length_sigma_in: the parts of the scales' errors, of the angle's, and of those of
            wheelbase and radii.
    """

    height_in: Array
    sigma_in: Array
    scale_sigma_in: Array
    tilt_sigma_in: Array
    length_sigma_in: Array


def cg_height(
    *,
    raised_level_lb: npt.ArrayLike,
    ground_level_lb: npt.ArrayLike,
    raised_tilted_lb: npt.ArrayLike,
    wheelbase_in: npt.ArrayLike,
    tilt_deg: npt.ArrayLike,
    raised_radius_in: npt.ArrayLike,
    ground_radius_in: npt.ArrayLike,
    scale_sigma_lb: npt.ArrayLike,
    tilt_sigma_deg: npt.ArrayLike,
    length_sigma_in: npt.ArrayLike,
) -> CgHeight:
    """Height of the center of gravity from weighing level and with one axle raised, the suspension locked.

    h = r_g + b cot θ − (F/W) [L cot θ − (r_raised − r_g)], with b the distance of the center of gravity from the axle
    that stays and F what the raised axle weighs while raised. Either axle may be the raised one.

    Args:
        raised_level_lb: the axle that will be raised, weighed level, (*batch).
        ground_level_lb: the other axle, weighed level.
        raised_tilted_lb: F.
        wheelbase_in: L.
        tilt_deg: θ, of the chassis from level.
        raised_radius_in: loaded radius of the raised axle's tires.
        ground_radius_in: r_g. Ignoring that they differ costs 0.4 in on a usual car.
        scale_sigma_lb: standard error of each of the three weights.
        tilt_sigma_deg: standard error of θ.
        length_sigma_in: standard error of each length.

    Raises:
        ValueError: a weight, length or angle not above 0, an angle of 45 deg or more, an error below 0.

    Source: for equal radii openbooks.link/?p=9580 eq. 3; for unequal ones from the statics, their need in SAE
    2004-01-1076 (abstract). Uncertainties add as squares (first order), the errors independent.

    >>> sure = cg_height(
    ...     raised_level_lb=1316, ground_level_lb=1484, raised_tilted_lb=1308.8076326556172, wheelbase_in=108,
    ...     tilt_deg=8, raised_radius_in=12.6, ground_radius_in=13.4,
    ...     scale_sigma_lb=1, tilt_sigma_deg=0.1, length_sigma_in=0.03,
    ... )
    >>> round(float(sure.height_in), 6), round(float(sure.sigma_in), 2)
    (15.0, 0.39)
    """
    values = (
        bounded("raised_level_lb", raised_level_lb, unit="lb", above=0),
        bounded("ground_level_lb", ground_level_lb, unit="lb", above=0),
        bounded("raised_tilted_lb", raised_tilted_lb, unit="lb", above=0),
        bounded("tilt_deg", tilt_deg, unit="deg", above=0, most=45),
        bounded("wheelbase_in", wheelbase_in, unit="in", above=0),
        bounded("raised_radius_in", raised_radius_in, unit="in", above=0),
        bounded("ground_radius_in", ground_radius_in, unit="in", above=0),
    )
    scale = bounded("scale_sigma_lb", scale_sigma_lb, unit="lb", least=0)
    tilt = bounded("tilt_sigma_deg", tilt_sigma_deg, unit="deg", least=0)
    length = bounded("length_sigma_in", length_sigma_in, unit="in", least=0)
    slopes = [
        _height(*(each + 1j * COMPLEX_STEP * (index == at) for at, each in enumerate(values))).imag / COMPLEX_STEP
        for index in range(len(values))
    ]
    by_scale = scale * np.sqrt(sum(slope**2 for slope in slopes[:3]))
    by_tilt = tilt * np.abs(slopes[3])
    by_length = length * np.sqrt(sum(slope**2 for slope in slopes[4:]))
    return CgHeight(
        height_in=_height(*values),
        sigma_in=np.sqrt(by_scale**2 + by_tilt**2 + by_length**2),
        scale_sigma_in=by_scale,
        tilt_sigma_in=by_tilt,
        length_sigma_in=by_length,
    )


def _height(
    raised_level: Array, ground_level: Array, tilted: Array, tilt: Array, base: Array, raised: Array, ground: Array
) -> Array:
    total = raised_level + ground_level
    slope = 1 / np.tan(tilt * (np.pi / 180))
    height: Array = ground + slope * base * raised_level / total - tilted / total * (base * slope - (raised - ground))
    return height
