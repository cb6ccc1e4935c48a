"""A front linkage solved at a wheel travel, at an arm's angle, or at a spring's length.

Travel is of the *wheel center* from its surveyed height, also after a change of stud or wheel: "height restored" puts
the wheel center back. At −4 deg of camber a wheel moved 1 in outboard rises 0.07 in in its spindle, so the car sits
lower by as much with the spring held.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, NamedTuple, Self

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import lane_picker
from studbook_service.engine.bounds import shaped
from studbook_service.engine.mechanism import (
    Mechanism,
    MechanismState,
    batch_shape,
    close,
    combine,
    lift_parts,
    mapped_parts,
    wheel_height,
)
from studbook_service.engine.mounts import reduced_mount
from studbook_service.engine.reach import Measure, attainable, bisect, failure, reach_angles
from studbook_service.engine.vectors import Array, cross, lift, numbers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from studbook_service.engine.corner import FrontLinkage, Mount

TOLERANCE_IN = 1e-10
NEWTON_STEPS = 8
BLOCK = 2048
"""Positions solved together: few enough that the temporaries stay in a core's cache."""
RESCUED = 256
"""Positions bisected together; each looks at a whole grid of angles."""


class WheelHeight:
    """The measure that is the height of the wheel center."""

    def __call__(self, parts: Mechanism, state: MechanismState) -> tuple[Array, Array]:
        """Height, in, and rate, in per rad."""
        return wheel_height(parts, state)

    def mapped(self, change: Callable[[Array, int], Array]) -> Self:
        """Itself: it holds no arrays."""
        del change
        return self


@dataclass(frozen=True, eq=False)
class LinkagePosition:
    """Where a front linkage is, with its velocities per inch of wheel travel (steering locked); NaN where not closed.

    Attributes:
        angle_rad: of the lower arm from the survey, + lifts its ball, (*batch).
        climb_in_per_rad: rise of the wheel center per radian of the lower arm, (*batch).
        lower_ball, upper_ball: centers of the balls, in, (3, *batch).
        tie_outer: outer end of the tie rod, in, (3, *batch).
        wheel_center: center of the wheel, in, (3, *batch).
        spin: outboard unit vector of the wheel's axis, (3, *batch).
        turn: angular velocity of the spindle, rad per in of travel, (3, *batch).
        lower_ball_rate: velocity of the lower ball, in per in of travel, (3, *batch).
        closed: whether the linkage closes, (*batch).
        failed: which member ran out, a code into `FAILED`; 0 where closed, (*batch).
    """

    angle_rad: Array
    climb_in_per_rad: Array
    lower_ball: Array
    upper_ball: Array
    tie_outer: Array
    wheel_center: Array
    spin: Array
    turn: Array
    lower_ball_rate: Array
    closed: Array
    failed: Array

    @property
    def arrays(self) -> tuple[Array, ...]:
        """The arrays above, in order."""
        return tuple(getattr(self, each.name) for each in fields(LinkagePosition))


@dataclass(frozen=True, eq=False, kw_only=True)
class Pose(LinkagePosition):
    """A front linkage with where it is.

    Attributes:
        corner: what was solved.
        tie_inner: the rod's inner end with the steering, in, (3, *batch).

    >>> from studbook_service.engine.examples import CORNER
    >>> pose = solve_travel(CORNER, travel_in=[-2, 0, 2])
    >>> pose.wheel_center[2].round(3).tolist(), pose.closed.tolist()
    ([11.517, 13.517, 15.517], [True, True, True])
    """

    corner: FrontLinkage
    tie_inner: Array

    @property
    def travel_in(self) -> Array:
        """Wheel travel: height of the wheel center above its surveyed height, in, (*batch)."""
        travel: Array = self.wheel_center[2] - self.corner.wheel_center[2]
        return travel

    def velocity(self, point: Array) -> Array:
        """Velocity of the point fixed in the spindle that is now at `point`, in per in of travel; (3, *batch)."""
        return self.lower_ball_rate + cross(self.turn, point - self.lower_ball)


POINTS = ("tie_inner", "lower_ball", "upper_ball", "tie_outer", "wheel_center")
DIRECTIONS = ("spin", "turn", "lower_ball_rate")
"""A pose's (3, *batch) fields: points, then directions and rates."""


def solve_travel(
    corner: FrontLinkage, *, travel_in: npt.ArrayLike, steer_in: npt.ArrayLike | None = None, diagnose: bool = True
) -> Pose:
    """The corner with its wheel at a travel.

    Newton's method on the lower arm's angle with the analytic rate, to 1e-10 in; where it does not converge, bisection
    between the ends of the linkage's reach.

    Args:
        corner: batch B.
        travel_in: rise of the wheel center from its *surveyed* height, also after changes; batch T.
        steer_in: displacement of the tie rod's inner end, in, (3, *S).
        diagnose: whether `failed` is to name what ran out; without it a lane out of reach costs a fifth.

    Returns:
        The pose, batch = B, T and S broadcast. NaN and `closed` false where the travel cannot be reached on the
        surveyed branch; `failed` names the member that ran out on the way.

    Source: rigid-body closure, see `mechanism`; agreement with independent solvers is in tests/engine.

    >>> from studbook_service.engine.examples import CORNER
    >>> float(solve_travel(CORNER, travel_in=1).lower_ball[2].round(4))
    8.0865
    """
    target = corner.wheel_center[2] + numbers(travel_in)
    return solve_to(corner, target, steer_in, WheelHeight(), diagnose=diagnose)


def solve_spring_length(
    corner: FrontLinkage, *, length_in: npt.ArrayLike, steer_in: npt.ArrayLike | None = None
) -> Pose:
    """The corner with its spring at a length, whichever body carries it.

    Args:
        corner: batch B, with a spring.
        length_in: between the spring's mounts; batch L.
        steer_in: displacement of the tie rod's inner end, in, (3, *S).

    Returns:
        The pose, as `solve_travel`; nowhere closed without a spring.

    >>> from studbook_service.engine.examples import CORNER
    >>> length = mount_length(solve_travel(CORNER, travel_in=0.5))
    >>> round(float(solve_spring_length(CORNER, length_in=length).travel_in), 9)
    0.5
    """
    return solve_to(corner, numbers(length_in), steer_in, reduced_mount(corner, corner.spring))


def solve_angle(corner: FrontLinkage, *, angle_rad: npt.ArrayLike, steer_in: npt.ArrayLike | None = None) -> Pose:
    """The corner with its lower arm turned by an angle from the survey.

    Args:
        corner: batch B.
        angle_rad: + lifts the lower ball; batch A.
        steer_in: displacement of the tie rod's inner end, in, (3, *S).

    Returns:
        The pose, batch = B, A and S broadcast; NaN and `closed` false where it does not close.

    >>> from studbook_service.engine.examples import CORNER
    >>> abs(float(solve_angle(CORNER, angle_rad=0).travel_in)) < 1e-12
    True
    """
    with np.errstate(all="ignore"):
        parts, shape = _steered(corner, steer_in, numbers(angle_rad).shape)
        parts = lift_parts(parts, len(shape))
        angle = np.broadcast_to(numbers(angle_rad), shape)
        state = close(parts, angle)
        return _pose(corner, parts, _position(parts, angle, state, np.isfinite(wheel_height(parts, state)[1])))


class Reach(NamedTuple):
    """How far the wheel of a corner travels, (*batch).

    Attributes:
        lowest_in, highest_in: travel at which a member runs out, in droop and in bump; NaN where nothing closes.
        lowest_failed, highest_failed: which member, codes into `FAILED`.
    """

    lowest_in: Array
    highest_in: Array
    lowest_failed: Array
    highest_failed: Array


def reach(corner: FrontLinkage, *, steer_in: npt.ArrayLike | None = None) -> Reach:
    """How far a corner's wheel can travel each way before an arm or the tie rod runs out.

    Args:
        corner: batch B.
        steer_in: displacement of the tie rod's inner end, in, (3, *S).

    Returns:
        The reach, batch = B and S broadcast. The geometry's own limits: springs, stops and chains come sooner.

    >>> from studbook_service.engine.examples import CORNER
    >>> from studbook_service.engine.reach import FAILED
    >>> ends = reach(CORNER)
    >>> round(float(ends.lowest_in), 2), FAILED[int(ends.lowest_failed)]
    (-10.16, 'upper arm')
    """
    with np.errstate(all="ignore"):
        parts, shape = _steered(corner, steer_in, ())
        flat = mapped_parts(parts, lane_picker(shape, tuple(slice(None) for _ in shape)))
        ends = reach_angles(flat, WheelHeight())
        travels = [
            (wheel_height(flat, close(flat, angle))[0]).reshape(shape) - corner.wheel_center[2]
            for angle in (ends.low, ends.high)
        ]
        codes = ends.low_failed.reshape(shape), ends.high_failed.reshape(shape)
        swapped = travels[0] > travels[1]  # pivots surveyed front for rear: a positive angle lowers the ball
        low, high = np.where(swapped, travels[::-1], travels)
        return Reach(low, high, np.where(swapped, codes[1], codes[0]), np.where(swapped, codes[0], codes[1]))


def mount_length(pose: Pose, mount: Mount | None = None) -> Array:
    """Length of the spring, or of another mount, in a pose; in, (*batch).

    >>> from studbook_service.engine.examples import POSE
    >>> round(float(mount_length(POSE)), 3)
    15.997
    """
    with np.errstate(all="ignore"):
        parts, state = reclosed(pose, pose.angle_rad)
        return reduced_mount(pose.corner, mount or pose.corner.spring)(parts, state)[0]


def reclosed(pose: Pose, angle: Array) -> tuple[Mechanism, MechanismState]:
    """The mechanism of a pose, steering included, closed again at `angle` (complex for a derivative)."""
    parts = pose.corner.mechanism._replace(tie_inner=pose.tie_inner)
    parts = lift_parts(parts, angle.ndim)
    return parts, close(parts, angle)


def _steered(
    corner: FrontLinkage, steer_in: npt.ArrayLike | None, shape: tuple[int, ...]
) -> tuple[Mechanism, tuple[int, ...]]:
    """The mechanism with the rod's inner end steered, and the batch shape of corner, steering and `shape` together."""
    parts = corner.mechanism
    if steer_in is not None:
        steer = shaped("steer_in", numbers(steer_in), 3)
        rank = max(steer.ndim, parts.tie_inner.ndim) - 1
        parts = parts._replace(tie_inner=lift(parts.tie_inner, rank) + lift(steer, rank))
    return parts, np.broadcast_shapes(batch_shape(parts), shape)


def solve_to(
    corner: FrontLinkage, target: Array, steer_in: npt.ArrayLike | None, measure: Measure, *, diagnose: bool = True
) -> Pose:
    """The corner where a measure meets its target: what the solvers above have in common.

    Args:
        corner: batch B.
        target: of the measure, batch T.
        steer_in: displacement of the tie rod's inner end, in, (3, *S).
        measure: its arrays broadcast against B, T and S.
        diagnose: whether `failed` is to name what ran out.

    Returns:
        The pose, batch = B, T and S broadcast.
    """
    with np.errstate(all="ignore"):
        parts, shape = _steered(corner, steer_in, target.shape)
        lanes = shape or (1,)
        parts, target = lift_parts(parts, len(lanes)), np.broadcast_to(target, lanes)
        found = _newton(parts, measure, target) if target.size <= BLOCK else _in_blocks(parts, measure, target)
        left = ~found.closed & np.isfinite(target)
        if left.any() and not diagnose:
            pick = lane_picker(target.shape, np.nonzero(left))
            left[left] = attainable(mapped_parts(parts, pick), measure.mapped(pick), target[left])
        if left.any():
            _rescue(parts, measure, target, found, left)
        return _pose(corner, parts, found if shape else LinkagePosition(*(array[..., 0] for array in found.arrays)))


def _in_blocks(parts: Mechanism, measure: Measure, target: Array) -> LinkagePosition:
    """Newton's method on a large batch, block by block."""
    whole: list[Array] = []
    for index in _blocks(target.shape, BLOCK):
        pick = lane_picker(target.shape, index)
        block = _newton(mapped_parts(parts, pick), measure.mapped(pick), target[index].reshape(-1))
        if not whole:
            whole = [np.empty(array.shape[:-1] + target.shape, array.dtype) for array in block.arrays]
        for array, piece in zip(whole, block.arrays, strict=True):
            place = array[(slice(None),) * (piece.ndim - 1) + index]
            place[...] = piece.reshape(place.shape)
    return LinkagePosition(*whole)


def _rescue(parts: Mechanism, measure: Measure, target: Array, found: LinkagePosition, left: Array) -> None:
    """Solves the lanes that Newton's method left by bisection, or finds what ran out; writes into `found`."""
    for index in np.array_split(np.flatnonzero(left), -(-int(left.sum()) // RESCUED)):
        where = np.unravel_index(index, target.shape)
        pick = lane_picker(target.shape, where)
        lanes, quantity, wanted = mapped_parts(parts, pick), measure.mapped(pick), target[where]
        angle, failed = bisect(lanes, quantity, wanted)
        state = close(lanes, angle)
        closed = np.abs(quantity(lanes, state)[0] - wanted) < 10 * TOLERANCE_IN
        for array, piece in zip(found.arrays, _position(lanes, angle, state, closed).arrays, strict=True):
            array[(slice(None),) * (piece.ndim - 1) + where] = piece
        found.failed[where] = failed


def _newton(parts: Mechanism, measure: Measure, target: Array) -> LinkagePosition:
    """Newton's method from the survey; its second step also uses the curvature that the first two positions show."""
    angle = np.zeros(target.shape)
    value, rate = measure(parts, close(parts, angle))
    sense, survey, survey_slope = np.sign(rate), value, 1 / rate
    step = (target - value) / rate
    # The lower ball's own circle gives the second-order term of the first step.
    curve = 0.5 * parts.lower.zero[2] / parts.lower.quarter[2]
    angle = step + np.clip(curve * step, -0.3, 0.3) * step
    for count in range(NEWTON_STEPS):
        state = close(parts, angle)
        value, rate = measure(parts, state)
        error = target - value
        if np.fmax.reduce(np.abs(error), axis=None, initial=0.0) < TOLERANCE_IN:
            break
        step = error / rate
        if count == 0:
            # Inverse cubic through both positions and slopes (Hermite), where they are far enough apart.
            run, slope = value - survey, 1 / rate
            mean = angle / run
            bend = (slope - mean) / run + (slope - 2 * mean + survey_slope) / run**2 * (error + run)
            step = np.where(np.abs(run) > 1e-3, step + bend * error**2, step)
        angle = angle + step
    closed = (np.abs(error) < TOLERANCE_IN) & (rate * sense > 0) & (np.abs(angle) < np.pi / 2)
    return _position(parts, angle, state, closed)


def _position(parts: Mechanism, angle: Array, state: MechanismState, closed: Array) -> LinkagePosition:
    """The position of a closed linkage, per inch of travel, NaN where not closed."""
    k, t, _ = state.frame
    climb = wheel_height(parts, state)[1]
    found = [
        angle,
        climb,
        state.lower_ball,
        state.upper_ball,
        state.lower_ball + parts.spindle.tie_rise * k + parts.spindle.tie_arm * t,
        state.lower_ball + combine(state.frame, parts.spindle.wheel),
        combine(state.frame, parts.spindle.spin),
        combine(state.frame, state.turn) / climb,
        state.lower_ball_rate / climb,
    ]
    failed = np.zeros(closed.shape, np.int64)
    if not closed.all():
        found = [np.where(closed, array, np.nan) for array in found]
        failed = np.where(closed, 0, failure(parts, state))
    return LinkagePosition(*[*found, closed, failed])


def _pose(corner: FrontLinkage, parts: Mechanism, found: LinkagePosition) -> Pose:
    tie_inner = parts.tie_inner if found.closed.ndim else parts.tie_inner.reshape(3)
    return Pose(*found.arrays, corner=corner, tie_inner=tie_inner)


def _blocks(shape: tuple[int, ...], size: int) -> Iterator[tuple[slice, ...]]:
    """Index tuples that cut a batch into pieces of about `size` lanes."""
    inner = int(np.prod(shape[1:]))
    if inner > size:
        for row in range(shape[0]):
            for rest in _blocks(shape[1:], size):
                yield (slice(row, row + 1), *rest)
        return
    rows = max(1, size // max(1, inner))
    for start in range(0, shape[0], rows):
        yield (slice(start, start + rows), *(slice(None) for _ in shape[1:]))
