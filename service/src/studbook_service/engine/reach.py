"""How far a linkage goes from its survey before an arm or rod runs out, and solving safely inside that."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np

from studbook_service.engine.mechanism import Mechanism, MechanismState, close, combine, lift_parts
from studbook_service.engine.vectors import Array, dot

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Self

FAILED = ("", "upper arm", "tie rod", "lower arm")
"""What ran out, by the code a pose carries; "" where nothing did."""

UPPER_ARM, TIE_ROD, LOWER_ARM = 1, 2, 3
WIDEST_RAD = 1.5
STEPS = 30
HALVINGS = 48


class Measure(Protocol):
    """A quantity to be brought to a target by the lower arm's angle, with its rate per radian."""

    def __call__(self, parts: Mechanism, state: MechanismState) -> tuple[Array, Array]:
        """The quantity and its rate, (*batch)."""

    def mapped(self, change: Callable[[Array, int], Array]) -> Self:
        """The same with every array changed; the second argument is its number of component axes."""


class Ends(NamedTuple):
    """The widest angles at which a linkage closes and its quantity still goes one way, (n,)."""

    low: Array
    high: Array
    low_failed: Array
    high_failed: Array


def failure(parts: Mechanism, state: MechanismState) -> Array:
    """Which member ran out in a state, as a code into `FAILED`; (*batch).

    A linkage that does not close failed where an intersection does not exist. One that closes but has turned back on
    itself is put down to the lower arm when its ball has gone over center, else to the member that holds the spindle
    at the flatter angle: the upper arm against the line of the balls, or the tie rod against the turn it holds.
    """
    no_lower = np.isnan(parts.lower.zero[0])
    no_upper = np.isnan(state.upper_square) | (state.upper_square < 0)
    no_tie = np.isnan(state.tie_square) | (state.tie_square < 0)
    over_center = state.lower_ball_rate[2] * parts.lower.quarter[2] <= 0
    radius_square = dot(parts.upper.zero, parts.upper.zero)
    rod = (
        parts.tie_inner
        - state.lower_ball
        - combine(state.frame, (parts.spindle.tie_rise, parts.spindle.tie_arm, np.zeros(())))
    )
    upper_hold = state.upper_square / (radius_square * parts.spindle.height**2)
    tie_hold = state.tie_lever**2 / dot(rod, rod)
    return np.select(
        [no_lower, no_upper, no_tie, over_center, upper_hold < tie_hold],
        [LOWER_ARM, UPPER_ARM, TIE_ROD, LOWER_ARM, UPPER_ARM],
        TIE_ROD,
    )


def reach_angles(parts: Mechanism, measure: Measure) -> Ends:
    """The ends of the stretch of angles around the survey on which the linkage closes and the measure is monotone.

    Args:
        parts: a mechanism of one batch axis, (n,).
        measure: the quantity whose turning back is an end.

    Returns:
        The ends to 1e-14 rad, NaN where the linkage closes nowhere within ±1.5 rad, with what failed beyond each.
    """
    lifted = lift_parts(parts, 2)
    grid = np.linspace(-WIDEST_RAD, WIDEST_RAD, 2 * STEPS + 1)[:, None]
    rate = measure(lifted, close(lifted, grid))[1]
    count = rate.shape[1]
    lanes = np.arange(count)
    order = np.argsort(np.abs(grid[:, 0]), kind="stable")
    start = order[np.argmax(np.isfinite(rate[order]), axis=0)]
    sense = np.sign(rate[start, lanes])
    good = rate * sense > 0
    index = np.arange(2 * STEPS + 1)[:, None]
    below = np.max(np.where(~good & (index < start), index, -1), axis=0)
    above = np.min(np.where(~good & (index > start), index, 2 * STEPS + 1), axis=0)
    inside = grid[np.stack([np.minimum(below + 1, start), np.maximum(above - 1, start)]), 0]
    outside = grid[np.clip(np.stack([below, above]), 0, 2 * STEPS), 0]
    for _ in range(HALVINGS):
        middle = 0.5 * (inside + outside)
        holds = measure(lifted, close(lifted, middle))[1] * sense > 0
        inside, outside = np.where(holds, middle, inside), np.where(holds, outside, middle)
    codes = failure(lifted, close(lifted, outside))
    ends = np.where(good[start, lanes], inside, np.nan)
    return Ends(ends[0], ends[1], codes[0], codes[1])


def attainable(parts: Mechanism, measure: Measure, target: Array) -> Array:
    """Whether a target may lie within the reach; a cheap check before `bisect`.

    Args:
        parts: a mechanism of one batch axis, (n,).
        measure: the quantity.
        target: its wanted value, (n,).

    Returns:
        False where the linkage closes at the survey's angle and turns back or opens before the target; (n,).
    """
    start, rate = measure(parts, close(parts, np.zeros(target.shape)))
    sense, above = np.sign(rate), target > start
    inside = np.zeros(target.shape)
    outside = np.where(above == (sense > 0), WIDEST_RAD, -WIDEST_RAD)
    reached = ~np.isfinite(rate)
    for _ in range(HALVINGS):
        if reached.all():
            break
        middle = 0.5 * (inside + outside)
        value, rate = measure(parts, close(parts, middle))
        good = rate * sense > 0
        short = good & ((value < target) == above)
        reached |= good & ~short
        inside, outside = np.where(short, middle, inside), np.where(short, outside, middle)
    return reached


def bisect(parts: Mechanism, measure: Measure, target: Array) -> tuple[Array, Array]:
    """The angle at which the measure meets its target, found where Newton's method did not.

    Args:
        parts: a mechanism of one batch axis, (n,).
        measure: the quantity.
        target: its wanted value, (n,).

    Returns:
        The angle, NaN where no position reaches the target, and the code of what ran out on the way there.
    """
    ends = reach_angles(parts, measure)
    first, last = (measure(parts, close(parts, angle))[0] for angle in (ends.low, ends.high))
    rising = last > first
    lower, upper = np.minimum(first, last), np.maximum(first, last)
    within = (target >= lower) & (target <= upper)
    low, high = ends.low, ends.high
    for _ in range(HALVINGS + 4):
        middle = 0.5 * (low + high)
        short = (measure(parts, close(parts, middle))[0] < target) == rising
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    toward_low = (target < lower) == rising
    code = np.where(toward_low, ends.low_failed, ends.high_failed)
    return np.where(within, 0.5 * (low + high), np.nan), np.where(within, 0, code)
