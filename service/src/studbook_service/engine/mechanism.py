"""The closed linkage at a given lower-arm angle, in closed form, with its velocities.

Each arm carries its ball round a circle; the spindle is the rigid triangle of the two balls and the rod's outer end:

* lower ball: its circle at the angle;
* upper ball: its circle ∩ the sphere of the spindle's height about the lower ball;
* rod's outer end: its circle about the line of the balls ∩ the sphere of the rod about the inner end.

Both intersections have two answers; the one the survey is on is kept. Points of the spindle are held in its frame
(k, t, m): k from lower to upper ball, t toward the rod's outer end square to k, m = k × t.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from studbook_service.engine.vectors import Array, cross, dot, lift, root, unit

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from studbook_service.engine.corner import FrontLinkage


Frame = tuple[Array, Array, Array]
"""Three vectors (3, *batch) square to each other, or three numbers (*batch) along them."""


class Circle(NamedTuple):
    """A point carried round an axis: center + cos θ · zero + sin θ · quarter, in."""

    center: Array
    zero: Array
    quarter: Array


class Spindle(NamedTuple):
    """The rigid spindle from its lower ball, in its frame (k, t, m), in."""

    height: Array  # of the upper ball along k
    tie_rise: Array  # of the rod's outer end along k
    tie_arm: Array  # and along t
    wheel: Frame  # the wheel center
    spin: Frame  # the spin axis


class Mechanism(NamedTuple):
    """A corner reduced to what closing it needs. Vectors (3, *batch), numbers (*batch), in."""

    lower: Circle
    upper: Circle
    spindle: Spindle
    tie_inner: Array
    upper_closing: Array  # height² − (radius of the upper circle)²
    tie_closing: Array  # tie_rise² + tie_arm² − rod²
    upper_branch: Array  # ±1
    tie_branch: Array  # ±1


class MechanismState(NamedTuple):
    """The closed linkage at an angle, and its velocities per radian of the lower arm."""

    lower_ball: Array
    upper_ball: Array
    frame: Frame  # k, t, m
    upper_square: Array  # below 0 where the upper arm cannot reach; 0 at its toggle
    tie_square: Array  # below 0 where the rod cannot reach
    lower_ball_rate: Array
    upper_ball_rate: Array
    turn: Frame  # angular velocity of the spindle along k, t, m
    tie_lever: Array  # (rod vector)·m, the rod's hold on the turn about k


def arm_frame(front: Array, rear: Array, ball: Array, side: Array) -> Frame:
    """Axis (so that a positive angle lifts the ball), radial unit vector to the ball, and axis × radial."""
    axis = unit((front - rear) * side)
    reach = ball - front
    radial = unit(reach - dot(reach, axis) * axis)
    return axis, radial, cross(axis, radial)


def swung_axes(circle: Circle, ball: Array) -> tuple[Frame, Array]:
    """The axes of an arm where it now is, as `arm_frame` gives them at the survey, and its radius, in."""
    axis = unit(cross(circle.zero, circle.quarter))
    arm = ball - circle.center
    radius = _length(arm)
    radial = arm / radius
    return (axis, radial, cross(axis, radial)), radius


def _circle(front: Array, rear: Array, legs: tuple[Array, Array], toward: Array, side: Array) -> Circle:
    """The circle of a ball held by two legs; angle zero points at `toward`."""
    _, radial, normal = arm_frame(front, rear, toward, side)
    span = rear - front
    square = dot(span, span)
    fraction = (legs[0] ** 2 - legs[1] ** 2 + square) / (2 * square)
    radius = root(legs[0] ** 2 - fraction**2 * square)
    return Circle(front + fraction * span, radius * radial, radius * normal)


def _length(vector: Array) -> Array:
    return root(dot(vector, vector))


def mechanism(corner: FrontLinkage) -> Mechanism:
    """The mechanism of a corner with its moves made."""
    with np.errstate(all="ignore"):
        at = _lifted(corner)
        line = at("upper_ball") - at("lower_ball")
        swing = arm_frame(at("upper_front"), at("upper_rear"), at("upper_ball"), corner.side)[2]
        rod = at("tie_outer") - at("tie_inner")
        upper_branch = -np.sign(dot(line, swing).real)
        tie_branch = np.sign(dot(rod, cross(line, at("tie_outer") - at("lower_ball"))).real)
        return _joined(
            corner,
            lower=_arm(corner, "lower"),
            upper=_arm(corner, "upper"),
            spindle=_spindle(corner),
            upper_branch=np.where(upper_branch == 0, 1.0, upper_branch),
            tie_branch=np.where(tie_branch == 0, 1.0, tie_branch),
        )


def remake(parts: Mechanism, corner: FrontLinkage, moved: Collection[str]) -> Mechanism:
    """The mechanism of `corner`, when it differs from the one `parts` was made of in the moves named and no other."""
    with np.errstate(all="ignore"):
        return _joined(
            corner,
            lower=parts.lower if _LOWER.isdisjoint(moved) else _arm(corner, "lower"),
            upper=parts.upper if _UPPER.isdisjoint(moved) else _arm(corner, "upper"),
            spindle=parts.spindle if _SPINDLE.isdisjoint(moved) else _spindle(corner),
            upper_branch=parts.upper_branch,
            tie_branch=parts.tie_branch,
        )


_LOWER = frozenset({"lower_housing_in", "lower_front_in", "lower_rear_in"})
_UPPER = frozenset({"upper_housing_in", "upper_front_in", "upper_rear_in", "upper_arm_in"})
_SPINDLE = frozenset({"upper_stud_in", "lower_stud_in", "outer_spacer_in", "wheel_offset_in"})


def _lifted(corner: FrontLinkage, rank: int | None = None) -> Callable[[str], Array]:
    """A function that takes a vector of the corner by name, with all batch axes."""
    axes = corner.rank if rank is None else rank
    return lambda name: lift(getattr(corner, name), axes)


def _arm(corner: FrontLinkage, which: str) -> Circle:
    moves, rank = corner.moves, corner.rank
    front, rear, seat = _arm_points(corner, which, rank)
    longer = moves.upper_arm_in if which == "upper" else 0.0
    held = seat + longer * arm_frame(front, rear, seat, corner.side)[1]
    legs = _length(held - front), _length(held - rear)
    front = front + lift(getattr(moves, f"{which}_front_in"), rank)
    rear = rear + lift(getattr(moves, f"{which}_rear_in"), rank)
    return _circle(front, rear, legs, seat, corner.side)


def _spindle(corner: FrontLinkage) -> Spindle:
    at, (low, high, outer) = _lifted(corner), _spindle_points(corner, corner.rank)
    k, t, m = _frame(low, high, outer)
    spin = at("spin")
    wheel = at("wheel_center") + corner.moves.wheel_offset_in * spin
    return Spindle(
        height=dot(high - low, k),
        tie_rise=dot(outer - low, k),
        tie_arm=dot(outer - low, t),
        wheel=components(wheel - low, (k, t, m)),
        spin=components(spin, (k, t, m)),
    )


def _arm_points(corner: FrontLinkage, which: str, rank: int) -> tuple[Array, Array, Array]:
    """Pivots and ball of an arm in survey coordinates, the ball in its housing as fitted."""
    at, amount = _lifted(corner, rank), getattr(corner.moves, f"{which}_housing_in")
    ball = at(f"{which}_ball") + amount * at(f"{which}_housing_axis")
    return at(f"{which}_front"), at(f"{which}_rear"), ball


def _spindle_points(corner: FrontLinkage, rank: int) -> tuple[Array, Array, Array]:
    """Lower ball, upper ball and rod's outer end in survey coordinates, with studs and spacer as fitted."""
    at, moves = _lifted(corner, rank), corner.moves
    return (
        at("lower_ball") + moves.lower_stud_in * at("lower_stud_axis"),
        at("upper_ball") + moves.upper_stud_in * at("upper_stud_axis"),
        at("tie_outer") + moves.outer_spacer_in * at("outer_axis"),
    )


def _frame(low: Array, high: Array, outer: Array) -> Frame:
    k = unit(high - low)
    reach = outer - low
    t = unit(reach - dot(reach, k) * k)
    return k, t, cross(k, t)


def spindle_frame(corner: FrontLinkage, rank: int) -> tuple[Array, Frame]:
    """Lower ball and axes (k, t, m) of the spindle in survey coordinates, as fitted."""
    points = _spindle_points(corner, rank)
    return points[0], _frame(*points)


def surveyed_arm(corner: FrontLinkage, which: str, rank: int) -> tuple[Array, Frame]:
    """Ball and axes of the "upper" or "lower" arm in survey coordinates, as fitted."""
    front, rear, ball = _arm_points(corner, which, rank)
    return ball, arm_frame(front, rear, ball, corner.side)


def _joined(
    corner: FrontLinkage, *, lower: Circle, upper: Circle, spindle: Spindle, upper_branch: Array, tie_branch: Array
) -> Mechanism:
    at = _lifted(corner)
    rod = _length(at("tie_outer") - at("tie_inner")) + corner.moves.tie_rod_in
    return Mechanism(
        lower=lower,
        upper=upper,
        spindle=spindle,
        tie_inner=at("tie_inner") + lift(corner.moves.tie_inner_in, corner.rank),
        upper_closing=spindle.height**2 - dot(upper.zero, upper.zero),
        tie_closing=spindle.tie_rise**2 + spindle.tie_arm**2 - rod**2,
        upper_branch=upper_branch,
        tie_branch=tie_branch,
    )


def close(parts: Mechanism, angle: Array) -> MechanismState:
    """The linkage closed at a lower-arm angle, with velocities.

    Args:
        parts: every array's batch broadcastable against the angle's, ranks equal or lifted.
        angle: of the lower arm from the survey, rad, (*batch), + lifts the ball.

    Returns:
        The state; NaN where an intersection does not exist. Run inside `np.errstate(all="ignore")`.

    Velocities: φ' from (U − L)·(U' − L') = 0; the turn ω = σk − bt + am from k' = at + bm and, for σ, the rod's
    (T − I)·T' = 0. Derived here from rigid-body kinematics.
    """
    lower, upper = parts.lower, parts.upper
    height, tie_rise, tie_arm = parts.spindle[:3]
    cosine, sine = np.cos(angle), np.sin(angle)
    low = lower.center + cosine * lower.zero + sine * lower.quarter
    low_rate = cosine * lower.quarter - sine * lower.zero

    gap = upper.center - low
    along, beside = dot(gap, upper.zero), dot(gap, upper.quarter)
    half = 0.5 * (parts.upper_closing - dot(gap, gap))
    square = along * along + beside * beside
    upper_square = square - half * half
    swing = parts.upper_branch * root(upper_square)
    cosine, sine = (along * half - beside * swing) / square, (beside * half + along * swing) / square
    high = upper.center + cosine * upper.zero + sine * upper.quarter
    high_rate = cosine * upper.quarter - sine * upper.zero
    k = (high - low) / height

    reach = parts.tie_inner - low
    reach_k = dot(reach, k)
    reach_square = dot(reach, reach)
    across = reach_square - reach_k * reach_k
    middle = 0.5 * (parts.tie_closing + reach_square) - tie_rise * reach_k
    tie_square = tie_arm * tie_arm * across - middle * middle
    scale = 1.0 / (tie_arm * across)
    toward = middle * scale
    aside = parts.tie_branch * root(tie_square) * scale
    radial = reach - reach_k * k
    normal = cross(k, reach)
    t = toward * radial + aside * normal
    m = toward * normal - aside * radial

    low_k, low_t, low_m = dot(low_rate, k), dot(low_rate, t), dot(low_rate, m)
    high_rate = (-height * low_k / swing) * high_rate
    a = (dot(high_rate, t) - low_t) / height
    b = (dot(high_rate, m) - low_m) / height
    rod_k, rod_t, rod_m = tie_rise - reach_k, tie_arm - toward * across, aside * across
    work = rod_k * low_k + rod_t * low_t + rod_m * low_m + a * (tie_rise * rod_t - tie_arm * rod_k)
    steer = -(work + tie_rise * b * rod_m) / (tie_arm * rod_m)
    return MechanismState(low, high, (k, t, m), upper_square, tie_square, low_rate, high_rate, (steer, -b, a), rod_m)


def combine(frame: Frame, along: Frame | Array) -> Array:
    """The vector whose components along the frame are `along`."""
    result: Array = along[0] * frame[0] + along[1] * frame[1] + along[2] * frame[2]
    return result


def components(vector: Array, frame: Frame) -> Frame:
    """The components of a vector along a frame; undoes `combine`."""
    return dot(vector, frame[0]), dot(vector, frame[1]), dot(vector, frame[2])


def wheel_height(parts: Mechanism, state: MechanismState) -> tuple[Array, Array]:
    """Height of the wheel center, in, and its rate, in per radian of the lower arm."""
    k, t, m = state.frame
    turn_k, turn_t, turn_m = state.turn
    wheel_k, wheel_t, wheel_m = parts.spindle.wheel
    height = state.lower_ball[2] + wheel_k * k[2] + wheel_t * t[2] + wheel_m * m[2]
    rate = (
        state.lower_ball_rate[2]
        + (turn_t * wheel_m - turn_m * wheel_t) * k[2]
        + (turn_m * wheel_k - turn_k * wheel_m) * t[2]
        + (turn_k * wheel_t - turn_t * wheel_k) * m[2]
    )
    return height, rate


def mapped_parts(parts: Mechanism, change: Callable[[Array, int], Array]) -> Mechanism:
    """The mechanism with every array changed; the second argument is the array's number of component axes."""

    def each(along: Frame) -> Frame:
        return change(along[0], 0), change(along[1], 0), change(along[2], 0)

    return Mechanism(
        lower=Circle(*(change(array, 1) for array in parts.lower)),
        upper=Circle(*(change(array, 1) for array in parts.upper)),
        spindle=Spindle(*each(parts.spindle[:3]), each(parts.spindle.wheel), each(parts.spindle.spin)),
        tie_inner=change(parts.tie_inner, 1),
        upper_closing=change(parts.upper_closing, 0),
        tie_closing=change(parts.tie_closing, 0),
        upper_branch=change(parts.upper_branch, 0),
        tie_branch=change(parts.tie_branch, 0),
    )


def batch_shape(parts: Mechanism) -> tuple[int, ...]:
    """The batch that a mechanism's arrays broadcast to."""
    return np.broadcast_shapes(
        parts.lower.zero.shape[1:],
        parts.upper.zero.shape[1:],
        parts.spindle.height.shape,
        parts.tie_inner.shape[1:],
        parts.tie_closing.shape,
    )


def lift_parts(parts: Mechanism, rank: int) -> Mechanism:
    """The mechanism with `rank` batch axes in every vector."""
    return mapped_parts(parts, lambda array, components: lift(array, rank) if components else array)
