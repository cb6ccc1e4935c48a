"""The direction of studs in a pose, and how near their joints come to binding."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.linkage import Pose, reclosed, solve_travel
from studbook_service.engine.mechanism import combine, components, spindle_frame, surveyed_arm, swung_axes
from studbook_service.engine.vectors import Array, cross, dot, lift, numbers, root

if TYPE_CHECKING:
    from studbook_service.engine.corner import FrontLinkage

Joint = Literal["upper", "lower"]


def spindle_direction(pose: Pose, direction: Array) -> Array:
    """A vector fixed in the spindle, given in survey coordinates, as it points in a pose; car axes, (3, *batch)."""
    with np.errstate(all="ignore"):
        rank = max(pose.corner.rank, direction.ndim - 1)
        _, surveyed = spindle_frame(pose.corner, rank)
        _, state = reclosed(pose, pose.angle_rad)
        return combine(state.frame, components(lift(direction, rank), surveyed))


def stud_axis(pose: Pose, *, joint: Joint) -> Array:
    """Unit vector from a stud's seat to its ball, car axes, (3, *batch).

    Args:
        pose: any batch.
        joint: "upper" or "lower".

    Raises:
        ValueError: `joint` is neither.

    Source: the stud is fixed in the spindle.

    >>> from studbook_service.engine.examples import POSE
    >>> stud_axis(POSE, joint="upper").round(3).tolist()
    [-0.089, 0.159, 0.983]
    """
    one_of("joint", joint, ("upper", "lower"))
    return spindle_direction(pose, getattr(pose.corner, f"{joint}_stud_axis"))


def housing_axis(pose: Pose, *, joint: Joint) -> Array:
    """Unit vector of a housing's axis, fixed in its arm; arguments and errors as for `stud_axis`.

    >>> from studbook_service.engine.examples import POSE
    >>> housing_axis(POSE, joint="upper").round(3).tolist()
    [-0.089, 0.159, 0.983]
    """
    one_of("joint", joint, ("upper", "lower"))
    corner = pose.corner
    with np.errstate(all="ignore"):
        _, surveyed = surveyed_arm(corner, joint, corner.rank)
        along = components(lift(getattr(corner, f"{joint}_housing_axis"), corner.rank), surveyed)
        parts, _ = reclosed(pose, pose.angle_rad)
        axes, _ = swung_axes(getattr(parts, joint), getattr(pose, f"{joint}_ball"))
        return combine(axes, along)


def stud_angle(pose: Pose, *, joint: Joint) -> Array:
    """Angle between a stud and its housing's axis, deg, (*batch), 0 where they line up.

    The housing's axis is the corner's `upper_housing_axis` or `lower_housing_axis`: as surveyed, else the stud's own
    axis at the survey, so that the angle is then counted from there.

    Args:
        pose: any batch.
        joint: "upper" or "lower".

    Raises:
        ValueError: `joint` is neither.

    Source: angle of two lines.

    >>> from studbook_service.engine.examples import CORNER
    >>> round(float(stud_angle(solve_travel(CORNER, travel_in=2), joint="upper")), 2)
    8.35
    """
    stud, housing = stud_axis(pose, joint=joint), housing_axis(pose, joint=joint)
    with np.errstate(all="ignore"):
        across = cross(stud, housing)
        return np.degrees(np.arctan2(root(dot(across, across)), np.abs(dot(stud, housing))))


class SwingMargin(NamedTuple):
    """A joint's swing over travel × steer against its limit; (*batch, T, S) unless noted.

    Attributes:
        angle_deg: between stud and housing axis; NaN where the linkage does not close.
        margin_deg: limit less angle; negative means that the joint binds there.
        worst_deg: the least margin, (*batch); NaN where nothing closes.
        worst_travel: index of the travel where it is, (*batch).
        worst_steer: index of the steering where it is, (*batch).
        closed: whether the linkage closes.
    """

    angle_deg: Array
    margin_deg: Array
    worst_deg: Array
    worst_travel: Array
    worst_steer: Array
    closed: Array


def swing_margin(
    corner: FrontLinkage, *, joint: Joint, limit_deg: npt.ArrayLike, travel_in: npt.ArrayLike, steer_in: npt.ArrayLike
) -> SwingMargin:
    """How far a joint is from binding, over every travel with every steering.

    Args:
        corner: batch B.
        joint: "upper" or "lower".
        limit_deg: greatest angle of the stud from the housing's axis, each way, (*B).
        travel_in: wheel travels, (T,).
        steer_in: displacements of the tie rod's inner end, (3, S).

    Returns:
        The margins, batch = B × T × S, and the worst place.

    Raises:
        ValueError: `joint` is neither; a limit outside 0 to 90 deg; travels or steerings of another shape.

    Source: angle of two lines; the linkage closed as in `solve_travel`.

    >>> from studbook_service.engine.examples import CORNER
    >>> from studbook_service.engine.steering import rack
    >>> over = swing_margin(CORNER, joint="upper", limit_deg=25, travel_in=[-2, 0, 3], steer_in=rack(shift_in=[-1, 1]))
    >>> over.margin_deg.shape, round(float(over.worst_deg), 1)
    ((3, 2), 12.3)
    """
    limit = bounded("limit_deg", limit_deg, unit="deg", above=0, most=90)
    travels, steering = bounded("travel_in", travel_in, unit="in"), numbers(steer_in)
    if travels.ndim != 1 or travels.size == 0:
        raise ValueError(f"travel_in must have shape (T,), T at least 1, not {travels.shape}")
    if steering.ndim != 2 or steering.shape[0] != 3 or steering.shape[1] == 0:
        raise ValueError(f"steer_in must have shape (3, S), S at least 1, not {steering.shape}")
    pose = solve_travel(corner.expand(2), travel_in=travels[:, None], steer_in=steering[:, None, :])
    angle = stud_angle(pose, joint=joint)
    margin = limit[..., None, None] - angle
    shape = margin.shape[:-2]
    flat = np.where(np.isnan(margin), np.inf, margin).reshape(*shape, -1)
    worst = np.argmin(flat, axis=-1)
    least = np.take_along_axis(flat, worst[..., None], axis=-1)[..., 0]
    travel, steer = np.unravel_index(worst, margin.shape[-2:])
    return SwingMargin(
        angle_deg=angle,
        margin_deg=margin,
        worst_deg=np.where(np.isinf(least), np.nan, least),
        worst_travel=np.asarray(travel),
        worst_steer=np.asarray(steer),
        closed=pose.closed,
    )
