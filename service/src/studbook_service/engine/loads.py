"""What a change does to the four wheel loads and the ride heights, before anyone turns a perch.

The car is on the scales, or its chassis is held at an attitude.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import over_batch
from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.equilibrium import NOTHING, Balance, Push, Rest, balance, rise
from studbook_service.engine.ground import STEEPEST_DEG
from studbook_service.engine.one_sided import across
from studbook_service.engine.vectors import Array, lift, numbers

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from studbook_service.engine.car import FourWheelCar
    from studbook_service.engine.one_sided import AntiRollBar, AxleName

BOTH: tuple[AxleName, ...] = ("front", "rear")


class Ballast(NamedTuple):
    """A weight put into the car, or taken out when it is below 0; moving one is both.

    Attributes:
        weight_lb: (*batch).
        x_in: where, + forward of the front axle, (*batch).
        y_in: + left, (*batch).
    """

    weight_lb: npt.ArrayLike
    x_in: npt.ArrayLike
    y_in: npt.ArrayLike


class ChassisChange(NamedTuple):
    """What was changed on a car since it stood on the scales; arrays (4, *batch), LF, RF, LR, RR.

    Attributes:
        perch_in: displacement at the wheel by its perch, + raises the car: the spring is pressed this much more.
        stud_in: displacement of the wheel against its arm while the spring keeps its length, + raises the car. A stud
            that lifts the wheel by 0.52 in at a held spring is −0.52.
        spring_lb: further spring force at the wheel: gas at the shaft times its motion ratio.
        radius_in: by how much the tire's loaded radius grows.
        ballast: weights put in or taken out.
        hooked: the axles whose anti-roll bar is hooked now.
    """

    perch_in: npt.ArrayLike = NOTHING
    stud_in: npt.ArrayLike = NOTHING
    spring_lb: npt.ArrayLike = NOTHING
    radius_in: npt.ArrayLike = NOTHING
    ballast: Sequence[Ballast] = ()
    hooked: Collection[AxleName] = BOTH


UNCHANGED = ChassisChange()


@dataclass(frozen=True, eq=False, kw_only=True)
class StaticState:
    """A car on its wheels after a change; all but the loads is from how it was scaled. NaN where it has no rest.

    Attributes:
        loads_lb: (4, *batch).
        change_lb: of the loads, (4, *batch).
        rise_in: of the chassis over each wheel, (4, *batch).
        heave_in: rise of the chassis at the origin, (*batch).
        roll_deg: + right side down, (*batch).
        pitch_deg: + nose down, (*batch).
        travel_in: of each wheel against the chassis, + bump, (4, *batch).
        lifted: wheels off the ground, (4, *batch).
        names: of the stops, and of the bars with slack.
        engaged: which of `names` carry, (names, *batch).
        beyond: which are pressed further than their curve was measured, (names, *batch).
        closed: whether there is a rest at all, (*batch).
        u: heave in, roll rad, pitch rad, rise of each wheel in, (7, *batch).
    """

    loads_lb: Array
    change_lb: Array
    rise_in: Array
    heave_in: Array
    roll_deg: Array
    pitch_deg: Array
    travel_in: Array
    lifted: Array
    names: tuple[str, ...]
    engaged: Array
    beyond: Array
    closed: Array
    u: Array

    def rise_at(self, *, x_in: npt.ArrayLike, y_in: npt.ArrayLike) -> Array:
        """Rise of the chassis, in, (points, *batch), at points (points,), where ride heights are measured."""
        return rise(self.u, np.stack([numbers(x_in), numbers(y_in)]))


def on_scales(car: FourWheelCar, change: ChassisChange = UNCHANGED) -> StaticState:
    """Loads and heights of a car that is put back on its scales with something changed and nothing put right.

    Args:
        car: as it was scaled, any batch.
        change: a batch that broadcasts against the car's.

    Returns:
        How it stands: the chassis rigid, each wheel in series with its tire, pads level. What a few tenths of a degree
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
    return _standing(car, balance(car, acting, hooked=change.hooked).rest(acting))


def at_attitude(
    car: FourWheelCar,
    change: ChassisChange = UNCHANGED,
    *,
    heave_in: npt.ArrayLike,
    roll_deg: npt.ArrayLike,
    pitch_deg: npt.ArrayLike,
) -> StaticState:
    """Loads of a car whose chassis is held at an attitude, while each wheel finds its balance on its tire.

    Args:
        car: as it was scaled, any batch.
        change: a batch that broadcasts against the car's.
        heave_in: rise of the chassis at the origin since it was scaled, + up; a batch that broadcasts, as the angles.
        roll_deg: + right side down.
        pitch_deg: + nose down.

    Returns:
        How it stands. Springs, bars, stops and tires make the loads and nothing else does: links carry nothing, and
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
    batch = np.broadcast_shapes(car.batch, *(each.shape[1:] for each in (attitude, *acting)))
    start = np.zeros((7, *batch))
    start[:3] = over_batch(attitude, lead=1, batch=batch)
    return _standing(car, Balance(car, hooked=change.hooked, batch=batch).rest(acting, start=start, held=True))


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
        amounts[name] = bounded(name, getattr(change, name), unit=unit)
        if amounts[name].shape[:1] != (4,):
            raise ValueError(f"{name} must have shape (4, *batch): LF, RF, LR, RR, not {amounts[name].shape}")
    return Push(**amounts, body=body)


def _standing(car: FourWheelCar, resting: Rest) -> StaticState:
    heave, roll, pitch = resting.u[:3]
    return StaticState(
        loads_lb=resting.loads_lb,
        change_lb=resting.loads_lb - over_batch(car.loads_lb, lead=1, batch=heave.shape),
        rise_in=rise(resting.u, car.at_in),
        heave_in=heave,
        roll_deg=np.degrees(roll),
        pitch_deg=np.degrees(pitch),
        travel_in=resting.travel_in,
        lifted=resting.lifted,
        names=resting.names,
        engaged=resting.engaged,
        beyond=resting.beyond,
        closed=resting.closed,
        u=resting.u,
    )


def rescaled(car: FourWheelCar, change: ChassisChange = UNCHANGED) -> FourWheelCar:
    """A car after a change as it would be scaled anew: what `corner`, or a further change, starts from.

    Args:
        car: as it was scaled, any batch.
        change: a batch that broadcasts against the car's.

    Returns:
        The car with its new loads, the gaps of its stops and the preload of its bars as it now stands. Bars that are
        not hooked are gone. A wheel off the scales has no load, and how far it is off is forgotten.

    Raises:
        ValueError: as for `on_scales`.

    Source: what is between wheels and chassis depends on where they are, not on how they got there.

    >>> from studbook_service.engine.examples import CAR
    >>> rescaled(CAR, ChassisChange(ballast=[Ballast(100, -50, 0)])).stops[0].gap_in.round(3).item()
    5.117
    """
    standing = on_scales(car, change)
    batch = standing.closed.shape
    arm = standing.travel_in + over_batch(numbers(change.stud_in), lead=1, batch=batch)
    return replace(
        car,
        at_in=over_batch(car.at_in, lead=2, batch=batch),
        loads_lb=standing.loads_lb,
        rates_lb_per_in=over_batch(car.rates_lb_per_in, lead=2, batch=batch),
        per_perch=over_batch(car.per_perch, lead=2, batch=batch),
        tires_lb_per_in=over_batch(car.tires_lb_per_in, lead=1, batch=batch),
        bars=tuple(_moved(bar, across(bar.axle), arm) for bar in car.bars if bar.axle in change.hooked),
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
    """What an inch of displacement at each wheel by its perch does there; the last axis before the batch is the perch.

    Attributes:
        standing: where this holds.
        loads_lb_per_in: (4 wheels, 4 perches, *batch).
        rise_in_per_in: of the chassis over each wheel, (4 wheels, 4 perches, *batch).
        cross_percent_per_in: (4 perches, *batch).
        bite_lb_per_in: (4 perches, *batch).
    """

    standing: StaticState
    loads_lb_per_in: Array
    rise_in_per_in: Array
    cross_percent_per_in: Array
    bite_lb_per_in: Array


def sensitivity(car: FourWheelCar, change: ChassisChange = UNCHANGED) -> PerchSensitivity:
    """The slope of loads and heights against `perch_in` at each wheel, as the car stands after a change.

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
    balanced = balance(car, acting, hooked=change.hooked)
    resting = balanced.rest(acting)
    response = balanced.response(acting, resting)
    standing = _standing(car, resting)
    tires = over_batch(car.tires_lb_per_in, lead=1, batch=resting.closed.shape) * ~resting.lifted
    loads = -tires[:, None] * response[3:]
    total = resting.loads_lb.sum(axis=0)
    return PerchSensitivity(
        standing=standing,
        loads_lb_per_in=loads,
        rise_in_per_in=rise(response, over_batch(car.at_in, lead=2, batch=resting.closed.shape)[:, :, None]),
        cross_percent_per_in=100 * (loads[1] + loads[2]) / total,
        bite_lb_per_in=loads[2] - loads[3],
    )
