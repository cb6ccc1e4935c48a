"""Where the moving end of a spring or shock is, and how fast its length changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from studbook_service.engine.mechanism import (
    Circle,
    Frame,
    Mechanism,
    MechanismState,
    combine,
    components,
    spindle_frame,
    surveyed_arm,
    swung_axes,
)
from studbook_service.engine.vectors import Array, cross, dot, lift, root

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Self

    from studbook_service.engine.corner import FrontLinkage, Mount

LOWER_ARM, UPPER_ARM, SPINDLE = range(3)


class ReducedMount(NamedTuple):
    """A mount reduced to what its length needs.

    Attributes:
        chassis: the fixed end, in, (3, *batch).
        offset: the moving end from the ball of its body, along that body's axes, in, (3, *batch): (inner axis, radial,
            their product) of an arm from its own ball, (k, t, m) of the spindle from the lower ball.
        body: which body carries it, (*batch).
    """

    chassis: Array
    offset: Array
    body: Array

    def mapped(self, change: Callable[[Array, int], Array]) -> Self:
        """The same with every array changed; the second argument is its number of component axes."""
        return self._replace(chassis=change(self.chassis, 1), offset=change(self.offset, 1), body=change(self.body, 0))

    def __call__(self, parts: Mechanism, state: MechanismState) -> tuple[Array, Array]:
        """Length, in, and its rate, in per rad of the lower arm; (*batch), NaN without a mount."""
        present = np.unique(self.body)
        point, rate = self.end(parts, state, int(present[0]))
        for body in present[1:]:
            other, other_rate = self.end(parts, state, int(body))
            here = self.body == body
            point, rate = np.where(here, other, point), np.where(here, other_rate, rate)
        line = point - lift(self.chassis, point.ndim - 1)
        length = root(dot(line, line))
        return length, dot(line, rate) / length

    def end(self, parts: Mechanism, state: MechanismState, body: int) -> tuple[Array, Array]:
        """Position, in, and rate, in per rad of the lower arm, of the moving end held by `body`."""
        offset = lift(self.offset, state.lower_ball.ndim - 1)
        if body == SPINDLE:
            arm = combine(state.frame, offset)
            return state.lower_ball + arm, state.lower_ball_rate + cross(combine(state.frame, state.turn), arm)
        if body == LOWER_ARM:
            return _on_arm(parts.lower, offset, state.lower_ball, state.lower_ball_rate)
        return _on_arm(parts.upper, offset, state.upper_ball, state.upper_ball_rate)


def _on_arm(circle: Circle, offset: Array, ball: Array, ball_rate: Array) -> tuple[Array, Array]:
    axes, radius = swung_axes(circle, ball)
    point = ball + combine(axes, offset)
    return point, dot(ball_rate, axes[2]) / radius * cross(axes[0], point - circle.center)


def reduced_mount(corner: FrontLinkage, mount: Mount) -> ReducedMount:
    """A mount reduced, with the corner's moves made.

    On an arm the end belongs to the rigid triangle of the surveyed pivots and the ball in its housing; on the spindle
    to the triangle of the two balls and the rod's outer end, as the fitted studs and spacer make it.
    """
    rank = max(corner.rank, mount.moving.ndim - 1)
    moving = lift(mount.moving, rank)
    offset = None
    for body in np.unique(mount.body):
        along = np.stack(np.broadcast_arrays(*_offset(corner, moving, int(body), rank)))
        offset = along if offset is None else np.where(mount.body == body, along, offset)
    return ReducedMount(mount.chassis, np.asarray(offset), mount.body)


def _offset(corner: FrontLinkage, moving: Array, body: int, rank: int) -> Frame:
    if body == SPINDLE:
        ball, frame = spindle_frame(corner, rank)
    else:
        ball, frame = surveyed_arm(corner, "lower" if body == LOWER_ARM else "upper", rank)
    return components(moving - ball, frame)
