"""The rest of a car on its springs and tires: the least energy, with what acts one way only.

Coordinates u: heave, roll and pitch of the chassis about the origin on the ground, and the rises of the four wheels;
all from the attitude on the scales. The energy is convex, so a Newton step that is cut where it goes past the least of
its line always arrives, and which stops are engaged and which wheels are off the ground comes out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import over_batch
from studbook_service.engine.one_sided import difference_row
from studbook_service.engine.vectors import Array, numbers

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from studbook_service.engine.car import FourWheelCar
    from studbook_service.engine.one_sided import AxleName

NEWTON_STEPS = 60
TOLERANCE = 1e-10
"""Of the car's weight: how far from balance a resting place may be."""
LEVER_IN = 100.0
"""What a moment is divided by to be measured as a force."""
CLINGING = 1e-9
"""Part of its rate that a tire off the ground keeps in a Newton step, so that the step exists; not in the forces."""
NOTHING = np.zeros(4)
NOTHING.flags.writeable = False


class Push(NamedTuple):
    """What acts on a car besides what did on the scales; every array (4, *batch), or (3, *batch) for the body.

    Attributes:
        perch_in, stud_in, spring_lb, radius_in: as in `loads.ChassisChange`. A perch presses the springs more, a stud
            also bars and stops.
        wheel_lb: force on the wheel itself, + up.
        link_lb: force of the links that lifts the wheel against the chassis, + wheel up and chassis down.
        body: force on the chassis: up, lb; moment of roll + right side down, and of pitch + nose down, in·lb.
    """

    perch_in: Array = NOTHING
    stud_in: Array = NOTHING
    spring_lb: Array = NOTHING
    radius_in: Array = NOTHING
    wheel_lb: Array = NOTHING
    link_lb: Array = NOTHING
    body: Array = NOTHING[:3]

    def batch_on(self, car: FourWheelCar) -> tuple[int, ...]:
        """The batch that this and the car broadcast to."""
        return np.broadcast_shapes(car.batch, *(each.shape[1:] for each in self))


@dataclass(frozen=True, eq=False, kw_only=True)
class CarState:
    """A car in balance, all but the loads counted from how it was scaled; NaN where it has no rest.

    Attributes:
        u: heave in, roll rad, pitch rad, rise of each wheel in, (7, *batch).
        travel_in: of each wheel against the chassis, + bump, (4, *batch).
        loads_lb: of the tires on the ground, (4, *batch).
        scaled_lb: the loads on the scales, (4, *batch).
        at_in: x and y of the patches, (2, 4, *batch).
        elastic_lb: by how much springs, bars and stops press each wheel more, (4, *batch).
        lifted: wheels off the ground, (4, *batch). A wheel that hangs in its chain on the ground is not lifted.
        names: of the stops, and of the bars with slack.
        engaged: which of `names` carry, (names, *batch).
        beyond: which are pressed further than their curve was measured, (names, *batch).
        closed: whether there is a rest, (*batch).
    """

    u: Array
    travel_in: Array
    loads_lb: Array
    scaled_lb: Array
    at_in: Array
    elastic_lb: Array
    lifted: Array
    names: tuple[str, ...]
    engaged: Array
    beyond: Array
    closed: Array

    @property
    def change_lb(self) -> Array:
        """Change of the loads from the scales, (4, *batch)."""
        change: Array = self.loads_lb - self.scaled_lb
        return change

    @property
    def heave_in(self) -> Array:
        """Rise of the chassis at the origin, (*batch)."""
        heave: Array = self.u[0]
        return heave

    @property
    def roll_deg(self) -> Array:
        """Roll of the chassis, + right side down, (*batch)."""
        roll: Array = np.degrees(self.u[1])
        return roll

    @property
    def pitch_deg(self) -> Array:
        """Pitch of the chassis, + nose down, (*batch)."""
        pitch: Array = np.degrees(self.u[2])
        return pitch

    @property
    def rise_in(self) -> Array:
        """Rise of the chassis over each wheel, (4, *batch)."""
        return rise(self.u, self.at_in)

    def rise_at(self, *, x_in: npt.ArrayLike, y_in: npt.ArrayLike) -> Array:
        """Rise of the chassis, in, (points, *batch), at points (points,), where ride heights are measured."""
        return rise(self.u, np.stack([numbers(x_in), numbers(y_in)]))


def rise(u: Array, at_in: Array) -> Array:
    """Rise of the chassis at points: heave + roll · y − pitch · x, in, (points, *batch).

    Args:
        u: (7, *batch) or its first three rows.
        at_in: x and y of the points, (2, points, *batch) or (2, points).

    >>> rise(np.array([1.0, 0.1, 0.0]), np.array([[0.0], [-10.0]])).tolist()
    [0.0]
    """
    at = over_batch(at_in, lead=2, batch=u.shape[1:])
    risen: Array = u[0] + u[1] * at[1] - u[2] * at[0]
    return risen


class Acting(NamedTuple):
    """A push as the balance takes it, the batch flattened and put first.

    Attributes:
        stud: displacement of each wheel against its arm, (n, 4).
        held: spring forces at the attitude on the scales, (n, 4).
        pressed: what the tires would carry there, (n, 4).
        force: on each coordinate, (n, 7).
    """

    stud: Array
    held: Array
    pressed: Array
    force: Array


class Balance:
    """The springs, tires, bars and stops of a car, with the batch flattened and put first: (n, ...).

    Args:
        car: any batch.
        hooked: axles whose anti-roll bar is hooked.
        batch: what the car's batch and that of every push broadcast to.

    Source: least potential energy of elastic bodies; a semismooth Newton method with the step cut where the energy is
    least along it (from memory).

    >>> from studbook_service.engine.examples import CAR
    >>> push = Push(radius_in=np.ones(4))
    >>> Balance(CAR, hooked=(), batch=()).rest(push).u[[0, 3, 4, 5, 6]].round(9).tolist()
    [1.0, 1.0, 1.0, 1.0, 1.0]
    """

    def __init__(self, car: FourWheelCar, *, hooked: Collection[AxleName], batch: tuple[int, ...]) -> None:
        pieces = _pieces(car, hooked)
        owners = [piece.owner for piece in pieces]
        self.names = tuple(dict.fromkeys(owners))
        self.owner_starts = [owners.index(name) for name in self.names]
        self.batch = batch
        self.at_in = car.at_in
        at = self.flat(car.at_in, lead=2)
        self.loads = self.flat(car.loads_lb)
        self.tires = self.flat(car.tires_lb_per_in)
        chassis = np.stack([-np.ones_like(at[:, 0]), -at[:, 1], at[:, 0]], axis=-1)
        self.to_travel = np.concatenate([chassis, np.broadcast_to(np.eye(4), (len(at), 4, 4))], axis=-1)
        self.springs = self.flat(car.rates_lb_per_in, lead=2)
        self.stiffness, self.hooking = self.springs.copy(), np.zeros_like(self.loads)
        for bar in car.bars:
            row = difference_row(bar.axle)
            rate = self.flat(np.where(bar.one_way, 0, bar.rate_lb_per_in)[None])
            preload = rate * self.flat(bar.preload_in[None])
            pressed = self.flat((np.where(bar.one_way, bar.rate_lb_per_in, 0) * np.maximum(-bar.slack_in, 0))[None])
            if bar.axle in hooked:
                self.stiffness += rate[..., None] * np.outer(row, row)
                self.hooking += preload * row * (not bar.hooked_when_scaled)
            else:
                self.hooking -= (preload + pressed) * row * bar.hooked_when_scaled
        self.rows = np.array([piece.row for piece in pieces]).reshape(-1, 4)
        self.knots = self._stacked([piece.knot for piece in pieces])
        self.slopes = self._stacked([piece.slope for piece in pieces])
        self.measured = self._stacked([piece.measured for piece in pieces])
        self.base = self.slopes * np.maximum(-self.knots, 0)
        self.scale = self.loads.sum(axis=1, keepdims=True) * np.array([1, LEVER_IN, LEVER_IN, 1, 1, 1, 1])

    def flat(self, value: Array, *, lead: int = 1) -> Array:
        """An array of (*lead axes, *batch) as (n, *lead axes)."""
        spread = over_batch(value, lead=lead, batch=self.batch)
        return np.moveaxis(spread.reshape((*value.shape[:lead], -1)), -1, 0)

    def unflat(self, value: Array) -> Array:
        """An array of (n, *lead axes) as (*lead axes, *batch)."""
        return np.moveaxis(value, 0, -1).reshape((*value.shape[1:], *self.batch))

    def _stacked(self, values: Sequence[npt.ArrayLike]) -> Array:
        flat = [self.flat(np.asarray(value)[None])[:, 0] for value in values]
        return np.stack(flat, axis=-1) if flat else np.zeros((len(self.loads), 0))

    def acting(self, push: Push) -> Acting:
        """A push, flattened; all that does not depend on where the car goes."""
        perch, stud, spring, radius, wheel, link, body = (self.flat(each) for each in push)
        force = np.einsum("nji,nj->ni", self.to_travel, link)
        force[:, :3] += body
        force[:, 3:] += wheel - self.loads
        return Acting(
            stud=stud,
            held=self.hooking + spring + np.einsum("nij,nj->ni", self.springs, perch),
            pressed=self.loads + self.tires * radius,
            force=force,
        )

    def forces(self, u: Array, acting: Acting, some: Array) -> tuple[Array, Array, Array]:
        """Further spring forces, how far stops are past their knots and tires pressed, of some of the batch."""
        arm = np.einsum("nij,nj->ni", self.to_travel[some], u) + acting.stud[some]
        past = arm @ self.rows.T - self.knots[some]
        one_sided = (self.slopes[some] * np.maximum(past, 0) - self.base[some]) @ self.rows
        spring = np.einsum("nij,nj->ni", self.stiffness[some], arm) + acting.held[some] + one_sided
        return spring, past, acting.pressed[some] - self.tires[some] * u[:, 3:]

    def gradient(self, u: Array, acting: Acting, some: Array) -> Array:
        """Out-of-balance force on each coordinate, + against it."""
        spring, _, pressed = self.forces(u, acting, some)
        out: Array = np.einsum("nji,nj->ni", self.to_travel[some], spring) - acting.force[some]
        out[:, 3:] -= np.maximum(pressed, 0)
        return out

    def tangent(self, past: Array, pressed: Array, some: Array) -> Array:
        """d(gradient)/d(u), given how far stops are past their knots and tires pressed."""
        pieces = (self.slopes[some] * (past > 0))[..., None] * self.rows
        stiffness = self.stiffness[some] + np.einsum("nmi,mj->nij", pieces, self.rows)
        to_travel = self.to_travel[some]
        out: Array = np.swapaxes(to_travel, 1, 2) @ stiffness @ to_travel
        wheels = np.arange(3, 7)
        out[:, wheels, wheels] += self.tires[some] * np.where(pressed > 0, 1.0, CLINGING)
        return out

    def rest(self, push: Push, *, start: Array | None = None, held: bool = False) -> CarState:
        """Where the car comes to rest, looked for from `start`, u (7, *batch), or from how it was scaled.

        If `held`, the chassis stays where `start` has it and the wheels alone find their balance.
        """
        acting, every = self.acting(push), np.arange(len(self.loads))
        u = np.zeros((every.size, 7)) if start is None else self.flat(start).copy()
        u[~np.isfinite(u).all(axis=1)] = 0
        free = slice(3 if held else 0, 7)
        left = every
        for _ in range(NEWTON_STEPS):
            slope = self.gradient(u[left], acting, left)
            unbalanced = ~(np.abs(slope) <= TOLERANCE * self.scale[left])[:, free].all(axis=1)
            left, slope = left[unbalanced], slope[unbalanced]
            if not left.size:
                break
            _, past, pressed = self.forces(u[left], acting, left)
            step = np.zeros_like(slope)
            tangent = self.tangent(past, pressed, left)[:, free, free]
            step[:, free] = -np.linalg.solve(tangent, slope[:, free, None])[..., 0]
            u[left] += self._part(past, pressed, step, slope, left) * step
        return self._state(u, acting, np.isin(every, left, invert=True))

    def _part(self, past: Array, pressed: Array, step: Array, slope: Array, some: Array) -> Array:
        """The part of each step, at most all of it, at which the energy is least along it.

        Along a step the energy's slope grows in straight pieces, which meet where something comes on or off.
        """
        travel = np.einsum("nij,nj->ni", self.to_travel[some], step)
        level = np.concatenate([past, pressed], axis=1)
        growth = np.concatenate([travel @ self.rows.T, -self.tires[some] * step[:, 3:]], axis=1)
        weight = growth * np.concatenate([self.slopes[some], 1 / self.tires[some]], axis=1)
        steady = np.einsum("ni,nij,nj->n", travel, self.stiffness[some], travel)[:, None]
        with np.errstate(over="ignore"):
            turns = np.divide(-level, growth, out=np.ones_like(level), where=growth != 0)
        ends = np.ones((some.size, 1))
        parts = np.sort(np.concatenate([0 * ends, np.clip(turns, 0, 1), ends], axis=1), axis=1)
        grown = np.maximum(level[:, None] + parts[..., None] * growth[:, None], 0) - np.maximum(level, 0)[:, None]
        along = np.einsum("ni,ni->n", slope, step)[:, None] + parts * steady + np.einsum("nkj,nj->nk", grown, weight)
        last = np.clip((along <= 0).sum(axis=1) - 1, 0, parts.shape[1] - 2)[:, None]
        (from_part, to_part), (before, after) = (
            [np.take_along_axis(values, last + more, axis=1) for more in (0, 1)] for values in (parts, along)
        )
        rising = after > TOLERANCE * np.abs(along[:, :1])
        width = np.divide(before, before - after, out=ends.copy(), where=rising)
        part: Array = from_part + width * (to_part - from_part)
        return part

    def _state(self, u: Array, acting: Acting, closed: Array) -> CarState:
        nowhere = ~closed
        u[nowhere] = 0
        spring, past, pressed = self.forces(u, acting, np.arange(len(u)))
        travel = np.einsum("nij,nj->ni", self.to_travel, u)
        loads = np.maximum(pressed, 0)
        for each in (u, travel, loads, spring):
            each[nowhere] = np.nan
        first, last = past[:, self.owner_starts], (past - self.measured)[:, self.owner_starts]
        return CarState(
            u=self.unflat(u),
            travel_in=self.unflat(travel),
            loads_lb=self.unflat(loads),
            scaled_lb=self.unflat(self.loads),
            at_in=self.at_in,
            elastic_lb=self.unflat(spring),
            lifted=self.unflat((pressed <= 0) & closed[:, None]),
            names=self.names,
            engaged=self.unflat((first > 0) & closed[:, None]),
            beyond=self.unflat((last > 0) & closed[:, None]),
            closed=self.unflat(closed),
        )

    def response(self, push: Push, state: CarState) -> Array:
        """d(u)/d(`perch_in`) at a resting place, until something comes on or off, (7, 4 perches, *batch)."""
        u, every = self.flat(state.u), np.arange(len(self.loads))
        _, past, pressed = self.forces(u, self.acting(push), every)
        wanted = np.einsum("nji,njk->nik", self.to_travel, self.springs)
        return self.unflat(-np.linalg.solve(self.tangent(past, pressed, every), wanted))


class OneSidedPiece(NamedTuple):
    """A straight piece of a one-sided force: past its knot it grows by its slope.

    Attributes:
        row: deflection per inch of each wheel's travel, (4,).
        knot: deflection from which it acts, (*batch).
        slope: lb per in, (*batch).
        measured: deflection up to which its owner's curve was measured.
        owner: name of the stop or bar.
    """

    row: Array
    knot: Array
    slope: npt.ArrayLike
    measured: npt.ArrayLike
    owner: str


def _pieces(car: FourWheelCar, hooked: Collection[AxleName]) -> list[OneSidedPiece]:
    stops = [
        OneSidedPiece(stop.per_wheel, stop.gap_in + knot, slope, stop.measured_to_in, stop.name)
        for stop in car.stops
        for knot, slope in zip(stop.knots_in, stop.slopes_lb_per_in, strict=True)
    ]
    bars = [
        OneSidedPiece(
            difference_row(bar.axle),
            bar.slack_in,
            np.where(bar.one_way, bar.rate_lb_per_in, 0),
            np.inf,
            f"{bar.axle} bar",
        )
        for bar in car.bars
        if bar.axle in hooked and np.any(bar.one_way)
    ]
    return [*stops, *bars]
