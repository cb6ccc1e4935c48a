"""What a change does to the four wheel loads and the ride heights, before anyone turns a perch.

Changes from a stud use wheel rates k·MR² and the tires' rates. A published-looking 17 lb for half an inch of lower stud
comes out only with k·MR at the front and rigid tires; on the demo car it is 11 to 13 lb. Where an attitude is given the
chassis is held: springs, bars, stops and tires alone make the loads, links carry nothing, and each tire's deflection
follows from its load.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import over_batch
from studbook_service.engine.bounds import bounded, one_of, shaped
from studbook_service.engine.equilibrium import NOTHING, Balance, CarState, Push, rise
from studbook_service.engine.ground import STEEPEST_DEG
from studbook_service.engine.one_sided import difference_row
from studbook_service.engine.vectors import Array, lift, numbers

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from studbook_service.engine.car import FourWheelCar
    from studbook_service.engine.one_sided import AntiRollBar, AxleName

BOTH: tuple[AxleName, ...] = ("front", "rear")


class Ballast(NamedTuple):
    """A weight added to the car, or removed when it is below 0; moving one is both.

    Attributes:
        weight_lb: (*batch).
        x_in: where, + forward of the front axle, (*batch).
        y_in: + left, (*batch).
    """

    weight_lb: npt.ArrayLike
    x_in: npt.ArrayLike
    y_in: npt.ArrayLike


class ChassisChange(NamedTuple):
    """What was changed on a car since it was on the scales; arrays (4, *batch), LF, RF, LR, RR.

    Attributes:
        perch_in: displacement at the wheel by its perch, + raises the car: the spring is pressed this much more.
        stud_in: displacement of the wheel against its arm while the spring keeps its length, + raises the car. A stud
            that lifts the wheel by 0.52 in at a held spring is −0.52.
        spring_lb: further spring force at the wheel: gas at the shaft times its motion ratio.
        radius_in: by how much the tire's loaded radius grows.
        ballast: weights added or removed.
        hooked: the axles whose anti-roll bar is hooked now.
    """

    perch_in: npt.ArrayLike = NOTHING
    stud_in: npt.ArrayLike = NOTHING
    spring_lb: npt.ArrayLike = NOTHING
    radius_in: npt.ArrayLike = NOTHING
    ballast: Sequence[Ballast] = ()
    hooked: Collection[AxleName] = BOTH


UNCHANGED = ChassisChange()


def on_scales(car: FourWheelCar, change: ChassisChange = UNCHANGED) -> CarState:
    """Loads and heights of a car that is put back on its scales with something changed and nothing put right.

    Args:
        car: as it was scaled, any batch.
        change: a batch that broadcasts against the car's.

    Returns:
        Its balance: the chassis rigid, each wheel in series with its tire, pads level. What a few tenths of a degree
        of lean do to where the weight is, some pounds, is left out.

    Raises:
        ValueError: an amount that is not finite or not of shape (4, *batch), or an axle that is none.

    Source: three equilibria and one compatibility of a rigid chassis on four springs, here as least energy.

    >>> from studbook_service.engine.car import percentages
    >>> from studbook_service.engine.examples import CAR
    >>> after = on_scales(CAR, ChassisChange(stud_in=[0, -0.52, 0, 0]))
    >>> after.change_lb.round().tolist(), round(float(percentages(after.loads_lb).cross_percent), 1)
    ([13.0, -13.0, -13.0, 13.0], 49.0)
    """
    acting = push(change)
    return Balance(car, hooked=change.hooked, batch=acting.batch_on(car)).rest(acting)


def at_attitude(
    car: FourWheelCar,
    change: ChassisChange = UNCHANGED,
    *,
    heave_in: npt.ArrayLike,
    roll_deg: npt.ArrayLike,
    pitch_deg: npt.ArrayLike,
) -> CarState:
    """Loads of a car whose chassis is held at an attitude, while each wheel finds its balance on its tire.

    Args:
        car: as it was scaled, any batch.
        change: a batch that broadcasts against the car's.
        heave_in: rise of the chassis at the origin since it was scaled, + up; a batch that broadcasts, as the angles.
        roll_deg: + right side down.
        pitch_deg: + nose down.

    Returns:
        Its balance. Springs, bars, stops and tires make the loads and nothing else does: links carry nothing, and
        what holds the chassis takes the rest of the weight, so the loads sum to any. Small angles, pads level.

    Raises:
        ValueError: as for `on_scales`; heave that is not finite, an angle beyond ±45 deg.

    Source: equilibrium of each wheel, or of a beam axle's two, between its springs and its tires, as least energy.

    >>> from studbook_service.engine.examples import CAR
    >>> down = at_attitude(CAR, heave_in=-1, roll_deg=0, pitch_deg=0)
    >>> down.change_lb.round(1).tolist(), down.travel_in.round(2).tolist()
    ([132.9, 148.1, 175.6, 159.2], [0.83, 0.84, 0.77, 0.81])
    """
    acting = push(change)
    heave = bounded("heave_in", heave_in, unit="in")
    roll, pitch = (
        np.radians(bounded(name, angle, unit="deg", least=-STEEPEST_DEG, most=STEEPEST_DEG))
        for name, angle in (("roll_deg", roll_deg), ("pitch_deg", pitch_deg))
    )
    attitude = np.stack(np.broadcast_arrays(heave, roll, pitch))
    batch = np.broadcast_shapes(attitude.shape[1:], acting.batch_on(car))
    start = np.zeros((7, *batch))
    start[:3] = over_batch(attitude, lead=1, batch=batch)
    return Balance(car, hooked=change.hooked, batch=batch).rest(acting, start=start, held=True)


def push(change: ChassisChange) -> Push:
    """A change as what acts on the car.

    Args:
        change: any batch.

    Raises:
        ValueError: as for `on_scales`.

    >>> push(ChassisChange(ballast=[Ballast(50, -100, 20)])).body.tolist()
    [-50.0, -1000.0, -5000.0]
    """
    for axle in change.hooked:
        one_of("hooked", axle, BOTH)
    body = NOTHING[:3]
    for item in change.ballast:
        weight = bounded("weight_lb", item.weight_lb, unit="lb")
        x, y = bounded("x_in", item.x_in, unit="in"), bounded("y_in", item.y_in, unit="in")
        load = np.stack(np.broadcast_arrays(-weight, -weight * y, weight * x))
        body = lift(body, load.ndim - 1) + lift(load, body.ndim - 1)
    amounts = {}
    for name, unit in (("perch_in", "in"), ("stud_in", "in"), ("spring_lb", "lb"), ("radius_in", "in")):
        amounts[name] = shaped(name, bounded(name, getattr(change, name), unit=unit), 4)
    return Push(**amounts, body=body)


def rescaled(car: FourWheelCar, change: ChassisChange = UNCHANGED) -> FourWheelCar:
    """A car after a change, scaled again: what `cornering_state`, or a further change, starts from.

    Args:
        car: as it was scaled, any batch.
        change: a batch that broadcasts against the car's.

    Returns:
        The car with its new loads, the gaps of its stops and the preload of its bars as they now are. Bars that are
        not hooked are gone. A wheel off the scales has no load, and how far it is off is forgotten.

    Raises:
        ValueError: as for `on_scales`.

    Source: what is between wheels and chassis depends on where they are, not on how they got there.

    >>> from studbook_service.engine.examples import CAR
    >>> rescaled(CAR, ChassisChange(ballast=[Ballast(100, -50, 0)])).stops[0].gap_in.round(3).item()
    5.117
    """
    state = on_scales(car, change)
    batch = state.closed.shape
    arm = state.travel_in + over_batch(numbers(change.stud_in), lead=1, batch=batch)
    return replace(
        car,
        at_in=over_batch(car.at_in, lead=2, batch=batch),
        loads_lb=state.loads_lb,
        rates_lb_per_in=over_batch(car.rates_lb_per_in, lead=2, batch=batch),
        per_perch=over_batch(car.per_perch, lead=2, batch=batch),
        tires_lb_per_in=over_batch(car.tires_lb_per_in, lead=1, batch=batch),
        bars=tuple(_moved(bar, difference_row(bar.axle), arm) for bar in car.bars if bar.axle in change.hooked),
        stops=tuple(replace(stop, gap_in=stop.gap_in - np.tensordot(stop.per_wheel, arm, 1)) for stop in car.stops),
    )


def _moved(bar: AntiRollBar, row: Array, arm: Array) -> AntiRollBar:
    """A bar at another difference of travels, and hooked there."""
    difference = np.tensordot(row, arm, 1)
    return replace(
        bar,
        preload_in=bar.preload_in + np.where(bar.one_way, 0, difference),
        slack_in=bar.slack_in - np.where(bar.one_way, difference, 0),
        hooked_when_scaled=True,
    )


class PerchSensitivity(NamedTuple):
    """What an inch of displacement at each wheel by its perch does; the last axis before the batch is the perch.

    Attributes:
        state: where this holds.
        loads_lb_per_in: (4 wheels, 4 perches, *batch).
        rise_in_per_in: of the chassis over each wheel, (4 wheels, 4 perches, *batch).
        cross_percent_per_in: (4 perches, *batch).
    """

    state: CarState
    loads_lb_per_in: Array
    rise_in_per_in: Array
    cross_percent_per_in: Array


def sensitivity(car: FourWheelCar, change: ChassisChange = UNCHANGED) -> PerchSensitivity:
    """The slope of loads and heights against `perch_in` at each wheel, after a change.

    Args:
        car: any batch.
        change: a batch that broadcasts against the car's.

    Returns:
        The slopes; exact over any amount until a stop or a wheel comes on or off.

    Raises:
        ValueError: as for `on_scales`.

    Source: the tangent of the equilibrium.

    >>> from studbook_service.engine.examples import CAR
    >>> sensitivity(CAR).cross_percent_per_in.round(2).tolist()
    [-2.08, 2.09, 2.1, -2.11]
    """
    acting = push(change)
    balanced = Balance(car, hooked=change.hooked, batch=acting.batch_on(car))
    state = balanced.rest(acting)
    response, batch = balanced.response(acting, state), state.closed.shape
    tires = over_batch(car.tires_lb_per_in, lead=1, batch=batch) * ~state.lifted
    loads = -tires[:, None] * response[3:]
    return PerchSensitivity(
        state=state,
        loads_lb_per_in=loads,
        rise_in_per_in=rise(response, over_batch(car.at_in, lead=2, batch=batch)[:, :, None]),
        cross_percent_per_in=100 * (loads[1] + loads[2]) / state.loads_lb.sum(axis=0),
    )
