"""A corner restored: which amounts of which adjustments bring its readings to their targets."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import solutions
from studbook_service.engine.changes import PIVOTS, Moves
from studbook_service.engine.linkage import Pose, mount_length, solve_angle
from studbook_service.engine.mechanism import (
    Mechanism,
    MechanismState,
    batch_shape,
    close,
    combine,
    lift_parts,
    wheel_height,
)
from studbook_service.engine.mounts import reduced_mount
from studbook_service.engine.vectors import COMPLEX_STEP, Array, cross, lift, numbers
from studbook_service.engine.wheel import toe_rate, wheel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from studbook_service.engine.corner import FrontLinkage

FREE = np.inf
"""A target that leaves its reading free in that lane."""
NEWTON_STEPS = 12
NEAR = 1e-6  # from here one more step of Newton's method is exact to rounding, whatever the curvature
TOLERANCE = 1e-9
LONGEST_STEP_IN = 1.0
SINGULAR = 1e-12
WIDEST_STEP_RAD = 0.3


@dataclass(frozen=True, eq=False, kw_only=True)
class Targets:
    """What the wheel shall read, (*batch), signs as in `WheelAlignment`; None where it does not matter.

    The targets that are set pair with the adjustments in order. Where a target is `FREE` the reading is left as it
    comes and its adjustment unused, so one call can restore three readings in one lane and four in the next.

    >>> Targets(camber_deg=-4.0, toe_deg=-0.12).names
    ('camber_deg', 'toe_deg')
    """

    camber_deg: npt.ArrayLike | None = None
    caster_deg: npt.ArrayLike | None = None
    toe_deg: npt.ArrayLike | None = None
    bump_steer_deg_per_in: npt.ArrayLike | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The readings that have a target."""
        return tuple(name for name in _READINGS if getattr(self, name) is not None)


_READINGS = ("camber_deg", "caster_deg", "toe_deg", "bump_steer_deg_per_in")


@dataclass(frozen=True, eq=False, kw_only=True)
class Restored:
    """A corner restored.

    Attributes:
        amounts: how much of each adjustment, in the order given, (adjustments, *batch); NaN, and so corner and
            pose, where not converged.
        corner: the corner with them made.
        pose: that corner at its travel or spring length.
        residual: what is still off, in the order of `Targets.names`, deg or deg per in, (targets, *batch);
            NaN where left free.
        converged: whether every target is met to 1e-9 and the wheel or spring is in its place, (*batch).
    """

    amounts: Array
    corner: FrontLinkage
    pose: Pose
    residual: Array
    converged: Array


def restore(
    corner: FrontLinkage,
    *,
    targets: Targets,
    adjustments: Sequence[Moves],
    travel_in: npt.ArrayLike = 0.0,
    spring_length_in: npt.ArrayLike | None = None,
    steer_in: npt.ArrayLike | None = None,
) -> Restored:
    """The amounts of some adjustments that bring a corner's readings to their targets.

    Newton's method on the lower arm's angle and all amounts at once; every column of the Jacobian is a complex-step
    derivative of the closed linkage, exact to rounding. With *measured* readings as targets it infers moves that nobody
    wrote down.

    Args:
        corner: batch B, its changes made.
        targets: as many readings as there are adjustments.
        adjustments: each the moves of one unit of it: equal upper shims, unequal ones, the tie rod's length, a spacer.
        travel_in: of the wheel, from its surveyed height: the perch is turned until it is there.
        spring_length_in: instead of that, the length the spring keeps: the perch is left alone.
        steer_in: displacement of the tie rod's inner end, in, (3, *S).

    Returns:
        The corner restored, and the amounts. Where the adjustments cannot do it: NaN, and `converged` false.

    Raises:
        ValueError: targets and adjustments differ in number, or there are none.

    Source: Newton's method; complex step: Squire and Trapp, SIAM Review 40 (1998) 110 (from memory).

    >>> from studbook_service.engine.changes import apply, shims
    >>> from studbook_service.engine.examples import CORNER
    >>> longer = apply(CORNER, Moves(upper_stud_in=0.5))
    >>> right = restore(longer, targets=Targets(camber_deg=-4.0, toe_deg=-0.12),
    ...     adjustments=[shims(side=-1, front_in=1, rear_in=1), Moves(tie_rod_in=1)])
    >>> right.amounts.round(3).tolist(), bool(right.converged)
    ([0.093, 0.0], True)
    """
    names, count = targets.names, len(adjustments)
    if not names or len(names) != count:
        raise ValueError(f"targets ({len(names)}) and adjustments ({count}) must be equal in number, at least 1")
    wanted = [numbers(getattr(targets, name)) for name in names]
    place = corner.wheel_center[2] + numbers(travel_in) if spring_length_in is None else numbers(spring_length_in)
    steer = np.zeros(3) if steer_in is None else numbers(steer_in)
    sizes = [place.shape, steer.shape[1:], *(target.shape for target in wanted), *map(_batch_of, adjustments)]
    shape = np.broadcast_shapes(batch_shape(corner.mechanism), *sizes)
    goal = np.stack([np.broadcast_to(value, shape) for value in (place, *wanted)])
    free = np.isinf(goal)
    goal = np.where(free, 0.0, goal)
    made = _made(adjustments)
    rank = len(shape) + 1
    with np.errstate(all="ignore"):
        unknowns = np.zeros((count + 1, *shape))
        step = 1j * COMPLEX_STEP * np.eye(count + 1).reshape((count + 1, count + 1) + (1,) * len(shape))
        for _ in range(NEWTON_STEPS):
            trial = unknowns[:, None] + step
            moved = corner.remade(made, moves=_total(corner.moves, made, trial[1:]))
            parts = lift_parts(moved.mechanism, rank)
            parts = parts._replace(tie_inner=parts.tie_inner + lift(steer, rank))
            state = close(parts, trial[0])
            measure = wheel_height if spring_length_in is None else reduced_mount(moved, corner.spring)
            found = np.stack([measure(parts, state)[0], *_read(names, parts, state, corner.side)])
            found = np.where(free[:, None], trial, found)
            error = goal - found[:, 0].real
            unknowns = unknowns + _newton_step(found.imag / COMPLEX_STEP, error)
            if np.fmax.reduce(np.abs(error), axis=None, initial=0.0) < NEAR:
                break
        by_spring = spring_length_in is not None
        after, pose, found = _gauged(corner, made, names, unknowns, by_spring=by_spring, steer_in=steer_in)
        converged = np.all(free | (np.abs(goal - found) < TOLERANCE), axis=0)
        if not converged.all():
            unknowns = np.where(converged, unknowns, np.nan)
            after, pose, found = _gauged(corner, made, names, unknowns, by_spring=by_spring, steer_in=steer_in)
        residual = np.where(free, np.nan, goal - found)[1:]
        return Restored(amounts=unknowns[1:], corner=after, pose=pose, residual=residual, converged=converged)


def _gauged(
    corner: FrontLinkage,
    made: dict[str, list[tuple[int, Array]]],
    names: tuple[str, ...],
    unknowns: Array,
    *,
    by_spring: bool,
    steer_in: npt.ArrayLike | None,
) -> tuple[FrontLinkage, Pose, Array]:
    """The corner with the amounts made, its pose, and what is read there: its place first, then the readings."""
    after = corner.remade(made, moves=_total(corner.moves, made, unknowns[1:]))
    pose = solve_angle(after, angle_rad=unknowns[0], steer_in=steer_in)
    at = wheel(pose)
    place = mount_length(pose) if by_spring else pose.wheel_center[2]
    return after, pose, np.stack([place, *(getattr(at, name) for name in names)])


def _made(adjustments: Sequence[Moves]) -> dict[str, list[tuple[int, Array]]]:
    """For every move that some adjustment makes: which ones, and how much of it each makes."""
    made: dict[str, list[tuple[int, Array]]] = {}
    for index, unit in enumerate(adjustments):
        for name in unit.made:
            made.setdefault(name, []).append((index, getattr(unit, name)))
    return made


def _batch_of(moves: Moves) -> tuple[int, ...]:
    return np.broadcast_shapes(*(getattr(moves, name).shape[int(name in PIVOTS) :] for name in moves.made))


def _total(base: Moves, made: dict[str, list[tuple[int, Array]]], amounts: Array) -> Moves:
    """The base moves and so much of each adjustment."""
    rank, changed = amounts.ndim - 1, {}
    for name, shares in made.items():
        pivot = name in PIVOTS
        total = lift(getattr(base, name), rank) if pivot else getattr(base, name)
        for index, each in shares:
            total = total + amounts[index] * (lift(each, rank) if pivot else each)
        changed[name] = total
    return replace(base, **changed)


def _read(names: tuple[str, ...], parts: Mechanism, state: MechanismState, side: Array) -> list[Array]:
    """The readings of a closed linkage, deg, also for complex numbers."""
    k = state.frame[0]
    spin = combine(state.frame, parts.spindle.spin)
    readings = []
    for name in names:
        if name == "camber_deg":
            value = -np.arcsin(spin[2])
        elif name == "caster_deg":
            value = np.arctan(-k[0] / k[2])
        elif name == "toe_deg":
            value = np.arctan(spin[0] / (side * spin[1]))
        else:
            value = toe_rate(side, spin, cross(combine(state.frame, state.turn), spin) / wheel_height(parts, state)[1])
        readings.append(value * (180 / np.pi))
    return readings


def _newton_step(jacobian: Array, error: Array) -> Array:
    """Solves J Δ = error in every lane, NaN where J is singular, no longer than an inch or 0.3 rad."""
    step = solutions(jacobian, error[:, None], least_determinant=SINGULAR)[:, 0]
    length = np.maximum(np.abs(step[0]) / WIDEST_STEP_RAD, np.max(np.abs(step[1:]), axis=0) / LONGEST_STEP_IN)
    result: Array = step / np.maximum(length, 1.0)
    return result
