"""Statics of the spindle: the forces that a force at the wheel makes in balls, tie rod and spring.

Six numbers hold the spindle, and six equations give them. An arm takes no moment about its inner axis, so it holds its
ball with a force along the axis and one along the arm; a spring on the arm adds its share square to both. The tie rod
pulls along itself. The spring's force is an answer, not an input.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import batch_first
from studbook_service.engine.bounds import bounded, checked_point, one_of, shaped
from studbook_service.engine.linkage import DIRECTIONS, POINTS, Pose, reclosed
from studbook_service.engine.mechanism import swung_axes
from studbook_service.engine.mounts import LOWER_ARM, SPINDLE, UPPER_ARM, reduced_mount
from studbook_service.engine.vectors import Array, cross, dot, lift, unit
from studbook_service.engine.wheel import wheel

if TYPE_CHECKING:
    from collections.abc import Iterable

    from studbook_service.engine.mechanism import Mechanism, MechanismState

Brake = Literal["free", "locked", "given"]

MOMENT_ARM_IN = 10.0
LEAST_DETERMINANT = 1e-9
"""Of unit wrenches (moments over 10 in): below it the six members do not hold the spindle."""


class JointLoads(NamedTuple):
    """Forces that hold the spindle in car axes, lb; NaN where the pose does not close or has no spring.

    Attributes:
        upper_ball_lb, lower_ball_lb: force of each arm on the spindle, (3, *batch).
        tie_rod_lb: + in tension, (*batch).
        spring_lb: + in compression, (*batch).
        brake_torque_in_lb: that the brake passes to the spindle about the wheel's axis, + braking, (*batch).
    """

    upper_ball_lb: Array
    lower_ball_lb: Array
    tie_rod_lb: Array
    spring_lb: Array
    brake_torque_in_lb: Array


def joint_loads(
    pose: Pose,
    *,
    patch_lb: npt.ArrayLike,
    contact_lb: npt.ArrayLike | None = None,
    contact_at_in: npt.ArrayLike | None = None,
    brake: Brake = "free",
    brake_torque_in_lb: npt.ArrayLike = 0.0,
) -> JointLoads:
    """Forces on the balls, the tie rod and the spring under forces at the wheel.

    Args:
        pose: any batch; forces and pose broadcast.
        patch_lb: force of the ground on the tire at the patch, car axes, (3, *batch): x + forward (braking is −),
            y + left, z + up. Take the unsprung weight off its z for what the springs carry.
        contact_lb: another force on the wheel, as of a wall on the rim, (3, *batch).
        contact_at_in: where it acts, car axes, (3, *batch).
        brake: "free" when the wheel turns on its bearing and passes no moment about its axis, "locked" when it is one
            body with the spindle, "given" when the brake passes `brake_torque_in_lb`.
        brake_torque_in_lb: + braking a wheel that rolls forward, (*batch); only with "given".

    Returns:
        The forces. Check: the spring's work over an inch of travel is that of the forces at the wheel.

    Raises:
        ValueError: a force or point not (3, *batch) or not finite; a contact force without its point or the reverse; a
            brake of another name, or a torque where none is given.

    Source: equilibrium of a rigid body; checked by virtual work in tests/engine.

    >>> from studbook_service.engine.examples import POSE
    >>> loads = joint_loads(POSE, patch_lb=(0, 0, 503 - 73))
    >>> round(float(loads.spring_lb)), round(float(loads.lower_ball_lb[2]))
    (680, -495)
    """
    one_of("brake", brake, ("free", "locked", "given"))
    if (contact_lb is None) != (contact_at_in is None):
        raise ValueError("contact_lb and contact_at_in must be given together")
    torque = bounded("brake_torque_in_lb", brake_torque_in_lb, unit="in lb")
    if brake != "given" and np.any(torque != 0):
        raise ValueError("brake_torque_in_lb must be 0 in lb unless brake is 'given'")
    patch_force = shaped("patch_lb", bounded("patch_lb", patch_lb, unit="lb"), 3)
    contact = [] if contact_lb is None else [shaped("contact_lb", bounded("contact_lb", contact_lb, unit="lb"), 3)]
    points = [] if contact_at_in is None else [checked_point("contact_at_in", contact_at_in)]
    pose = _raised(pose, max(torque.ndim, *(each.ndim - 1 for each in (pose.spin, patch_force, *contact, *points))))
    with np.errstate(all="ignore"):
        applied = zip([patch_force, *contact], [wheel(pose).patch, *points], strict=True)
        force, moment, passed = _on_spindle(pose, applied, brake, torque)
        return _held(pose, force, moment, passed)


def _on_spindle(
    pose: Pose, applied: Iterable[tuple[Array, Array]], brake: Brake, torque: Array
) -> tuple[Array, Array, Array]:
    """Force and moment about the wheel center that the wheel passes on, and the brake's torque in it."""
    rank = pose.spin.ndim - 1
    force, moment = np.zeros_like(pose.spin), np.zeros_like(pose.spin)
    for given, point in applied:
        each = lift(given, rank)
        force, moment = force + each, moment + cross(lift(point, rank) - pose.wheel_center, each)
    forward = pose.corner.side * pose.spin  # a wheel rolling forward turns about this
    whole = dot(moment, forward)
    passed = whole if brake == "locked" else torque + 0.0 * whole
    return force, moment + (passed - whole) * forward, passed


def _held(pose: Pose, force: Array, moment: Array, passed: Array) -> JointLoads:
    parts, state = reclosed(pose, pose.angle_rad)
    (lower_axis, lower_radial, lower_normal), _ = swung_axes(parts.lower, state.lower_ball)
    (upper_axis, upper_radial, upper_normal), _ = swung_axes(parts.upper, state.upper_ball)
    rod = unit(parts.tie_inner - pose.tie_outer)
    push, at, bodies = _spring(pose, parts, state)
    lines = [
        (upper_axis, pose.upper_ball),
        (upper_radial, pose.upper_ball),
        (lower_axis, pose.lower_ball),
        (lower_radial, pose.lower_ball),
        (rod, pose.tie_outer),
        (push, at),
    ]
    batch = np.broadcast_shapes(force.shape[1:], moment.shape[1:], *(line.shape[1:] for line, _ in lines))
    wrenches = [_wrench(line, cross(point - pose.wheel_center, line), batch) for line, point in lines]
    size = [np.sqrt(np.sum(each**2, axis=0)) for each in wrenches]
    matrix = batch_first(np.stack([each / length for each, length in zip(wrenches, size, strict=True)], axis=1))
    sound = np.abs(np.linalg.det(matrix)) > LEAST_DETERMINANT
    matrix = np.where(sound[..., None, None], matrix, np.eye(6))
    load = np.moveaxis(_wrench(-force, -moment, batch), 0, -1)[..., None]
    solved = np.where(sound[..., None], np.linalg.solve(matrix, load)[..., 0], np.nan)
    along = [solved[..., member] / size[member] for member in range(6)]
    spring = along[5]
    upper_share = spring * np.where(bodies == UPPER_ARM, dot(push, upper_normal), 0.0)
    lower_share = spring * np.where(bodies == LOWER_ARM, dot(push, lower_normal), 0.0)
    return JointLoads(
        upper_ball_lb=along[0] * upper_axis + along[1] * upper_radial + upper_share * upper_normal,
        lower_ball_lb=along[2] * lower_axis + along[3] * lower_radial + lower_share * lower_normal,
        tie_rod_lb=along[4],
        spring_lb=spring,
        brake_torque_in_lb=passed + np.zeros(batch),
    )


def _spring(pose: Pose, parts: Mechanism, state: MechanismState) -> tuple[Array, Array, Array]:
    """Force on the spindle per pound in the spring, where it acts, and which body carries the spring."""
    mounted = reduced_mount(pose.corner, pose.corner.spring)
    chassis = lift(mounted.chassis, pose.spin.ndim - 1)
    force = at = np.full(3, np.nan).reshape(3, *(1,) * (pose.spin.ndim - 1))
    for body in np.unique(mounted.body):
        end, _ = mounted.end(parts, state, int(body))
        line = unit(end - chassis)
        if body == SPINDLE:
            here, point = line, end
        else:
            circle, point = (parts.lower, pose.lower_ball) if body == LOWER_ARM else (parts.upper, pose.upper_ball)
            (axis, _, normal), radius = swung_axes(circle, point)
            here = dot(axis, cross(end - circle.center, line)) / radius * normal
        force, at = np.where(mounted.body == body, here, force), np.where(mounted.body == body, point, at)
    return force, at, mounted.body


def _wrench(force: Array, moment: Array, batch: tuple[int, ...]) -> Array:
    """Force and moment over 10 in, as one (6, *batch)."""
    return np.concatenate([np.broadcast_to(force, (3, *batch)), np.broadcast_to(moment, (3, *batch)) / MOMENT_ARM_IN])


def _raised(pose: Pose, rank: int) -> Pose:
    """The pose with leading length-1 batch axes, so that it meets as many axes of forces."""
    raised: dict[str, Any] = {name: lift(getattr(pose, name), rank) for name in (*POINTS, *DIRECTIONS)}
    return replace(pose, angle_rad=lift(pose.angle_rad, rank, lead=0), **raised)
