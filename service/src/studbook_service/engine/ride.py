"""A corner on its spring, tire and shock: rates in series, natural frequency, damping."""

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.vectors import Array

GRAVITY_IN_PER_S2 = 9.80665 / 0.0254
"""Standard gravity, 386.0886 in/s² (NIST SP 811)."""


def series_rate(*, spring_lb_per_in: npt.ArrayLike, tire_lb_per_in: npt.ArrayLike) -> Array:
    """Rate of two springs in series, such as wheel rate and tire; lb per in, (*batch).

    Raises:
        ValueError: a rate not above 0.

    Source: the force is shared, the deflections add.

    >>> round(float(series_rate(spring_lb_per_in=200, tire_lb_per_in=1500)), 4)
    176.4706
    """
    one = bounded("spring_lb_per_in", spring_lb_per_in, unit="lb per in", above=0, holes=True)
    other = bounded("tire_lb_per_in", tire_lb_per_in, unit="lb per in", above=0, holes=True)
    result: Array = one * other / (one + other)
    return result


def natural_frequency(*, rate_lb_per_in: npt.ArrayLike, weight_lb: npt.ArrayLike) -> Array:
    """Undamped natural frequency √(k/m)/2π of a weight on a rate, Hz, (*batch).

    For ride the weight is the *sprung* weight of the corner and the rate the wheel rate in series with the tire; for
    wheel hop the unsprung weight, on wheel rate and tire side by side.

    Raises:
        ValueError: a rate or weight not above 0.

    Source: any text on vibrations; mass = weight / 386.0886.

    >>> round(float(natural_frequency(rate_lb_per_in=200, weight_lb=600)), 4)
    1.8055
    """
    rate = bounded("rate_lb_per_in", rate_lb_per_in, unit="lb per in", above=0, holes=True)
    weight = bounded("weight_lb", weight_lb, unit="lb", above=0, holes=True)
    result: Array = np.sqrt(rate * GRAVITY_IN_PER_S2 / weight) / (2 * np.pi)
    return result


def wheel_damping(*, coefficient_lb_s_per_in: npt.ArrayLike, motion_ratio: npt.ArrayLike) -> Array:
    """Damping coefficient at the wheel, c MR², lb s per in, (*batch).

    Args:
        coefficient_lb_s_per_in: of the shock: a slope of its curve, or the equivalent one of a cycle.
        motion_ratio: of the *shock*, −d(length)/d(travel).

    Raises:
        ValueError: a coefficient below 0, or a ratio that is not finite.

    Source: the shaft moves MR times the wheel's speed, and its force acts MR times at the wheel.

    >>> float(wheel_damping(coefficient_lb_s_per_in=20, motion_ratio=0.5))
    5.0
    """
    coefficient = bounded("coefficient_lb_s_per_in", coefficient_lb_s_per_in, unit="lb s per in", least=0, holes=True)
    result: Array = coefficient * bounded("motion_ratio", motion_ratio, unit="in per in", holes=True) ** 2
    return result


def damping_ratio(
    *, coefficient_lb_s_per_in: npt.ArrayLike, rate_lb_per_in: npt.ArrayLike, weight_lb: npt.ArrayLike
) -> Array:
    """Damping ratio ζ = c / (2 √(k m)), (*batch).

    Args:
        coefficient_lb_s_per_in: at the wheel.
        rate_lb_per_in: the wheel rate.
        weight_lb: sprung weight of the corner.

    Raises:
        ValueError: a coefficient below 0, a rate or weight not above 0.

    Source: any text on vibrations.

    >>> round(float(damping_ratio(coefficient_lb_s_per_in=12, rate_lb_per_in=200, weight_lb=600)), 4)
    0.3403
    """
    coefficient = bounded("coefficient_lb_s_per_in", coefficient_lb_s_per_in, unit="lb s per in", least=0, holes=True)
    rate = bounded("rate_lb_per_in", rate_lb_per_in, unit="lb per in", above=0, holes=True)
    weight = bounded("weight_lb", weight_lb, unit="lb", above=0, holes=True)
    result: Array = coefficient / (2 * np.sqrt(rate * weight / GRAVITY_IN_PER_S2))
    return result
