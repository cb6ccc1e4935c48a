"""An axle's two springs at its two wheels: independent corners, or a beam axle's full 2×2 stiffness.

The springs of a beam axle are inboard of its wheels, so each feels the travel of both. Two wheel rates cannot express
that: taken at the wheels they overstate roll by the square of track over spring base, taken by the lever's ratio they
understate heave as much.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import diagonal
from studbook_service.engine.bounds import bounded, shaped
from studbook_service.engine.vectors import Array


class AxleSprings(NamedTuple):
    """The springs of an axle at its wheels, left then right.

    Attributes:
        rates_lb_per_in: K, force on each wheel per inch of travel of each, (2, 2, *batch).
        per_perch: how far each wheel is displaced, chassis up, per inch that each perch compresses its spring, the
            loads held, (2, 2, *batch).
    """

    rates_lb_per_in: Array
    per_perch: Array


def independent_wheels(
    *,
    left_lb_per_in: npt.ArrayLike,
    right_lb_per_in: npt.ArrayLike,
    left_ratio: npt.ArrayLike = 1.0,
    right_ratio: npt.ArrayLike = 1.0,
) -> AxleSprings:
    """The springs of two independent corners.

    Args:
        left_lb_per_in: rate at the left wheel, (*batch): k MR² and what the linkage adds, without the tire.
        right_lb_per_in: at the right.
        left_ratio: motion ratio of the left spring, −d(length)/d(travel); a perch's inch is 1/MR at the wheel.
        right_ratio: of the right.

    Raises:
        ValueError: a rate or ratio not above 0.

    Source: definitions.

    >>> independent_wheels(left_lb_per_in=160, right_lb_per_in=180, right_ratio=0.5).per_perch.tolist()
    [[1.0, 0.0], [0.0, 2.0]]
    """
    left = bounded("left_lb_per_in", left_lb_per_in, unit="lb per in", above=0)
    right = bounded("right_lb_per_in", right_lb_per_in, unit="lb per in", above=0)
    ratio_left = bounded("left_ratio", left_ratio, unit="in per in", above=0)
    ratio_right = bounded("right_ratio", right_ratio, unit="in per in", above=0)
    return AxleSprings(diagonal(left, right), diagonal(1 / ratio_left, 1 / ratio_right))


def beam_axle(*, per_wheel: npt.ArrayLike, spring_lb_per_in: npt.ArrayLike) -> AxleSprings:
    """The springs of a beam axle: K = Jᵀ k J.

    What the static forces add as the levers change with travel is left out.

    Args:
        per_wheel: J, d(length)/d(travel) of each spring against each wheel, the other held, (2 springs, 2 wheels,
            *batch), left first. A spring gets shorter in bump, so that its own wheel's number is below 0. From
            `upright_springs` for upright springs on a plain axle, from `rear_motion` for any other.
        spring_lb_per_in: k, rate of each spring along itself, (2, *batch).

    Raises:
        ValueError: a rate not above 0, a spring that does not shorten in bump, or springs that leave the axle a motion
            without any force.

    Source: virtual work.

    >>> middle = beam_axle(per_wheel=[[-0.75, -0.25], [-0.25, -0.75]], spring_lb_per_in=[200, 200])
    >>> middle.rates_lb_per_in.tolist()
    [[125.0, 75.0], [75.0, 125.0]]
    """
    lengths = shaped("per_wheel", bounded("per_wheel", per_wheel, unit="in per in"), 2, 2)
    rates = bounded("spring_lb_per_in", spring_lb_per_in, unit="lb per in", above=0)
    rates = shaped("spring_lb_per_in", rates, 2)
    bump = lengths.sum(axis=1)
    if not np.all(bump < 0):
        raise ValueError(f"per_wheel sums to {np.max(bump):g} in per in; a spring must shorten in bump, below 0")
    (a, b), (c, d) = lengths
    determinant = a * d - b * c
    if not np.all(determinant > 1e-6):
        raise ValueError(
            f"per_wheel has the determinant {np.min(determinant):g}; it must be above 0: the left spring left of the "
            "right one, and not both in one place"
        )
    weighted = rates[:, None] * lengths
    stiffness = np.stack([np.stack([(lengths[:, i] * weighted[:, j]).sum(axis=0) for j in (0, 1)]) for i in (0, 1)])
    inverse = np.stack([np.stack([d, -b]), np.stack([-c, a])]) / determinant
    return AxleSprings(stiffness, -inverse)


def upright_springs(*, spring_y_in: npt.ArrayLike, wheel_y_in: npt.ArrayLike) -> Array:
    """J for `beam_axle` of upright springs on a plain one: d(length)/d(travel), (2 springs, 2 wheels, *batch).

    Args:
        spring_y_in: y of the left and the right spring, + left, (2, *batch).
        wheel_y_in: y of the left and the right patch, (2, *batch).

    Raises:
        ValueError: an axle or springs with the left not left of the right.

    Source: a straight line between the wheels.

    >>> upright_springs(spring_y_in=[20, -20], wheel_y_in=[40, -40]).tolist()
    [[-0.75, -0.25], [-0.25, -0.75]]
    """
    springs = bounded("spring_y_in", spring_y_in, unit="in")
    wheels = bounded("wheel_y_in", wheel_y_in, unit="in")
    for name, pair in (("spring_y_in", springs), ("wheel_y_in", wheels)):
        if not np.all(shaped(name, pair, 2)[0] > pair[1]):
            raise ValueError(f"{name} has the left at {pair[0]} in and the right at {pair[1]} in; left must be above")
    left, right = wheels
    share = (springs - right) / (left - right)
    return np.stack([-share, share - 1], axis=1)
