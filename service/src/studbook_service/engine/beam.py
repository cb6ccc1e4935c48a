"""A beam axle on rigid rods as equations: the conditions that rods and drive set on its place, with derivatives.

The axle is its midpoint (between the wheel centers) and a frame of three unit vectors: `forward`, square to the axle
and level at the survey; `left`, the axle's own line from the right wheel center to the left; `up`, their product. A
birdcage is an angle about `left`. A motion is six numbers and one per birdcage: velocity of the midpoint, angular
velocity, and the birdcages' own turning.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np

from studbook_service.engine.vectors import Array, cross, dot, lift, root

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Self

RIGID = 6
"""Numbers of a motion that belong to the axle; the birdcages' follow."""


@dataclass(frozen=True, eq=False)
class Beam:
    """An axle reduced to what placing it needs; lengths in inches, offsets along (forward, left, up) of the survey.

    Attributes:
        midpoint, forward, left: at the survey, (3, *batch).
        half: half the distance between the wheel centers, (*batch).
        chassis: the rods' ends on the chassis, (3, rods, *batch).
        offset: the rods' other ends from the midpoint, (3, rods, *batch).
        length: the rods' lengths, (rods, *batch).
        cage: for each rod the index of its birdcage, −1 on the axle, (rods,).
        cages: how many birdcages there are.
    """

    midpoint: Array
    forward: Array
    left: Array
    half: Array
    chassis: Array
    offset: Array
    length: Array
    cage: Array
    cages: int

    def survey(self) -> BeamState:
        """The axle where it was surveyed."""
        return BeamState(self.midpoint, self.forward, self.left, np.zeros((self.cages, *self.half.shape)))

    def mapped(self, change: Callable[[Array, int], Array]) -> Beam:
        """The beam with every batched array changed; the second argument is its number of leading axes."""
        leads = {"midpoint": 1, "forward": 1, "left": 1, "half": 0, "chassis": 2, "offset": 2, "length": 1}
        changed: dict[str, Any] = {name: change(getattr(self, name), lead) for name, lead in leads.items()}
        return replace(self, **changed)


class BeamState(NamedTuple):
    """Where the axle is: midpoint and frame (3, *batch), the birdcages' angles (cages, *batch), rad, + nose down."""

    midpoint: Array
    forward: Array
    left: Array
    turned: Array

    def moved(self, motion: Array) -> BeamState:
        """The axle after a finite motion: the midpoint shifted, the frame turned about a rotation vector.

        Args:
            motion: (6 + cages, *batch), in and rad.
        """
        turn = motion[3:RIGID]
        return BeamState(
            self.midpoint + motion[:3],
            rotated(self.forward, turn),
            rotated(self.left, turn),
            self.turned + motion[RIGID:],
        )


def rotated(vector: Array, turn: Array) -> Array:
    """A vector turned about a rotation vector, by Rodrigues' formula in a form that is smooth at no turn.

    >>> rotated(np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, np.pi / 2])).round(12).tolist()
    [-1.0, 0.0, 0.0]
    """
    angle = root(dot(turn, turn))
    once = cross(turn, vector)
    twice = cross(turn, once)
    result: Array = vector + np.sinc(angle / np.pi) * once + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * twice
    return result


def carried(state: BeamState, offset: Array, turned: Array | None = None) -> Array:
    """From the midpoint to a point of the axle, or of a birdcage, as it now lies.

    Args:
        state: batch B.
        offset: along the survey's frame, (3, *B) or (3, rods, *B).
        turned: angle of the birdcage that carries it, broadcastable to the batch of `offset`.
    """
    forward, left, up = offset
    if turned is not None:
        cosine, sine = np.cos(turned), np.sin(turned)
        forward, up = cosine * forward + sine * up, cosine * up - sine * forward
    extra = (slice(None),) + (None,) * (offset.ndim - state.forward.ndim)
    e, a = state.forward, state.left
    place: Array = forward * e[extra] + left * a[extra] + up * cross(e, a)[extra]
    return place


def rod_rows(beam: Beam, state: BeamState) -> tuple[Array, Array]:
    """How much longer than it is each rod would have to be, and how a motion changes that.

    Returns:
        The misfit in inches, (rods, *batch), and its rows of the Jacobian, (rods, 6 + cages, *batch).

    A rod along the unit vector u to its end at r from the midpoint grows by u·(v + ω × r), and by u·(a × r) per
    radian of its birdcage about the axle's line a.
    """
    caged = beam.cage >= 0
    turned = None
    if beam.cages:
        mask = caged.reshape((-1,) + (1,) * (state.turned.ndim - 1))
        turned = np.where(mask, state.turned[beam.cage], 0.0)
    reach = carried(state, beam.offset, turned)
    rod = state.midpoint[:, None] + reach - beam.chassis
    length = root(dot(rod, rod))
    along = rod / length
    lever = cross(reach, along)
    rows = np.zeros((len(beam.cage), RIGID + beam.cages, *length.shape[1:]))
    rows[:, :3] = np.swapaxes(along, 0, 1)
    rows[:, 3:RIGID] = np.swapaxes(lever, 0, 1)
    for rod_index in np.flatnonzero(caged):
        rows[rod_index, RIGID + beam.cage[rod_index]] = dot(state.left, lever[:, rod_index])
    return length - beam.length, rows


class Drive(Protocol):
    """The two conditions that place the axle in the freedoms its rods leave it."""

    def rows(self, beam: Beam, state: BeamState) -> tuple[Array, Array]:
        """The misfits in inches, (2, *batch), and their rows of the Jacobian, (2, 6, *batch)."""

    def start(self, beam: Beam) -> tuple[Array, Array]:
        """A first guess of bump, in, and axle roll, rad."""

    def part(self, fraction: Array) -> Self:
        """The drive so much of the way from the survey."""

    @property
    def shape(self) -> tuple[int, ...]:
        """Its batch."""

    def mapped(self, change: Callable[[Array, int], Array]) -> Self:
        """The same with every array changed; the second argument is its number of leading axes."""


class BumpRoll(NamedTuple):
    """Drive: rise of the midpoint, in, and change of the axle's roll atan2(z_R − z_L, y_L − y_R), rad."""

    bump: Array
    roll: Array

    def rows(self, beam: Beam, state: BeamState) -> tuple[Array, Array]:
        """See `Drive`; the roll's misfit is measured at a wheel."""
        _, y, z = state.left
        angle = np.arctan2(-z, y) - np.arctan2(-beam.left[2], beam.left[1])
        square = y * y + z * z
        rows = np.zeros((2, RIGID, *np.broadcast_shapes(angle.shape, self.bump.shape)))
        rows[0, 2] = 1.0
        rows[1, 3:] = beam.half * cross(state.left, np.stack([np.zeros_like(y), z / square, -y / square]))
        misfit = state.midpoint[2] - beam.midpoint[2] - self.bump, beam.half * (angle - self.roll)
        return np.stack(np.broadcast_arrays(*misfit)), rows

    def start(self, beam: Beam) -> tuple[Array, Array]:
        """See `Drive`."""
        del beam
        return self.bump, self.roll

    @property
    def shape(self) -> tuple[int, ...]:
        """See `Drive`."""
        return np.broadcast_shapes(self.bump.shape, self.roll.shape)

    def part(self, fraction: Array) -> BumpRoll:
        """See `Drive`."""
        return BumpRoll(fraction * self.bump, fraction * self.roll)

    def mapped(self, change: Callable[[Array, int], Array]) -> BumpRoll:
        """See `Drive`."""
        return BumpRoll(change(self.bump, 0), change(self.roll, 0))


class OnGround(NamedTuple):
    """Drive: both patches, lowest on the tire toward the ground, lie on it.

    Attributes:
        up: the ground's normal in chassis axes, (3, *batch).
        heave: height of the chassis origin over the ground, in, (*batch).
        left_radius, right_radius: loaded radii of the tires, in, (*batch).
    """

    up: Array
    heave: Array
    left_radius: Array
    right_radius: Array

    def rows(self, beam: Beam, state: BeamState) -> tuple[Array, Array]:
        """See `Drive`: height of a patch is heave + g·C − R √(1 − (g·a)²) for a wheel center C on the axle's line a."""
        up, left = lift(self.up, state.left.ndim - 1), state.left
        lean = dot(up, left)
        level = np.sqrt(1 - lean * lean)
        height = self.heave + dot(up, state.midpoint)
        over, about = cross(left, up), (lean / level) * cross(left, up)
        misfit, rows = [], np.zeros((2, RIGID, *np.broadcast_shapes(height.shape, self.left_radius.shape)))
        for index, (side, radius) in enumerate(((beam.half, self.left_radius), (-beam.half, self.right_radius))):
            misfit.append(height + side * lean - radius * level)
            rows[index, :3] = up
            rows[index, 3:] = side * over + radius * about
        return np.stack(np.broadcast_arrays(*misfit)), rows

    def start(self, beam: Beam) -> tuple[Array, Array]:
        """See `Drive`: from the heights of the surveyed wheels over the ground."""
        rise = -self.rows(beam, beam.survey())[0] / lift(self.up, beam.half.ndim)[2]
        return (rise[0] + rise[1]) / 2, (rise[1] - rise[0]) / (2 * beam.half)

    @property
    def shape(self) -> tuple[int, ...]:
        """See `Drive`."""
        return np.broadcast_shapes(self.up.shape[1:], self.heave.shape, self.left_radius.shape, self.right_radius.shape)

    def part(self, fraction: Array) -> OnGround:
        """See `Drive`."""
        up = fraction * self.up
        up[2] += 1 - fraction
        return OnGround(up / root(dot(up, up)), fraction * self.heave, self.left_radius, self.right_radius)

    def mapped(self, change: Callable[[Array, int], Array]) -> OnGround:
        """See `Drive`."""
        return OnGround(change(self.up, 1), *(change(each, 0) for each in self[1:]))


def jacobian(beam: Beam, state: BeamState, drive: Drive) -> tuple[Array, Array]:
    """Misfits of rods and drive, in, (rods + 2, *batch), and their Jacobian, (rods + 2, 6 + cages, *batch)."""
    rods, rod_part = rod_rows(beam, state)
    drives, drive_part = drive.rows(beam, state)
    shape = np.broadcast_shapes(rods.shape[1:], drives.shape[1:])
    count = len(beam.cage)
    misfit = np.empty((count + 2, *shape))
    matrix = np.zeros((count + 2, RIGID + beam.cages, *shape))
    misfit[:count], misfit[count:] = rods, drives
    matrix[:count], matrix[count:, :RIGID] = rod_part, drive_part
    return misfit, matrix
