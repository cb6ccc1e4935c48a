"""Perch turns: what they displace, and which turns reach a cross weight."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import over_batch
from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.car import percentages
from studbook_service.engine.loads import UNCHANGED, ChassisChange, PerchSensitivity, on_scales, sensitivity
from studbook_service.engine.one_sided import WHEELS, WheelName
from studbook_service.engine.vectors import Array, lift

if TYPE_CHECKING:
    from collections.abc import Collection

    from studbook_service.engine.car import FourWheelCar
    from studbook_service.engine.equilibrium import CarState

STEPS = 12
SETTLED_IN = 1e-10
REACHED_PERCENT = 1e-6


def perch_displacement(car: FourWheelCar, *, turns: npt.ArrayLike, pitch_in: npt.ArrayLike) -> Array:
    """Displacement at the wheels by turns of the perches: turns × pitch ÷ MR, + raises the car; in, (4, *batch).

    A perch of a beam axle displaces both of its wheels.

    Args:
        car: any batch.
        turns: of each perch, + tightens its spring, (4, *batch).
        pitch_in: how far a perch goes along its spring in a turn, (4, *batch).

    Raises:
        ValueError: turns that are not finite, or a pitch not above 0.

    Source: the load held, the spring keeps its length and the wheel moves by 1/MR (virtual work; common practice).

    >>> from studbook_service.engine.examples import CAR
    >>> perch_displacement(CAR, turns=[0, 1, 0, 0], pitch_in=[1 / 16] * 4).round(3).tolist()
    [0.0, 0.097, 0.0, 0.0]
    """
    return _product(car.per_perch, _both(bounded("turns", turns, unit="turns"), _pitch(pitch_in), np.multiply))


def perch_turns(car: FourWheelCar, *, perch_in: npt.ArrayLike, pitch_in: npt.ArrayLike) -> Array:
    """Turns of the perches that displace the wheels by given amounts, (4, *batch).

    Args:
        car: any batch.
        perch_in: displacement at each wheel, + raises the car, (4, *batch).
        pitch_in: as for `perch_displacement`.

    Raises:
        ValueError: a displacement that is not finite, or a pitch not above 0.

    Source: inverse of `perch_displacement`.

    >>> from studbook_service.engine.examples import CAR
    >>> perch_turns(CAR, perch_in=[0, 0.52, 0, 0], pitch_in=[1 / 16] * 4).round(1).tolist()
    [0.0, 5.4, 0.0, 0.0]
    """
    inverse = np.moveaxis(np.linalg.inv(np.moveaxis(car.per_perch, (0, 1), (-2, -1))), (-2, -1), (0, 1))
    return _both(_product(inverse, bounded("perch_in", perch_in, unit="in")), _pitch(pitch_in), np.divide)


def _pitch(pitch_in: npt.ArrayLike) -> Array:
    return bounded("pitch_in", pitch_in, unit="in per turn", above=0)


def _both(one: Array, other: Array, work: np.ufunc) -> Array:
    result: Array = work(lift(one, other.ndim - 1), lift(other, one.ndim - 1))
    return result


def _product(matrix: Array, vector: Array) -> Array:
    batch = np.broadcast_shapes(matrix.shape[2:], vector.shape[1:])
    product: Array = (over_batch(matrix, lead=2, batch=batch) * over_batch(vector, lead=1, batch=batch)).sum(axis=1)
    return product


def rounded_turns(turns: npt.ArrayLike, *, step: float) -> Array:
    """Turns to the nearest whole, half, quarter or flat; `on_scales` gives the cross weight that they make.

    Args:
        turns: any shape.
        step: 1, 0.5, 0.25, or 1/6 for the flats of a hexagon.

    Raises:
        ValueError: a step not above 0.

    >>> rounded_turns([1.1, -0.3], step=0.25).tolist()
    [1.0, -0.25]
    """
    width = bounded("step", step, unit="turns", above=0)
    result: Array = np.round(np.asarray(turns, float) / width) * width
    return result


class Perches(NamedTuple):
    """Perch turns that reach a cross weight; NaN where they do not reach it.

    Attributes:
        turns: of each perch, + tightens its spring, 0 where it may not be turned, (4, *batch).
        perch_in: displacement at each wheel, + raises the car, (4, *batch).
        state: the car with these turns, or with what was last tried.
        reached: whether the cross weight is reached, (*batch); not, when a wheel or stop comes between.
        within_limits: whether bite and left percentage are within their limits, (*batch).
    """

    turns: Array
    perch_in: Array
    state: CarState
    reached: Array
    within_limits: Array


def find_perches(
    car: FourWheelCar,
    *,
    cross_percent: npt.ArrayLike,
    pitch_in: npt.ArrayLike,
    may_turn: Collection[WheelName] = WHEELS,
    change: ChassisChange = UNCHANGED,
    bite_limits_lb: tuple[float, float] = (-np.inf, np.inf),
    left_limits_percent: tuple[float, float] = (0.0, 100.0),
) -> Perches:
    """Turns of some perches, unrounded, that give a cross weight with the ride heights disturbed least.

    Of all turns that reach it those with the least Σ rise² of the chassis over the four wheels, from how the car was
    scaled. With all four perches the heights are held exactly.

    Args:
        car: any batch.
        cross_percent: to reach, (*batch).
        pitch_in: of the perches' threads, (4, *batch).
        may_turn: the perches that may be turned.
        change: what else was changed since the car was scaled; its `perch_in` counts as already turned.
        bite_limits_lb: least and most bite that is wanted.
        left_limits_percent: least and most left percentage.

    Raises:
        ValueError: a cross weight outside 0 to 100 %, no perch or one that does not exist, a pitch not above 0.

    Source: least squares under one condition (Lagrange), repeated until the stops agree.

    >>> from studbook_service.engine.examples import CAR
    >>> found = find_perches(CAR, cross_percent=51, pitch_in=[1 / 16] * 4)
    >>> found.turns.round(2).tolist(), bool(abs(found.state.rise_in).max() < 1e-9)
    ([-0.91, 0.82, 1.45, -1.58], True)
    """
    target = bounded("cross_percent", cross_percent, unit="percent", above=0, most=100)
    pitch = _pitch(pitch_in)
    for wheel in may_turn:
        one_of("may_turn", wheel, WHEELS)
    if not may_turn:
        raise ValueError("may_turn names no perch; at least one must be free to turn")
    free = [WHEELS.index(wheel) for wheel in WHEELS if wheel in may_turn]
    before = bounded("perch_in", change.perch_in, unit="in")
    pressed = np.zeros((4, *np.broadcast_shapes(on_scales(car, change).closed.shape, target.shape, pitch.shape[1:])))
    turned = _both(before, pressed, np.add)
    for _ in range(STEPS):
        step = _least(car, sensitivity(car, change._replace(perch_in=turned)), target, free)
        pressed[free] += step
        turned = _both(before, _product(car.per_perch, pressed), np.add)
        if np.all(np.abs(step) <= SETTLED_IN):
            break
    state = on_scales(car, change._replace(perch_in=turned))
    shares = percentages(state.loads_lb)
    reached = np.abs(shares.cross_percent - target) <= REACHED_PERCENT
    pressed[:, ~reached] = np.nan
    return Perches(
        turns=_both(pressed, pitch, np.divide),
        perch_in=_product(car.per_perch, pressed),
        state=state,
        reached=reached,
        within_limits=(shares.bite_lb >= bite_limits_lb[0])
        & (shares.bite_lb <= bite_limits_lb[1])
        & (shares.left_percent >= left_limits_percent[0])
        & (shares.left_percent <= left_limits_percent[1]),
    )


def _least(car: FourWheelCar, slopes: PerchSensitivity, target: Array, free: list[int]) -> Array:
    """Further inches of the free perches that reach the target with the least Σ rise², to first order."""
    state, count = slopes.state, len(free)
    batch = state.closed.shape
    columns = over_batch(car.per_perch, lead=2, batch=batch)[:, free]
    rises = np.einsum("ij...,jk...->...ik", slopes.rise_in_per_in, columns)
    cross = np.einsum("j...,jk...->...k", slopes.cross_percent_per_in, columns)
    conditions = np.zeros((*batch, count + 1, count + 1))
    conditions[..., :count, :count] = np.swapaxes(rises, -1, -2) @ rises
    conditions[..., count, :count] = conditions[..., :count, count] = cross
    wanted = np.zeros((*batch, count + 1))
    wanted[..., :count] = -np.einsum("...ij,i...->...j", rises, state.rise_in)
    wanted[..., count] = target - percentages(state.loads_lb).cross_percent
    nowhere = ~state.closed
    conditions[nowhere] = wanted[nowhere] = 0
    step = np.linalg.pinv(conditions, rcond=1e-12) @ wanted[..., None]
    return np.moveaxis(step[..., :count, 0], -1, 0)
