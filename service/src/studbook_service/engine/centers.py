"""Instant centers, n-lines and roll centers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import one_of
from studbook_service.engine.vectors import Array, cross, lift, numbers

if TYPE_CHECKING:
    from studbook_service.engine.linkage import Pose
    from studbook_service.engine.wheel import WheelAlignment

PARALLEL = 1e-9
"""Below this determinant two unit-slope lines are called parallel."""


class Contact(Protocol):
    """What an n-line needs of a wheel: a `WheelAlignment` has it, and so has a wheel of a beam axle."""

    @property
    def patch(self) -> Array:
        """Contact patch, in, (3, *batch)."""

    @property
    def patch_velocity(self) -> Array:
        """Velocity of the point of the wheel's carrier that is now at the patch, (3, *batch)."""


class InstantCenter(NamedTuple):
    """Where the planes of the two arms meet in a view, (*batch).

    Attributes:
        across_in: y (front view) or x (side view), in; NaN when at infinity.
        height_in: its z, in; NaN when at infinity.
        swing_arm_in: from the wheel's patch (front) or center (side) to the instant center, horizontally; ±inf when the
            arms are parallel. Front: + when the instant center is inboard. Side: + when it is behind.
        determinant: sine of the angle between the arms in the view; 0 when parallel.
    """

    across_in: Array
    height_in: Array
    swing_arm_in: Array
    determinant: Array


def instant_center(pose: Pose, at: WheelAlignment, *, view: Literal["front", "side"]) -> InstantCenter:
    """The instant center of the arms' planes, cut at the wheel center.

    Front view: both planes cut at x of the wheel center. Side view: at y of the wheel center. An approximation, since
    the spindle turns about a screw axis; exact when the inner axes lie along x (front) with balls and patch at one x.

    Args:
        pose: any batch.
        at: the wheel of that pose.
        view: "front" or "side".

    Raises:
        ValueError: `view` is neither.

    Source: graphical construction; screw axes: SAE 910017 (abstract).

    >>> from studbook_service.engine.examples import POSE, WHEEL
    >>> round(float(instant_center(POSE, WHEEL, view="front").swing_arm_in), 1)
    44.3
    """
    one_of("view", view, ("front", "side"))
    cut, across = (0, 1) if view == "front" else (1, 0)
    with np.errstate(all="ignore"):
        lines = [_cut(pose, arm, cut, across) for arm in ("upper", "lower")]
        (a1, b1, c1), (a2, b2, c2) = lines
        determinant = a1 * b2 - a2 * b1
        meets = np.abs(determinant) > PARALLEL
        safe = np.where(meets, determinant, np.nan)
        place, height = (c1 * b2 - c2 * b1) / safe, (a1 * c2 - a2 * c1) / safe
        front, side = pose.corner.side * (at.patch[1] - place), pose.wheel_center[0] - place
        arm = front if view == "front" else side
        closed = np.isfinite(determinant)
        return InstantCenter(place, height, np.where(closed & ~meets, np.inf, arm), determinant)


def _cut(pose: Pose, arm: str, cut: int, across: int) -> tuple[Array, Array, Array]:
    """The line a·across + b·z = c in which an arm's plane meets the view; (a, b) of unit length."""
    rank = pose.spin.ndim - 1
    corner, moves = pose.corner, pose.corner.moves
    front, rear = (
        lift(getattr(corner, f"{arm}_{end}"), rank) + lift(getattr(moves, f"{arm}_{end}_in"), rank)
        for end in ("front", "rear")
    )
    ball = pose.upper_ball if arm == "upper" else pose.lower_ball
    normal = cross(front - ball, rear - ball)
    size = np.hypot(normal[across], normal[2])
    a, b, lean = normal[across] / size, normal[2] / size, normal[cut] / size
    offset = a * ball[across] + b * ball[2] - lean * (pose.wheel_center[cut] - ball[cut])
    return a, b, offset


def n_line_slope(at: Contact, *, view: Literal["front", "side"] = "front") -> Array:
    """Slope of the line through the patch along which its force passes to the chassis, (*batch).

    Args:
        at: any batch.
        view: "front" gives dz/dy = −v_y/v_z, "side" dz/dx = −v_x/v_z, v the velocity of the point fixed in the spindle
            at the patch, steering locked.

    Source: the line is normal to the patch's velocity (virtual work).

    >>> from studbook_service.engine.examples import WHEEL
    >>> round(float(n_line_slope(WHEEL)), 4)
    0.1501
    """
    axis = 1 if view == "front" else 0
    with np.errstate(all="ignore"):
        slope: Array = -at.patch_velocity[axis] / at.patch_velocity[2]
        return slope


def n_line_height(at: Contact, *, y_in: npt.ArrayLike = 0.0) -> Array:
    """Height above its own patch at which a wheel's n-line passes y; in, (*batch).

    >>> from studbook_service.engine.examples import WHEEL
    >>> round(float(n_line_height(WHEEL)), 2)
    4.95
    """
    height: Array = n_line_slope(at) * (numbers(y_in) - at.patch[1])
    return height


@dataclass(frozen=True, eq=False, kw_only=True)
class RollCenterPoint:
    """The kinematic roll center: where the n-lines of a pair of wheels meet, (*batch).

    Attributes:
        y_in: its place across the car, from the chassis datum, + left; NaN where there is none.
        height_in: above the line that joins the patches, square to it; NaN where there is none.
        determinant: difference of the n-lines' slopes, left − right; near 0 they are parallel.
        exists: whether they meet.
    """

    y_in: Array
    height_in: Array
    determinant: Array
    exists: Array


def roll_center(*, left: Contact, right: Contact, least_determinant: float = 1e-6) -> RollCenterPoint:
    """The kinematic roll center of a pair of wheels.

    Args:
        left: the left wheel.
        right: the right wheel, a batch that broadcasts.
        least_determinant: n-lines whose slopes differ by less are called parallel: no center.

    Returns:
        The center, chassis coordinates for y, height over the patches' ground.

    Source: intersection of the lines normal to the patches' velocities.

    >>> from studbook_service.engine.examples import AXLE_POSE
    >>> from studbook_service.engine.rear_centers import rear_wheels
    >>> wheels = rear_wheels(AXLE_POSE)
    >>> round(float(roll_center(left=wheels.left, right=wheels.right).height_in), 2)
    11.13
    """
    with np.errstate(all="ignore"):
        slopes = n_line_slope(left), n_line_slope(right)
        determinant = slopes[0] - slopes[1]
        exists = np.abs(determinant) > least_determinant
        (_, y_left, z_left), (_, y_right, z_right) = left.patch, right.patch
        heights = z_left - slopes[0] * y_left, z_right - slopes[1] * y_right
        y = np.where(exists, (heights[1] - heights[0]) / np.where(exists, determinant, np.nan), np.nan)
        height = height_over_patches(left=left, right=right, y=y, z=heights[0] + slopes[0] * y)
        return RollCenterPoint(y_in=y, height_in=height, determinant=determinant, exists=exists)


def height_over_patches(*, left: Contact, right: Contact, y: Array, z: Array) -> Array:
    """Height of a point above the line that joins two patches, square to it, in, (*batch)."""
    (_, y_left, z_left), (_, y_right, z_right) = left.patch, right.patch
    lean = (z_left - z_right) / (y_left - y_right)
    height: Array = (z - (z_right + lean * (y - y_right))) / np.sqrt(1 + lean**2)
    return height


def force_roll_center(
    *,
    left: WheelAlignment,
    right: WheelAlignment,
    left_share: npt.ArrayLike,
    right_share: npt.ArrayLike,
    y_in: npt.ArrayLike = 0.0,
) -> Array:
    """The force-based roll center's height: Σ F h(y₀) / Σ F.

    Args:
        left: wheel of the left corner.
        right: wheel of the right corner.
        left_share: side force of the left patch, in any unit.
        right_share: that of the right, in the same.
        y_in: y₀, where the heights are taken; the c.g.'s by default the chassis datum.

    Returns:
        Height in inches, (*batch): n-line i passes y₀ at h_i above its own patch.

    Source: W. C. Mitchell, SAE 983085, for the definition by force (read in part).

    >>> from studbook_service.engine.examples import WHEEL
    >>> round(float(force_roll_center(left=WHEEL, right=WHEEL, left_share=0, right_share=1)), 2)
    4.95
    """
    first, second = numbers(left_share), numbers(right_share)
    total = first * n_line_height(left, y_in=y_in) + second * n_line_height(right, y_in=y_in)
    height: Array = total / (first + second)
    return height


def anti_dive_percent(
    at: WheelAlignment, *, front_brake_share: npt.ArrayLike, wheelbase_in: npt.ArrayLike, cg_height_in: npt.ArrayLike
) -> Array:
    """Front anti-dive: 100 × front brake share × (v_x/v_z) × wheelbase ÷ cg height.

    Args:
        at: any batch.
        front_brake_share: front part of the braking force, 0 to 1.
        wheelbase_in: of that side.
        cg_height_in: height of the center of gravity.

    Returns:
        Percent, + when it opposes the dive: the n-line then rises to the rear. For a brake whose caliper is on the
        spindle.

    Source: same formula on super7thheaven.co.uk/anti-dive-geometry; the sign is derived.

    >>> from studbook_service.engine.examples import WHEEL
    >>> round(float(anti_dive_percent(WHEEL, front_brake_share=0.52, wheelbase_in=103, cg_height_in=18.5)), 1)
    1.5
    """
    rise = -n_line_slope(at, view="side")
    result: Array = 100 * numbers(front_brake_share) * rise * numbers(wheelbase_in) / numbers(cg_height_in)
    return result
