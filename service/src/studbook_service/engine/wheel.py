"""The alignment that a gauge reads at the wheel of a solved corner, and how fast it changes."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Self

import numpy as np
import numpy.typing as npt

from studbook_service.engine.linkage import Pose, reclosed
from studbook_service.engine.mechanism import wheel_height
from studbook_service.engine.mounts import reduced_mount
from studbook_service.engine.vectors import COMPLEX_STEP, Array, cross, dot, lift, numbers, unit

if TYPE_CHECKING:
    from studbook_service.engine.corner import Mount


@dataclass(frozen=True, eq=False, kw_only=True)
class WheelAlignment:
    """A wheel's alignment in a pose; every array is (*batch) unless noted, NaN where the pose does not close.

    Attributes:
        side: +1 left, −1 right.
        camber_deg: angle of the wheel's plane from vertical, −asin n_z, as a gauge on the hub reads it; + top outboard.
        toe_deg: atan2(n_x, s n_y), + toe-in.
        caster_deg: atan2(−k_x, k_z) of the steer axis k, + top rearward.
        kingpin_deg: atan2(−s k_y, k_z), + top inboard.
        scrub_in: + where the steer axis meets the patch's height inboard of the patch.
        trail_in: + where it meets it ahead of the patch.
        patch: contact patch, wheel center + R down the wheel's plane, in, (3, *batch).
        patch_velocity: of the point fixed in the spindle that is now at the patch, in per in of travel, (3, *batch).
        camber_gain_deg_per_in: change of camber per inch of wheel travel.
        bump_steer_deg_per_in: change of toe per inch of wheel travel.
    """

    side: Array
    camber_deg: Array
    toe_deg: Array
    caster_deg: Array
    kingpin_deg: Array
    scrub_in: Array
    trail_in: Array
    patch: Array
    patch_velocity: Array
    camber_gain_deg_per_in: Array
    bump_steer_deg_per_in: Array

    def take(self, index: tuple[int | slice, ...]) -> Self:
        """The wheels at an index of the batch: one side of a pair, one travel of a curve.

        >>> from studbook_service.engine.examples import CORNER
        >>> from studbook_service.engine.linkage import solve_travel
        >>> wheel(solve_travel(CORNER, travel_in=[0.0, 1.0])).take((0,)).patch.shape
        (3,)
        """
        batch = self.camber_deg.shape
        parts = {}
        for each in fields(self):
            array, components = getattr(self, each.name), int(each.name in VECTORS)
            whole = np.broadcast_to(array, array.shape[:components] + batch)
            parts[each.name] = whole[(slice(None),) * components + index]
        return replace(self, **parts)


VECTORS = ("patch", "patch_velocity")
"""Wheel's (3, *batch) fields."""


def wheel(pose: Pose) -> WheelAlignment:
    """The wheel of a pose: attitude, steer axis, patch, and their rates with the steering locked.

    Args:
        pose: any batch.

    Source: definitions of ISO 8855 but for camber, which is the angle from vertical and not its projection about x;
    the rates are n' = ω × n of rigid-body kinematics.

    >>> from studbook_service.engine.examples import POSE
    >>> at = wheel(POSE)
    >>> [round(float(x), 3) for x in (at.camber_deg, at.caster_deg, at.camber_gain_deg_per_in)]
    [-4.0, 5.148, -1.323]
    """
    with np.errstate(all="ignore"):
        side, spin = pose.corner.side, pose.spin
        rate = cross(pose.turn, spin)
        level = np.sqrt(1 - spin[2] ** 2)
        down = spin * spin[2]
        down[2] -= 1
        patch = pose.wheel_center + (pose.corner.radius_in / level) * down
        axis = unit(pose.upper_ball - pose.lower_ball)
        ground = pose.lower_ball + (patch[2] - pose.lower_ball[2]) / axis[2] * axis
        return WheelAlignment(
            side=side,
            camber_deg=np.degrees(-np.arcsin(spin[2])),
            toe_deg=np.degrees(np.arctan2(spin[0], side * spin[1])),
            caster_deg=np.degrees(np.arctan2(-axis[0], axis[2])),
            kingpin_deg=np.degrees(np.arctan2(-side * axis[1], axis[2])),
            scrub_in=side * (patch[1] - ground[1]),
            trail_in=ground[0] - patch[0],
            patch=patch,
            patch_velocity=pose.velocity(patch),
            camber_gain_deg_per_in=np.degrees(-rate[2] / level),
            bump_steer_deg_per_in=np.degrees(toe_rate(side, spin, rate)),
        )


def toe_in(*, toe_deg: npt.ArrayLike, diameter_in: npt.ArrayLike) -> Array:
    """Toe of one wheel in inches across a diameter, diameter · tan(toe), or its rate in inches per inch, (*batch).

    Args:
        toe_deg: toe, deg, or bump steer, deg per in.
        diameter_in: where the plates or strings are read, in.

    Source: trigonometry.

    >>> round(float(toe_in(toe_deg=-0.12, diameter_in=26)), 4)
    -0.0545
    """
    result: Array = numbers(diameter_in) * np.tan(np.radians(numbers(toe_deg)))
    return result


def toe_per_rack(pose: Pose, *, direction: npt.ArrayLike = (0.0, 1.0, 0.0)) -> Array:
    """Change of toe per inch that the tie rod's inner end moves, the wheel's height held, deg per in, (*batch).

    Args:
        pose: any batch.
        direction: of the inner end's motion, (3, *batch); +y of a rack by default.

    Source: rigid-body kinematics; the rod keeps its length.

    >>> from studbook_service.engine.examples import POSE
    >>> round(float(toe_per_rack(POSE)), 2)
    9.8
    """
    with np.errstate(all="ignore"):
        rank = pose.spin.ndim - 1
        rod = pose.tie_outer - pose.tie_inner
        axis = unit(pose.upper_ball - pose.lower_ball)
        about = dot(rod, lift(numbers(direction), rank)) / dot(rod, cross(axis, pose.tie_outer - pose.lower_ball))
        sink = about * cross(axis, pose.wheel_center - pose.lower_ball)[2]
        turn = about * axis - sink * pose.turn
        return np.degrees(toe_rate(pose.corner.side, pose.spin, cross(turn, pose.spin)))


def toe_rate(side: Array, spin: Array, rate: Array) -> Array:
    """Rate of toe, rad, of a spin axis and its rate, both (3, *batch)."""
    result: Array = side * (spin[1] * rate[0] - spin[0] * rate[1]) / (spin[0] ** 2 + spin[1] ** 2)
    return result


@dataclass(frozen=True, eq=False, kw_only=True)
class Motion:
    """A spring or shock against the wheel, (*batch).

    Attributes:
        length_in: between the mounts.
        ratio: −d(length)/d(wheel travel); others define the inverse.
        ratio_rate_per_in: change of the ratio per inch of wheel travel.
    """

    length_in: Array
    ratio: Array
    ratio_rate_per_in: Array


def motion(pose: Pose, mount: Mount | None = None) -> Motion:
    """Length, motion ratio and its rate of the corner's spring, or of another mount.

    Args:
        pose: any batch.
        mount: of a shock; the corner's spring by default.

    Returns:
        The motion, NaN without a mount. The rate is a complex-step derivative of the analytic ratio: exact to rounding.

    Source: the ratio's definition is stated because texts differ; complex step: Squire and Trapp, SIAM Review 40
    (1998) 110 (from memory).

    >>> from studbook_service.engine.examples import POSE
    >>> round(float(motion(POSE).ratio), 4)
    0.6457
    """
    with np.errstate(all="ignore"):
        parts, state = reclosed(pose, pose.angle_rad + 1j * COMPLEX_STEP)
        length, rate = reduced_mount(pose.corner, mount or pose.corner.spring)(parts, state)
        ratio = -rate / wheel_height(parts, state)[1]
        return Motion(
            length_in=length.real,
            ratio=ratio.real,
            ratio_rate_per_in=ratio.imag / COMPLEX_STEP / pose.climb_in_per_rad,
        )


def wheel_rate(moving: Motion, *, rate_lb_per_in: npt.ArrayLike, force_lb: npt.ArrayLike) -> Array:
    """Spring rate at the wheel, tire not included: k MR² + F dMR/dz, lb per in, (*batch).

    Args:
        moving: the spring's motion.
        rate_lb_per_in: the spring's own rate k.
        force_lb: its force F now, + in compression.

    Source: derivative of the wheel force F·MR.

    >>> moving = Motion(length_in=numbers(15), ratio=numbers(0.5), ratio_rate_per_in=numbers(-0.01))
    >>> float(wheel_rate(moving, rate_lb_per_in=400, force_lb=700))
    93.0
    """
    result: Array = numbers(rate_lb_per_in) * moving.ratio**2 + numbers(force_lb) * moving.ratio_rate_per_in
    return result
