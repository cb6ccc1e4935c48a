"""Level ground under a chassis that has heaved, rolled and pitched, and a corner's patch over it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.mechanism import Mechanism, MechanismState, combine
from studbook_service.engine.vectors import Array, cross, dot, lift

if TYPE_CHECKING:
    from collections.abc import Callable

STEEPEST_DEG = 45.0


class Ground(NamedTuple):
    """The ground under a chassis.

    Attributes:
        turn: the matrix Ry(pitch)·Rx(roll) that takes chassis axes to ground axes, (3, 3, *batch).
        heave: rise of the chassis origin over the ground, in, (*batch).
    """

    turn: Array
    heave: Array

    @property
    def up(self) -> Array:
        """The ground's normal in chassis axes, (3, *batch)."""
        normal: Array = self.turn[2]
        return normal

    def direction(self, vector: Array) -> Array:
        """A vector (3, ..., *batch) of chassis axes in ground axes."""
        rank = vector.ndim - 1
        result: Array = np.stack([dot(lift(row, rank), vector) for row in self.turn])
        return result

    def point(self, place: Array) -> Array:
        """A point (3, *batch) of chassis axes in ground axes."""
        moved = self.direction(place)
        moved[2] += self.heave
        return moved


def ground(*, heave_in: npt.ArrayLike, roll_deg: npt.ArrayLike, pitch_deg: npt.ArrayLike) -> Ground:
    """The ground under a chassis that rose, rolled and pitched about its origin.

    Args:
        heave_in: rise of the origin, + up.
        roll_deg: + right side down.
        pitch_deg: + nose down.

    Raises:
        ValueError: an angle is beyond ±45 deg, or heave is not finite.

    >>> ground(heave_in=-1, roll_deg=0, pitch_deg=2).point(np.array([100.0, 0.0, 0.0])).round(3).tolist()
    [99.939, 0.0, -4.49]
    """
    heave = bounded("heave_in", heave_in, unit="in")
    roll = np.radians(bounded("roll_deg", roll_deg, unit="deg", least=-STEEPEST_DEG, most=STEEPEST_DEG))
    pitch = np.radians(bounded("pitch_deg", pitch_deg, unit="deg", least=-STEEPEST_DEG, most=STEEPEST_DEG))
    roll, pitch, heave = np.broadcast_arrays(roll, pitch, heave)
    (sr, cr), (sp, cp), zero = (np.sin(roll), np.cos(roll)), (np.sin(pitch), np.cos(pitch)), np.zeros_like(roll)
    return Ground(np.array([[cp, sp * sr, sp * cr], [zero, cr, -sr], [-sp, cp * sr, cp * cr]]), heave)


class OverGround(NamedTuple):
    """The measure that is a patch's height less the heave: g·C − R √(1 − (g·n)²) for wheel center C and spin n."""

    up: Array
    radius: Array

    def __call__(self, parts: Mechanism, state: MechanismState) -> tuple[Array, Array]:
        """Height, in, and rate, in per rad."""
        up = lift(self.up, state.lower_ball.ndim - 1)
        turn, spin = combine(state.frame, state.turn), combine(state.frame, parts.spindle.spin)
        reach = combine(state.frame, parts.spindle.wheel)
        lean = dot(up, spin)
        level = np.sqrt(1 - lean * lean)
        height = dot(up, state.lower_ball + reach) - self.radius * level
        lean_rate = dot(up, cross(turn, spin))
        rate = dot(up, state.lower_ball_rate + cross(turn, reach)) + self.radius * lean / level * lean_rate
        return height, rate

    def mapped(self, change: Callable[[Array, int], Array]) -> OverGround:
        """The same with every array changed; the second argument is its number of component axes."""
        return OverGround(change(self.up, 1), change(self.radius, 0))
