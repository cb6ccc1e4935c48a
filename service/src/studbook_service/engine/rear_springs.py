"""Springs and shocks of a beam axle: their lengths, and how both wheels change them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import check_apart, checked_point
from studbook_service.engine.vectors import Array, dot, lift, root

if TYPE_CHECKING:
    from studbook_service.engine.axle_pose import AxlePose
    from studbook_service.engine.rear_axle import Carrier


@dataclass(frozen=True, eq=False, kw_only=True)
class RearMotion:
    """A rear spring or shock against the axle's motions; changes of its *length*, so that − is compression, (*batch).

    A motion ratio is minus one of these.

    Attributes:
        length_in: between the mounts.
        per_wheel: d(length)/d(travel) of the left and the right wheel, the other held, (2, *batch): a row of the J of
            the axle's stiffness JᵀkJ.
        per_bump: d(length)/d(bump), the axle's roll held.
        per_roll_in_per_deg: d(length)/d(axle roll), the midpoint held.
    """

    length_in: Array
    per_wheel: Array
    per_bump: Array
    per_roll_in_per_deg: Array


def rear_motion(pose: AxlePose, *, chassis: npt.ArrayLike, moving: npt.ArrayLike, on: Carrier) -> RearMotion:
    """Length and motion of a spring or shock between the chassis and the axle or a birdcage.

    Args:
        pose: any batch.
        chassis: its end on the chassis, in, (3,).
        moving: its other end at the survey, in, (3,).
        on: what carries that end; on a birdcage its length depends on how the birdcage turns.

    Returns:
        The motion. Left and right travel are the rises of the wheel centers.

    Raises:
        ValueError: an end is not three finite numbers, the ends coincide, or no rod is bolted to that birdcage.

    Source: velocity analysis; d(length) is the velocity of the moving end along the spring.

    >>> from studbook_service.engine.examples import AXLE_POSE
    >>> rear_motion(AXLE_POSE, chassis=(-103, 20.5, 30), moving=(-103, 20.5, 16), on="axle").per_wheel.round(3).tolist()
    [-0.83, -0.157]
    """
    fixed, surveyed = checked_point("chassis", chassis, single=True), checked_point("moving", moving, single=True)
    check_apart("chassis", "moving", fixed, surveyed)
    end = pose.point(surveyed, on=on)
    line = end - lift(fixed, end.ndim - 1)
    length = root(dot(line, line))
    rate = dot(line[:, None], pose.velocity(end, on=on)) / length
    wheels = pose.wheels
    rise = np.stack([pose.velocity(wheels[:, side])[2] for side in (0, 1)])
    (left_bump, left_roll), (right_bump, right_roll) = rise
    determinant = left_bump * right_roll - left_roll * right_bump
    per_wheel = np.stack([rate[0] * right_roll - rate[1] * right_bump, rate[1] * left_bump - rate[0] * left_roll])
    return RearMotion(
        length_in=length,
        per_wheel=per_wheel / determinant,
        per_bump=rate[0],
        per_roll_in_per_deg=np.radians(rate[1]),
    )
