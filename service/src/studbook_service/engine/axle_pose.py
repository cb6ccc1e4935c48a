"""A beam axle placed at a bump and axle roll, or with both patches on the ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import batch_first, lane_picker, solutions
from studbook_service.engine.beam import (
    RIGID,
    Beam,
    BeamState,
    BumpRoll,
    Drive,
    OnGround,
    carried,
    jacobian,
)
from studbook_service.engine.bounds import one_of
from studbook_service.engine.rear_axle import CARRIERS, AxleLinkage, Carrier
from studbook_service.engine.vectors import Array, cross, lift, numbers

TOLERANCE_IN = 1e-10
NEWTON_STEPS = 10
WIDEST_STEP_RAD = 0.3
BLOCK = 1024
"""Places solved together: few enough that the temporaries stay in a core's cache."""
FIRST_STRIDE, STRIDES = 0.25, 16
"""Of the way from the survey: how a place that Newton's method missed is approached."""


@dataclass(frozen=True, eq=False)
class AxlePose:
    """A beam axle in a place, chassis axes; NaN where the rods do not close.

    Attributes:
        axle: what was solved.
        state: midpoint and frame, and the birdcages' angles.
        motions: the axle's motion per inch of bump with roll held, and per radian of axle roll with bump held:
            velocity of the midpoint, angular velocity, the birdcages' own turning, (6 + birdcages, 2, *batch).
        closed: whether the rods close there, (*batch).
        reached: how much of the way from the survey they close, 1 where closed, (*batch).
        failed: what ran out, 1 + the index of a rod in `axle.names`; 0 where closed, (*batch).

    >>> from studbook_service.engine.examples import AXLE
    >>> solve_axle(AXLE, bump_in=-1.5, roll_deg=5).wheels[:, 0].round(3).tolist()
    [-102.006, 31.325, 9.241]
    """

    axle: AxleLinkage
    state: BeamState
    motions: Array
    closed: Array
    reached: Array
    failed: Array

    @property
    def wheels(self) -> Array:
        """The wheel centers, left then right, in, (3, 2, *batch)."""
        reach = self.axle.beam.half * self.state.left
        return np.stack([self.state.midpoint + reach, self.state.midpoint - reach], axis=1)

    def point(self, surveyed: npt.ArrayLike, *, on: Carrier = "axle") -> Array:
        """Where a point of the axle or a birdcage is now, in, (3, *batch).

        Args:
            surveyed: where it was at the survey, in, (3,).
            on: what carries it.

        Raises:
            ValueError: no rod is bolted to that birdcage, so its turning is not determined.
        """
        arm = numbers(surveyed) - self.axle.beam.midpoint.reshape(3)
        return self.state.midpoint + self.direction(arm, on=on)

    def direction(self, surveyed: npt.ArrayLike, *, on: Carrier = "axle") -> Array:
        """Where a vector of the axle or a birdcage points now, (3, *batch); arguments as for `point`."""
        along = lift(self.axle.axes @ numbers(surveyed), self.closed.ndim)
        return carried(self.state, along, self._turned(self._cage(on)))

    def velocity(self, point: Array, *, on: Carrier = "axle") -> Array:
        """Velocity of the point of the axle or a birdcage that is now at `point`.

        Args:
            point: in, (3, *batch).
            on: what it is fixed in.

        Returns:
            Per inch of bump and per radian of axle roll, (3, 2, *batch).
        """
        turn, cage = self.motions[3:RIGID], self._cage(on)
        if cage >= 0:
            turn = turn + self.motions[RIGID + cage] * self.state.left[:, None]
        return self.motions[:3] + cross(turn, (point - self.state.midpoint)[:, None])

    def rod_ends(self, rod: str) -> tuple[Array, Array]:
        """Where a rod's chassis end and rear end are now, in, (3, *batch) each.

        Raises:
            ValueError: there is no such rod.
        """
        beam, index = self.axle.beam, self.axle.index(rod)
        reach = carried(self.state, beam.offset[:, index], self._turned(beam.cage[index]))
        return beam.chassis[:, index], self.state.midpoint + reach

    def _turned(self, cage: int) -> Array | None:
        """How far a birdcage turned on the axle; None for the axle itself, −1."""
        return None if cage < 0 else self.state.turned[cage]

    def _cage(self, on: Carrier) -> int:
        """Index of a birdcage; −1 for the axle."""
        one_of("on", on, CARRIERS)
        if on == "axle":
            return -1
        if on not in self.axle.cages:
            raise ValueError(f"on is {on}, but no rod is bolted to it, so its turning is not determined")
        return self.axle.cages.index(on)


def solve_axle(
    axle: AxleLinkage, *, bump_in: npt.ArrayLike, roll_deg: npt.ArrayLike, start: AxlePose | None = None
) -> AxlePose:
    """The axle at a bump and an axle roll.

    Newton's method on all six coordinates and the birdcages' angles, with the analytic Jacobian, to 1e-10 in; where it
    fails, steps from the survey.

    Args:
        axle: batch B.
        bump_in: rise of the midpoint of the wheel centers from its surveyed height; batch T.
        roll_deg: change of atan2(z_R − z_L, y_L − y_R), + right wheel up; batch S.
        start: a pose near by to begin from, of a batch that broadcasts; by default the survey's first derivatives.

    Returns:
        The pose, batch = B, T and S broadcast. NaN and `closed` false where the rods cannot reach on the surveyed
        branch; `failed` names the rod that ran out.

    Source: rigid-body closure, see `beam`; agreement with independent solvers is in tests/engine.

    >>> from studbook_service.engine.examples import AXLE
    >>> pose = solve_axle(AXLE, bump_in=1, roll_deg=[-2, 0, 2])
    >>> (pose.wheels[2, 0] - pose.wheels[2, 1]).round(3).tolist(), pose.closed.all().item()
    ([1.651, -0.6, -2.851], True)
    """
    return _solve(axle, BumpRoll(numbers(bump_in), np.radians(numbers(roll_deg))), start)


def solve_axle_on_ground(
    axle: AxleLinkage,
    *,
    up: npt.ArrayLike,
    heave_in: npt.ArrayLike,
    left_radius_in: npt.ArrayLike,
    right_radius_in: npt.ArrayLike,
    start: AxlePose | None = None,
) -> AxlePose:
    """The axle with both patches, lowest toward the ground, on the ground; chassis axes, as `solve_axle`.

    Args:
        axle: batch B.
        up: the ground's normal in chassis axes, unit vector, (3, *G).
        heave_in: height of the chassis origin over the ground; batch H.
        left_radius_in: loaded radius of the left tire.
        right_radius_in: of the right tire.
        start: as for `solve_axle`.

    >>> from studbook_service.engine.examples import AXLE
    >>> pose = solve_axle_on_ground(AXLE, up=(0, 0, 1), heave_in=-1, left_radius_in=13.55, right_radius_in=14.15)
    >>> (pose.wheels[2] - [13.55, 14.15]).round(3).tolist()
    [0.999, 0.999]
    """
    drive = OnGround(*(numbers(value) for value in (up, heave_in, left_radius_in, right_radius_in)))
    return _solve(axle, drive, start)


def _solve(axle: AxleLinkage, drive: Drive, start: AxlePose | None) -> AxlePose:
    """The axle where the drive puts it, block by block over the flattened batch."""
    begins = () if start is None else start.closed.shape
    shape = np.broadcast_shapes(axle.beam.length.shape[1:], drive.shape, begins)
    count = int(np.prod(shape))
    flat = lane_picker(shape, (slice(None),) * len(shape))
    beam, drive = axle.beam.mapped(flat), drive.mapped(flat)
    blocks = []
    with np.errstate(all="ignore"):
        motions, sense = _motions(beam, beam.survey())
        for low in range(0, max(count, 1), BLOCK):
            size = min(BLOCK, count - low)
            pick = lane_picker((count,), (slice(low, low + size),))
            lanes, wanted = beam.mapped(pick), drive.mapped(pick)
            if start is None:
                near = _near(lanes, wanted, pick(motions, 2))
            else:
                near = BeamState(*(pick(flat(array, 1), 1) for array in start.state))
            near = BeamState(*(np.array(np.broadcast_to(array, (*array.shape[:-1], size))) for array in near))
            blocks.append(_block(lanes, wanted, near, pick(sense, 0)))
    found = [np.concatenate(pieces, axis=-1) for pieces in zip(*blocks, strict=True)]
    found = [array.reshape((*array.shape[:-1], *shape)) for array in found]
    return AxlePose(axle, BeamState(*found[:4]), *found[4:])


def _near(beam: Beam, drive: Drive, motions: Array) -> BeamState:
    """The survey moved by its first derivatives, close to where the drive puts the axle."""
    bump, roll = drive.start(beam)
    return beam.survey().moved(motions[:, 0] * bump + motions[:, 1] * roll)


def _motions(beam: Beam, state: BeamState) -> tuple[Array, Array]:
    """Motions per inch of bump and per radian of roll, (6 + cages, 2, *batch), and the sign of the Jacobian."""
    still = np.zeros(state.left.shape[1:])
    matrix = jacobian(beam, state, BumpRoll(still, still))[1]
    columns = np.zeros((matrix.shape[0], 2, *matrix.shape[2:]))
    columns[-2, 0], columns[-1, 1] = 1.0, beam.half
    return solutions(matrix, columns), np.sign(np.linalg.det(batch_first(matrix)))


def _newton(beam: Beam, drive: Drive, state: BeamState) -> tuple[BeamState, Array]:
    """Newton's method; the state and its largest misfit, in."""
    for _ in range(NEWTON_STEPS):
        misfit, matrix = jacobian(beam, state, drive)
        worst = np.abs(misfit).max(axis=0)
        if np.fmax.reduce(worst, axis=None, initial=0.0) < TOLERANCE_IN:
            break
        step = -solutions(matrix, misfit[:, None])[:, 0]
        widest = np.abs(step[3:]).max(axis=0) / WIDEST_STEP_RAD
        state = state.moved(step / np.maximum(widest, 1.0))
    return state, worst


def _block(beam: Beam, drive: Drive, near: BeamState, sense: Array) -> tuple[Array, ...]:
    """A block of lanes solved: the arrays of `AxlePose`, in order, the state's first."""
    state, worst = _newton(beam, drive, near)
    motions, sign = _motions(beam, state)
    closed = (worst < TOLERANCE_IN) & (sign == sense)
    reached, failed = np.ones(closed.shape), np.zeros(closed.shape, np.int64)
    if not closed.all():
        left = np.flatnonzero(~closed)
        pick = lane_picker(closed.shape, (left,))
        lanes, wanted = beam.mapped(pick), drive.mapped(pick)
        there, motions_there, reached[left], failed[left] = _approach(lanes, wanted, pick(sense, 0), left.size)
        closed[left] = reached[left] == 1
        for array, piece in zip((*state, motions), (*there, motions_there), strict=True):
            array[..., left] = np.where(closed[left], piece, np.nan)
    return *state, motions, closed, reached, failed


def _approach(beam: Beam, drive: Drive, sense: Array, count: int) -> tuple[BeamState, Array, Array, Array]:
    """Lanes approached from the survey in steps that halve where they fail.

    Returns:
        The last place reached and its motions, the fraction of the way, and the code of the rod that ran out: the one
        that the left null vector of the Jacobian loads most where it becomes singular.
    """
    bump, roll = drive.start(beam)
    wanted = np.broadcast_to(np.isfinite(bump + roll), count)
    reached, stride = np.zeros(count), np.full(count, FIRST_STRIDE)
    state = BeamState(*(np.broadcast_to(array, (*array.shape[:-1], count)) for array in beam.survey()))
    for _ in range(STRIDES):
        aim = np.minimum(reached + stride, 1.0)
        trial, worst = _newton(beam, drive.part(aim), state)
        good = (worst < TOLERANCE_IN) & (_motions(beam, trial)[1] == sense)
        state = BeamState(*(np.where(good, new, old) for new, old in zip(trial, state, strict=True)))
        reached, stride = np.where(good, aim, reached), np.where(good, stride, stride / 2)
        if np.all((reached == 1) | ~wanted):
            break
    matrix = batch_first(jacobian(beam, state, BumpRoll(reached, reached))[1])
    loads = np.abs(np.linalg.svd(matrix)[0][..., : len(beam.cage), -1])
    failed = np.where(wanted & (reached < 1), 1 + loads.argmax(axis=-1), 0)
    return state, _motions(beam, state)[0], np.where(wanted, reached, np.nan), failed
