"""The wheels of a beam axle, their n-lines, the rear roll center and anti-squat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.centers import height_over_patches
from studbook_service.engine.vectors import Array, numbers

if TYPE_CHECKING:
    from studbook_service.engine.axle_pose import AxlePose
    from studbook_service.engine.rear_axle import Carrier

SIDES = (1, -1)


@dataclass(frozen=True, eq=False, kw_only=True)
class RearWheel:
    """A wheel of a beam axle, square to the line of the wheel centers; every array is (*batch) unless noted.

    Attributes:
        camber_deg: angle of the wheel's plane from vertical, + top outboard.
        toe_deg: + toe-in.
        patch: wheel center + R toward the ground in the wheel's plane, in, (3, *batch).
        patch_velocity: of the point fixed in the axle that is now at the patch, per radian of axle roll with bump held,
            (3, *batch): what an n-line of a beam axle is normal to.
    """

    camber_deg: Array
    toe_deg: Array
    patch: Array
    patch_velocity: Array


class RearWheels(NamedTuple):
    """Both wheels of a beam axle."""

    left: RearWheel
    right: RearWheel


def rear_wheels(
    pose: AxlePose, *, left_radius_in: npt.ArrayLike | None = None, right_radius_in: npt.ArrayLike | None = None
) -> RearWheels:
    """The wheels of an axle in a pose.

    Args:
        pose: any batch.
        left_radius_in: the left tire's loaded radius now; by default as surveyed.
        right_radius_in: that of the right tire.

    Source: rigid-body kinematics.

    >>> from studbook_service.engine.examples import AXLE_POSE
    >>> round(float(rear_wheels(AXLE_POSE).left.patch[2]), 3)
    0.001
    """
    axle, line, centers = pose.axle, pose.state.left, pose.wheels
    radii = (
        axle.left_radius_in if left_radius_in is None else numbers(left_radius_in),
        axle.right_radius_in if right_radius_in is None else numbers(right_radius_in),
    )
    down = line * line[2]
    down[2] -= 1
    down = down / np.sqrt(1 - line[2] ** 2)
    wheels = []
    for index, (side, radius) in enumerate(zip(SIDES, radii, strict=True)):
        patch = centers[:, index] + radius * down
        wheels.append(
            RearWheel(
                camber_deg=np.degrees(-np.arcsin(side * line[2])),
                toe_deg=np.degrees(np.arctan2(side * line[0], line[1])),
                patch=patch,
                patch_velocity=pose.velocity(patch)[:, 1],
            )
        )
    return RearWheels(*wheels)


class BarCrossing(NamedTuple):
    """Where a lateral bar's line crosses a plane.

    Attributes:
        y_in: of the plane, from the chassis datum, (*batch).
        height_in: of the crossing over the line that joins the patches, square to it, in; NaN for an upright bar.
    """

    y_in: Array
    height_in: Array


def bar_crossing(pose: AxlePose, wheels: RearWheels, *, rod: str, plane: Literal["chassis", "axle"]) -> BarCrossing:
    """The height at which a lateral bar crosses a plane; beside the roll center, not instead of it.

    Args:
        pose: any batch.
        wheels: of that pose.
        rod: the bar's name.
        plane: "chassis" for y = 0, "axle" for the middle between the wheel centers.

    Raises:
        ValueError: there is no such rod or plane.

    Source: a level bar's height is the roll center's: euromotor.org training slides (pres11); an inclined bar by its
    crossing with the center plane: from memory.

    >>> from studbook_service.engine.examples import AXLE_POSE
    >>> round(float(bar_crossing(AXLE_POSE, rear_wheels(AXLE_POSE), rod="lateral_bar", plane="chassis").height_in), 2)
    11.78
    """
    one_of("plane", plane, ("chassis", "axle"))
    fixed, moving = pose.rod_ends(rod)
    y = np.zeros_like(moving[1]) if plane == "chassis" else pose.state.midpoint[1]
    with np.errstate(all="ignore"):
        z = fixed[2] + (moving[2] - fixed[2]) / (moving[1] - fixed[1]) * (y - fixed[1])
        height = height_over_patches(left=wheels.left, right=wheels.right, y=y, z=z)
        return BarCrossing(y, np.where(np.isfinite(height), height, np.nan))


def side_slope(pose: AxlePose, wheel: RearWheel, *, on: Carrier = "axle") -> Array:
    """Slope dz/dx = −v_x/v_z of a rear wheel's n-line in side view, v the patch's velocity in bump with roll held.

    Args:
        pose: any batch.
        wheel: one of that pose.
        on: in what the patch is fixed: the axle in drive, and in braking what carries the caliper.

    Returns:
        The slope, (*batch): pounds lifted per pound of thrust at that wheel, or pulled down per pound of braking. +
        when it opposes the motion (squat in drive, lift in braking): the line rises forward.

    Raises:
        ValueError: no rod is bolted to that birdcage.

    Source: the line is normal to the patch's velocity (virtual work).

    >>> from studbook_service.engine.examples import AXLE_POSE
    >>> [round(float(side_slope(AXLE_POSE, wheel)), 2) for wheel in rear_wheels(AXLE_POSE)]
    [0.71, 0.54]
    """
    velocity = pose.velocity(wheel.patch, on=on)[:, 0]
    slope: Array = -velocity[0] / velocity[2]
    return slope


def anti_squat_percent(
    slope: npt.ArrayLike, *, wheelbase_in: npt.ArrayLike, cg_height_in: npt.ArrayLike, share: npt.ArrayLike = 1.0
) -> Array:
    """Anti-squat, or anti-lift in braking: 100 × share × slope × wheelbase ÷ cg height, %, (*batch).

    Args:
        slope: of `side_slope`.
        wheelbase_in: of that side.
        cg_height_in: height of the center of gravity.
        share: of the whole force that the rear takes, 0 to 1: 1 in drive, the rear brakes' in braking.

    Raises:
        ValueError: a length is not above 0, or a share not from 0 to 1.

    Source: Barton and Fieldhouse, Automotive Chassis Engineering, Springer 2018, eq. 3.69: 100 % at e/d = h/l.

    >>> float(anti_squat_percent(0.25, wheelbase_in=120, cg_height_in=30))
    100.0
    """
    base = bounded("wheelbase_in", wheelbase_in, unit="in", above=0)
    height = bounded("cg_height_in", cg_height_in, unit="in", above=0)
    part = bounded("share", share, unit="of the whole", least=0, most=1)
    percent: Array = 100 * part * numbers(slope) * base / height
    return percent
