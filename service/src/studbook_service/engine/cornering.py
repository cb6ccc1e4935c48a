"""A car in a steady corner: loads, roll and travels, with lifted wheels and stops."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import over_batch
from studbook_service.engine.bounds import bounded, shaped
from studbook_service.engine.car import axle_blocks
from studbook_service.engine.equilibrium import Balance, CarState, Push
from studbook_service.engine.loads import BOTH

if TYPE_CHECKING:
    from collections.abc import Collection

    from studbook_service.engine.car import FourWheelCar
    from studbook_service.engine.links import Links
    from studbook_service.engine.one_sided import AxleName
    from studbook_service.engine.track import InPlane
    from studbook_service.engine.vectors import Array

NEGLECTED = (
    "Quasi-static: no damping, no joint friction, nothing that moves. Small angles: n-lines, roll centers, motion "
    "ratios and patches stay where they are on the scales. Rigid chassis, rear axle square to it. Side force in "
    "proportion to load within an axle; no braking, no wind, no aligning torque, no gyroscopic moment. Drag, if any, "
    "acts at the height of the center of gravity."
)
"""What every answer of this model leaves out."""

TINY_LB = 1e-9
ROUNDS = 200
SETTLED = 1e-11
"""Of the car's weight: the change of the loads from round to round below which the answer is taken."""


class Masses(NamedTuple):
    """How high a car's weight is.

    Attributes:
        cg_height_in: of the whole car, (*batch).
        unsprung_lb: at each wheel, half a beam axle at each side, (4, *batch).
        unsprung_height_in: of that weight, near the wheel center, (4, *batch).
    """

    cg_height_in: npt.ArrayLike
    unsprung_lb: npt.ArrayLike
    unsprung_height_in: npt.ArrayLike


class Thrust(NamedTuple):
    """How a car is driven through the corner.

    Attributes:
        drive_lb: of both rear tires together, + forward, (*batch).
        left_share: the left one's part of it.
        yaw_deg: + nose to the inside of a left turn, tail out.
    """

    drive_lb: npt.ArrayLike = 0.0
    left_share: npt.ArrayLike = 0.5
    yaw_deg: npt.ArrayLike = 0.0


COASTING = Thrust()


@dataclass(frozen=True, eq=False, kw_only=True)
class CorneringState(CarState):
    """A car in a corner; NaN where it has no rest (it turns over). With the forces applied the loads are in balance.

    The change of the loads is the sum of the geometric, the unsprung and the elastic part.

    Attributes:
        geometric_lb: what the links carry past the springs, (4, *batch).
        unsprung_lb: what the unsprung weight does to its own axle's tires, (4, *batch).
        side_lb: side force of each tire, + left, square to the car, (4, *batch).
        drive_lb: thrust of each tire, + forward, (4, *batch).
    """

    geometric_lb: Array
    unsprung_lb: Array
    side_lb: Array
    drive_lb: Array


def weight_transfer(part_lb: npt.ArrayLike) -> Array:
    """Load moved from left to right at the front and the rear, (2, *batch), of any of a `CorneringState`'s parts.

    Args:
        part_lb: (4, *batch).

    >>> weight_transfer([-100, 120, -50, 50]).tolist()
    [110.0, 50.0]
    """
    left_front, right_front, left_rear, right_rear = np.asarray(part_lb, float)
    return np.stack([right_front - left_front, right_rear - left_rear]) / 2


def cornering_state(
    car: FourWheelCar,
    *,
    track: InPlane,
    masses: Masses,
    links: Links,
    thrust: Thrust = COASTING,
    hooked: Collection[AxleName] = BOTH,
) -> CorneringState:
    """Loads, roll and travels of a car in a corner.

    The axles share the side force by yaw balance, the tires of an axle in proportion to their loads. With a the
    acceleration toward the inside of the path, W the weight, D the thrust and ψ the yaw, the side force square to the
    car is (W a − D sin ψ) / cos ψ; at a steady speed without drag, where D = W a sin ψ, that is W a cos ψ. The links
    carry their part of the sprung side force and of the thrust; unsprung couples go to their own axle's tires; springs,
    bars and stops carry the rest. The sprung weight's shift with roll about the roll axis is in it.

    Args:
        car: as it was scaled, any batch.
        track: of `in_plane`, any batch that broadcasts; `lateral_g` below 0 is a right turn.
        masses: how high the weight is.
        links: what the suspension carries past its springs.
        thrust: thrust and yaw; by default neither.
        hooked: axles whose anti-roll bar is hooked.

    Returns:
        How the car rests on the track. See `NEGLECTED` for what the model leaves out.

    Raises:
        ValueError: a height or weight not above 0, an unsprung weight above the load on its wheel, a yaw outside −45
            to 45 deg, a share outside 0 to 1.

    Source: roll, geometric and unsprung transfer as in Barton and Fieldhouse, Automotive Chassis Engineering, Springer
    2018, p. 174, here by virtual work on seven coordinates.

    >>> from studbook_service.engine.examples import CAR, LINKS, MASSES
    >>> from studbook_service.engine.track import InPlane
    >>> turning = cornering_state(CAR, track=InPlane(0.8, 1.0), masses=MASSES, links=LINKS)
    >>> turning.loads_lb.round().tolist(), round(float(turning.roll_deg), 1), turning.lifted.any().item()
    ([310.0, 782.0, 420.0, 929.0], 2.7, False)
    """
    forces = _Forces(car, track, masses, links, thrust)
    state, push = forces.rest(car, hooked)
    return CorneringState(
        **vars(state),
        geometric_lb=np.where(state.closed, -push.link_lb, np.nan),
        unsprung_lb=np.where(state.closed, -push.wheel_lb, np.nan),
        side_lb=forces.side_lb(state.loads_lb),
        drive_lb=np.where(state.closed, forces.drive, np.nan),
    )


class _Forces:
    """What acts on a car in a corner, given its loads, travels and roll; (4, *batch) over the wheels."""

    def __init__(self, car: FourWheelCar, track: InPlane, masses: Masses, links: Links, thrust: Thrust) -> None:
        wheels = {
            "unsprung_lb": bounded("unsprung_lb", masses.unsprung_lb, unit="lb", least=0),
            "unsprung_height_in": bounded("unsprung_height_in", masses.unsprung_height_in, unit="in", above=0),
        }
        slopes = bounded("drive_slopes", links.drive_slopes, unit="in per in")
        for name, value, count in (*((name, value, 4) for name, value in wheels.items()), ("drive_slopes", slopes, 2)):
            shaped(name, value, count)
        lateral = bounded("lateral_g", track.lateral_g, unit="g")
        normal = bounded("normal_g", track.normal_g, unit="g", above=0)
        height = bounded("cg_height_in", masses.cg_height_in, unit="in", above=0)
        drive = bounded("drive_lb", thrust.drive_lb, unit="lb")
        share = bounded("left_share", thrust.left_share, unit="of the thrust", least=0, most=1)
        yaw = np.radians(bounded("yaw_deg", thrust.yaw_deg, unit="deg", least=-45, most=45))
        batch = np.broadcast_shapes(
            car.batch,
            *(each.shape[1:] for each in (*wheels.values(), slopes)),
            *(each.shape for each in (lateral, normal, height, drive, share, yaw)),
            *(each.shape[2:] for each in (links.front, links.rear)),
        )
        self.x, self.y = over_batch(car.at_in, lead=2, batch=batch)
        self.loads = over_batch(car.loads_lb, lead=1, batch=batch)
        self.unsprung, low = (over_batch(each, lead=1, batch=batch) for each in wheels.values())
        if np.any((self.unsprung >= self.loads) & (self.loads > 0)):
            raise ValueError(
                f"unsprung_lb is {self.unsprung} lb; it must be below the load on its wheel, {self.loads} lb"
            )
        self.links = axle_blocks(links.front, links.rear, batch)
        self.normal = normal
        total, sprung = self.loads.sum(axis=0), self.loads - self.unsprung
        self.sprung = sprung.sum(axis=0)
        self.front_share = sprung[:2].sum(axis=0) / self.sprung
        self.sprung_height = (total * height - (self.unsprung * low).sum(axis=0)) / self.sprung
        if np.any(self.sprung_height <= 0):
            raise ValueError(f"cg_height_in is {height} in; it must be above that of the unsprung weight alone")
        self.side = (total * lateral - drive * np.sin(yaw)) / np.cos(yaw)
        self.lateral = self.side / total
        nothing = np.zeros(batch)
        self.drive = np.stack([nothing, nothing, nothing + drive * share, nothing + drive * (1 - share)])
        couple = self.lateral * self.unsprung * low
        self.wheel, skew = self.unsprung * (1 - normal), nothing
        for left in (0, 2):
            pair = (couple[left] + couple[left + 1]) / (self.y[left] - self.y[left + 1])
            self.wheel[left] += pair
            self.wheel[left + 1] -= pair
            skew = skew + pair * (self.x[left] - self.x[left + 1])  # wheels not side by side: the links take it
        self.lift = np.stack([nothing, nothing, *(-over_batch(slopes, lead=1, batch=batch) * self.drive[2:])])
        sprung_x, sprung_y = (sprung * self.x).sum(axis=0) / self.sprung, (sprung * self.y).sum(axis=0) / self.sprung
        heavier = self.sprung * (normal - 1)
        self.body = np.stack(
            [
                -heavier + nothing,
                self.sprung * self.lateral * self.sprung_height - heavier * sprung_y,
                heavier * sprung_x - self.drive.sum(axis=0) * height + skew,
            ]
        )
        self.middle_x = (self.loads * self.x).sum(axis=0) / total
        self.turning = ((self.y - (self.loads * self.y).sum(axis=0) / total) * self.drive).sum(axis=0)

    def shares(self, loads: Array) -> Array:
        """Each tire's part of its axle's load."""
        axles = np.repeat(loads.reshape((2, 2, *loads.shape[1:])).sum(axis=1), 2, axis=0)
        parts: Array = loads / np.maximum(axles, TINY_LB)
        return parts

    def side_lb(self, loads: Array) -> Array:
        """Side force of each tire: yaw balance between the axles, load within one."""
        shares = self.shares(loads)
        arms = shares * (self.x - self.middle_x)
        front_arm, rear_arm = arms[:2].sum(axis=0), arms[2:].sum(axis=0)
        front = (self.turning - self.side * rear_arm) / (front_arm - rear_arm)
        sides: Array = shares * np.stack([front, front, self.side - front, self.side - front])
        return sides

    def push(self, loads: Array, travel: Array, roll: Array) -> Push:
        """Everything that acts on the car, its sprung weight shifted with roll about the roll axis."""
        held = self.side_lb(loads) - self.unsprung * self.lateral
        moved = self.shares(loads) * np.einsum("ij...,j...->i...", self.links, travel)
        chassis = -(self.front_share * moved[:2].sum(axis=0) + (1 - self.front_share) * moved[2:].sum(axis=0))
        shift = self.sprung_height * roll - chassis
        body = self.body.copy()
        body[1] += self.sprung * self.normal * shift
        links = np.einsum("ji...,j...->i...", self.links, held)
        return Push(wheel_lb=self.wheel, link_lb=links + self.lift, body=body)

    def rest(self, car: FourWheelCar, hooked: Collection[AxleName]) -> tuple[CarState, Push]:
        """Where the car comes to rest, and what then acts: by turns, until neither moves the other."""
        loads, travel, roll, start = self.loads, np.zeros_like(self.loads), np.zeros(self.loads.shape[1:]), None
        push = self.push(loads, travel, roll)
        balanced = Balance(car, hooked=hooked, batch=push.batch_on(car))
        for _ in range(ROUNDS):
            push = self.push(loads, travel, roll)
            state = balanced.rest(push, start=start)
            moved = np.abs(state.loads_lb - loads).max(axis=0) / self.loads.sum(axis=0)
            loads, travel, roll, start = state.loads_lb, state.travel_in, state.u[1], state.u
            if not np.any(moved > SETTLED):
                break
        closed = state.closed & (moved <= SETTLED)
        settled: dict[str, Any] = {
            name: np.where(closed, getattr(state, name), np.nan)
            for name in ("u", "travel_in", "loads_lb", "elastic_lb")
        }
        return replace(state, closed=closed, **settled), push
