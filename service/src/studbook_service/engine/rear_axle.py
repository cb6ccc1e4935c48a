"""A beam axle as surveyed: its wheels, and the rods that locate it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal, NamedTuple, Self

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import over_batch
from studbook_service.engine.beam import Beam
from studbook_service.engine.bounds import COINCIDENT_IN, bounded, check_apart, checked_point, one_of
from studbook_service.engine.rods import Hold, RodsUnsound, hold
from studbook_service.engine.vectors import Array, cross, dot, lift, numbers, root, unit

if TYPE_CHECKING:
    from collections.abc import Mapping

CARRIERS = ("axle", "birdcage_left", "birdcage_right")
"""What a rod's rear end, or a spring's lower end, is bolted to."""

Carrier = Literal["axle", "birdcage_left", "birdcage_right"]


class LinkRod(NamedTuple):
    """A locating rod at the survey: trailing link, lateral bar or torque link.

    Attributes:
        chassis: its end on the chassis, in, (3,).
        carrier: its other end, in, (3,).
        on: what carries that end.
    """

    chassis: npt.ArrayLike
    carrier: npt.ArrayLike
    on: Carrier = "axle"


@dataclass(frozen=True, eq=False, kw_only=True)
class AxleLinkage:
    """A rear axle: what was surveyed, and what has been moved since. Made by `rear_axle_from_survey`.

    Points are survey coordinates in inches, x forward, y left, z up. The wheels are square to the line of their
    centers. A birdcage is free to turn about that line.

    Attributes:
        names: of the rods, in the order of every array of rods.
        on: what carries each rod's rear end.
        chassis, carrier: the rods' chassis ends and rear ends at the survey, (3, rods).
        wheel_left, wheel_right: centers of the wheels, (3,).
        left_radius_in, right_radius_in: the tires' loaded radii.
        hold: how the rods hold the axle; its `grip` is how surely.
        chassis_moved_in: how far each chassis end has been moved since, (3, rods, *batch).
        carrier_moved_in: the same of the rear ends, along the axes of the survey.
        longer_in: how much longer each rod has been made, (rods, *batch).
    """

    names: tuple[str, ...]
    on: tuple[Carrier, ...]
    chassis: Array
    carrier: Array
    wheel_left: Array
    wheel_right: Array
    left_radius_in: Array
    right_radius_in: Array
    chassis_moved_in: Array
    carrier_moved_in: Array
    longer_in: Array

    @property
    def cages(self) -> tuple[Carrier, ...]:
        """The birdcages: those that carry a rod."""
        return tuple(name for name in CARRIERS[1:] if name in self.on)

    @cached_property
    def axes(self) -> Array:
        """The axle's unit vectors forward, left and up at the survey, as the rows of (3, 3)."""
        _, forward, left, _ = _axes(self.wheel_left, self.wheel_right)
        return np.stack([forward, left, cross(forward, left)])

    @cached_property
    def beam(self) -> Beam:
        """The axle in the form the solver uses, its moves made; built once."""
        rank = self.longer_in.ndim - 1
        midpoint, forward, left, half = _axes(self.wheel_left, self.wheel_right)
        surveyed = self.carrier - self.chassis
        length = root(dot(surveyed, surveyed))
        carrier = lift(self.carrier, rank, lead=2) + self.carrier_moved_in
        return Beam(
            midpoint=lift(midpoint, rank),
            forward=lift(forward, rank),
            left=lift(left, rank),
            half=lift(half, rank, lead=0),
            chassis=lift(self.chassis, rank, lead=2) + self.chassis_moved_in,
            offset=np.tensordot(self.axes, carrier - lift(midpoint, rank)[:, None], 1),
            length=lift(length, rank) + self.longer_in,
            cage=np.array([-1 if name == "axle" else self.cages.index(name) for name in self.on]),
            cages=len(self.cages),
        )

    @cached_property
    def hold(self) -> Hold:
        """How the rods as surveyed hold the axle."""
        still = np.zeros((3, len(self.names)))
        surveyed = replace(self, chassis_moved_in=still, carrier_moved_in=still, longer_in=still[0])
        return hold(surveyed.beam, names=self.names, cages=self.cages)

    def index(self, rod: str) -> int:
        """A rod's place in the arrays of rods.

        Raises:
            ValueError: there is no such rod.
        """
        one_of("rod", rod, self.names)
        return self.names.index(rod)

    def refit(
        self,
        rod: str,
        *,
        chassis_in: npt.ArrayLike = (0.0, 0.0, 0.0),
        carrier_in: npt.ArrayLike = (0.0, 0.0, 0.0),
        longer_in: npt.ArrayLike = 0.0,
    ) -> Self:
        """The axle with one rod in other holes or of another length; adds to what was moved before.

        Args:
            rod: its name.
            chassis_in: displacement of its chassis end, (3, *batch); the rod keeps its length.
            carrier_in: displacement of its rear end on what carries it, along the survey's axes, (3, *batch).
            longer_in: how much longer the rod is made, (*batch).

        Raises:
            ValueError: there is no such rod, or a displacement is malformed.

        >>> from studbook_service.engine.examples import AXLE
        >>> AXLE.refit("lateral_bar", chassis_in=(0, 0, 1), longer_in=[0.0, 0.25]).beam.length[5].round(3).tolist()
        [20.757, 21.007]
        """
        index = self.index(rod)
        chassis, carrier = checked_point("chassis_in", chassis_in), checked_point("carrier_in", carrier_in)
        longer = bounded("longer_in", longer_in, unit="in")
        batch = np.broadcast_shapes(self.longer_in.shape[1:], chassis.shape[1:], carrier.shape[1:], longer.shape)

        def added(before: Array, more: Array, heads: int) -> Array:
            after = np.array(over_batch(before, lead=heads + 1, batch=batch))
            after[(slice(None),) * heads + (index,)] += lift(more, len(batch), lead=heads)
            return after

        return replace(
            self,
            chassis_moved_in=added(self.chassis_moved_in, chassis, 1),
            carrier_moved_in=added(self.carrier_moved_in, carrier, 1),
            longer_in=added(self.longer_in, longer, 0),
        )


def rear_axle_from_survey(
    *,
    rods: Mapping[str, LinkRod],
    wheel_left: npt.ArrayLike,
    wheel_right: npt.ArrayLike,
    left_radius_in: npt.ArrayLike,
    right_radius_in: npt.ArrayLike,
) -> AxleLinkage:
    """A rear axle from the points of a survey.

    Args:
        rods: every locating rod by name. A birdcage is there when a rod is bolted to it. A lift arm is part of the
            axle; its link is a rod on the axle.
        wheel_left: center of the left wheel, in, (3,); x forward, y left, z up.
        wheel_right: center of the right wheel.
        left_radius_in: the left tire's loaded radius.
        right_radius_in: the right tire's.

    Raises:
        RodsUnsound: a ValueError; the rods leave a motion free, or hold one twice (also where the lengths agree).
        ValueError: naming the argument that is malformed: not three finite numbers, a wheel on the wrong side, a
            radius not above 0, a rod without length, a birdcage's rod on the other half of the axle.

    Source: sense of the axes ISO 8855.

    >>> from studbook_service.engine.examples import AXLE
    >>> AXLE.cages
    ('birdcage_left', 'birdcage_right')
    """
    left, right = (
        checked_point(name, value, single=True)
        for name, value in (("wheel_left", wheel_left), ("wheel_right", wheel_right))
    )
    if left[1] - right[1] < COINCIDENT_IN:
        raise ValueError(
            f"wheel_left must lie left of wheel_right: y {left[1]} in is not above {right[1]} in; are they swapped?"
        )
    left_radius = bounded("left_radius_in", left_radius_in, unit="in", above=0)
    right_radius = bounded("right_radius_in", right_radius_in, unit="in", above=0)
    if not rods:
        raise ValueError("rods must name at least one rod")
    midpoint, _, line, _ = _axes(left, right)
    for name, rod in rods.items():
        chassis, carrier = (
            checked_point(f"rods[{name!r}].{end}", getattr(rod, end), single=True) for end in ("chassis", "carrier")
        )
        check_apart(f"rods[{name!r}].chassis", ".carrier", chassis, carrier)
        one_of(f"rods[{name!r}].on", rod.on, CARRIERS)
        side = float(dot(carrier - midpoint, line))
        if side * {"axle": 0, "birdcage_left": 1, "birdcage_right": -1}[rod.on] < 0:
            raise ValueError(
                f"rods[{name!r}].carrier is on {rod.on} but lies {abs(side):.2f} in past the axle's middle"
            )
    axle = AxleLinkage(
        names=tuple(rods),
        on=tuple(rod.on for rod in rods.values()),
        chassis=np.stack([numbers(rod.chassis) for rod in rods.values()], axis=1),
        carrier=np.stack([numbers(rod.carrier) for rod in rods.values()], axis=1),
        wheel_left=left,
        wheel_right=right,
        left_radius_in=left_radius,
        right_radius_in=right_radius,
        chassis_moved_in=np.zeros((3, len(rods))),
        carrier_moved_in=np.zeros((3, len(rods))),
        longer_in=np.zeros(len(rods)),
    )
    if not axle.hold.sound:
        raise RodsUnsound(axle.hold)
    return axle


def _axes(wheel_left: Array, wheel_right: Array) -> tuple[Array, Array, Array, Array]:
    """Midpoint of the wheel centers, the axle's forward and left unit vectors, and half its width."""
    line = wheel_left - wheel_right
    left = unit(line)
    level = np.stack([left[1], -left[0], np.zeros_like(left[0])])
    return (wheel_left + wheel_right) / 2, unit(level), left, root(dot(line, line)) / 2
