"""The whole car on its wheels as a document has it: patches, springs and shocks at the wheels, tires, bars, stops."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.problem import FieldFault
from studbook_service.engine.axle_pose import AxlePose
from studbook_service.engine.axle_springs import AxleSprings, beam_axle, independent_wheels, upright_springs
from studbook_service.engine.car import FourWheelCar, car
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.one_sided import WHEELS, AxleName, Stop, WheelName
from studbook_service.engine.rear_centers import RearWheels, rear_wheels
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import Motion, WheelAlignment, motion, wheel, wheel_rate
from studbook_service.translate.bars_and_stops import (
    FittedBar,
    engine_bar,
    fitted_bar,
    fitted_bump_stop,
    fitted_droop_limit,
)
from studbook_service.translate.document import END, FRONT, REAR, DocumentReader, checked, mount_paths
from studbook_service.translate.errors import CannotClose, FieldsMissing, FieldsUnfit
from studbook_service.translate.front_end import FrontEnd, readable_front
from studbook_service.translate.rear_end import RearEnd, mount_motion, rear_end
from studbook_service.translate.springs import FittedSpring, fitted_spring, front_wheel_rate
from studbook_service.translate.words import CORNER

AXLES: Final[tuple[AxleName, AxleName]] = ("front", "rear")


@dataclass(frozen=True, kw_only=True)
class WholeCar:
    """A document's car at its ride height; arrays in the order of `WHEELS`, NaN where fields are lacking.

    Attributes:
        reader: the document, with what was assumed.
        front: the front end, with both corners; None where one cannot be read.
        fronts: its wheels, the corners on the batch axis.
        rear: the rear axle on its rods; None where it cannot be read, or its rods do not locate it.
        placed: the pose of the axle.
        rears: the wheels of the axle.
        at_in: x and y of the patches, (2, 4).
        springs: by corner.
        spring_in_per_in: d(length) of each spring (rows) per inch of travel of each wheel, (4, 4).
        shock_in_per_in: the same of the shocks.
        front_springs: the front springs at the wheels, None where something of them is not known; so are the rear ones.
        tires_lb_per_in: vertical rates, (4,).
        missing: what could not be read, with the fields.
    """

    reader: DocumentReader
    front: FrontEnd | None
    fronts: WheelAlignment | None
    rear: RearEnd | None
    placed: AxlePose | None
    rears: RearWheels | None
    at_in: Array
    springs: Mapping[WheelName, FittedSpring | None]
    spring_in_per_in: Array
    shock_in_per_in: Array
    front_springs: AxleSprings | None
    rear_springs: AxleSprings | None
    tires_lb_per_in: Array
    missing: list[Missing]

    def bars(self) -> list[FittedBar]:
        """Give the anti-roll bars whose rate is known."""
        return [found for axle in AXLES if (found := fitted_bar(self.reader, axle)) is not None]

    def stops(self) -> list[Stop]:
        """Give the bump stops and droop limits whose gap, curve or travel is known."""
        found = [
            fitted_bump_stop(self.reader, name, shock=shock, spring=spring)
            for name, shock, spring in zip(WHEELS, self.shock_in_per_in, self.spring_in_per_in, strict=True)
        ]
        found += [fitted_droop_limit(self.reader, name) for name in WHEELS]
        return [each for each in found if each is not None]

    def ready(self) -> bool:
        """Tell whether springs, tires and patches are known, so that the car can be put on scales."""
        known = np.all(np.isfinite([*self.at_in.flat, *self.tires_lb_per_in]))
        return bool(known) and self.front_springs is not None and self.rear_springs is not None

    def on_scales(self, loads_lb: Array) -> FourWheelCar:
        """Give the engine's car with these loads, its bars without preload.

        Raises:
            FieldsMissing: springs, tires or patches are not known.
            CannotClose: left and right, or front and rear, are swapped.
        """
        front, rear = self.front_springs, self.rear_springs
        if front is None or rear is None or not self.ready():
            raise FieldsMissing(self.missing)
        try:
            return car(
                x_in=self.at_in[0],
                y_in=self.at_in[1],
                loads_lb=loads_lb,
                front=front,
                rear=rear,
                tires_lb_per_in=self.tires_lb_per_in,
                bars=[engine_bar(each) for each in self.bars()],
                stops=self.stops(),
            )
        except ValueError as error:
            raise CannotClose(f"the car cannot be put on scales: {error}") from error

    def hooked(self) -> list[AxleName]:
        """List the axles whose bar is linked as raced."""
        return [each.axle for each in self.bars() if each.hooked]


def whole_car(tree: Tree, *, origins: Mapping[str, Tree]) -> WholeCar:
    """Read a document's car.

    Raises:
        FieldsUnfit: a value is out of type or bounds.
        CannotClose: a front that cannot be assembled at its ride height, mounts that cannot be those of a spring.
    """
    missing: list[Missing] = []
    front = readable_front(tree, origins, missing)
    if front is not None and len(front.names) < 2:
        front = None
    reader = DocumentReader(tree=checked(tree)) if front is None else front.reader
    rear, placed = _rear(reader, missing)
    springs = {name: fitted_spring(reader, f"setup.{END[name]}.{name}.spring") for name in WHEELS}
    at, spring, shock = np.full((2, 4), np.nan), np.full((4, 4), np.nan), np.full((4, 4), np.nan)
    rates, fronts, rears = np.full(2, np.nan), None, None
    if front is not None:
        pose = front.closed_pose()
        fronts, moving = wheel(pose), motion(pose)
        at[:, :2] = fronts.patch[:2]
        spring[:2], shock[:2] = 0.0, 0.0
        np.fill_diagonal(spring[:2, :2], -moving.ratio)
        np.fill_diagonal(shock[:2, :2], -motion(pose, front.shocks()).ratio)
        rates = _front_rates(reader, front, moving, springs)
    if rear is not None and placed is not None:
        rears = rear_wheels(placed, **rear.radii_in)
        at[:, 2:] = np.stack([each.patch[:2] for each in rears], axis=1)
        _rear_rows(reader, placed, spring, shock)
    else:
        _wheels_alone(reader, at)
    _upright_rear(reader, at, spring)
    tires = np.array([reader.number(f"setup.{END[name]}.{name}.tire.rate_lb_per_in") for name in WHEELS])
    missing += _springs_lacking(reader, front, spring, rates) + _tires_lacking(tires)
    return WholeCar(
        reader=reader,
        front=front,
        fronts=fronts,
        rear=rear,
        placed=placed,
        rears=rears,
        at_in=at,
        springs=springs,
        spring_in_per_in=spring,
        shock_in_per_in=shock,
        front_springs=_front_springs(spring, rates),
        rear_springs=_rear_springs(spring, springs),
        tires_lb_per_in=tires,
        missing=missing,
    )


def scales(reader: DocumentReader) -> Array | None:
    """Give what the scales read, LF, RF, LR, RR, or None; lacking fields are noted in `reader`."""
    read = [reader.need(f"measured.scales.{name}_lb") for name in WHEELS]
    return None if None in read else np.array(read, float)


def names_where(names: Sequence[str], which: Array) -> list[str]:
    """List the names of those that are so.

    Example:
        >>> names_where(("a", "b"), np.array([False, True]))
        ['b']
    """
    return [name for name, so in zip(names, which, strict=True) if so]


def wheels_where(which: Array) -> list[str]:
    """List the wheels that are so, as a crew names them."""
    return names_where(list(CORNER.values()), which)


def _rear(reader: DocumentReader, missing: list[Missing]) -> tuple[RearEnd, AxlePose] | tuple[None, None]:
    """Read the rear axle; where its rods do not locate it, it is a plain beam on upright springs."""
    reader.lacking.clear()
    try:
        rear = rear_end(reader)
        if rear is not None:
            return rear, rear.pose()
        missing.append(Missing(subject="rear axle", fields=list(reader.lacking)))
    except CannotClose as error:
        missing += error.missing_for("rear axle")
    reader.lacking.clear()
    return None, None


def _rear_rows(reader: DocumentReader, placed: AxlePose, spring: Array, shock: Array) -> None:
    """Fill in how the rear springs and shocks move, where their mounts were surveyed."""
    for index, name in enumerate(REAR, start=2):
        for rows, part in ((spring, "spring"), (shock, "shock")):
            moving = mount_motion(reader, placed, name, part)
            if moving is not None:
                rows[index] = [0.0, 0.0, *moving.per_wheel]


def _front_rates(
    reader: DocumentReader, front: FrontEnd, moving: Motion, springs: Mapping[WheelName, FittedSpring | None]
) -> Array:
    """Give the rate at each front wheel: by its spring's lengths, else by its statics."""
    fitted = [springs[name] or FittedSpring(np.nan, np.nan, None) for name in FRONT]
    rates, forces = (np.array([each[part] for each in fitted], float) for part in (0, 1))
    found = wheel_rate(moving, rate_lb_per_in=rates, force_lb=forces)
    for place in np.flatnonzero(np.isnan(found)):
        name = FRONT[place]
        alone = solve_travel(front.each[name], travel_in=float(front.travel[place]))
        found[place] = front_wheel_rate(reader, name, alone)
    return found


def _front_springs(spring: Array, rates: Array) -> AxleSprings | None:
    ratios = -np.diagonal(spring)[:2]
    if not np.all(np.isfinite([*rates, *ratios])):
        return None
    try:
        return independent_wheels(
            left_lb_per_in=rates[0], right_lb_per_in=rates[1], left_ratio=ratios[0], right_ratio=ratios[1]
        )
    except ValueError as error:
        raise CannotClose(f"front springs: {error}") from error


def _rear_springs(spring: Array, fitted: Mapping[WheelName, FittedSpring | None]) -> AxleSprings | None:
    """Give Jᵀ k J."""
    rates = [each.rate_lb_per_in for name in REAR if (each := fitted[name]) is not None]
    if len(rates) < 2 or not np.all(np.isfinite(spring[2:, 2:])):
        return None
    try:
        return beam_axle(per_wheel=spring[2:, 2:], spring_lb_per_in=rates)
    except ValueError as error:
        raise CannotClose(f"rear springs: {error}") from error


def _wheels_alone(reader: DocumentReader, at: Array) -> None:
    """Put the rear patches under the surveyed wheel centers."""
    for index, name in enumerate(REAR, start=2):
        center = reader.get(f"survey.rear.{name}.wheel_center_in")
        if center is not None:
            at[:, index] = center[:2]


def _upright_rear(reader: DocumentReader, at: Array, spring: Array) -> None:
    """Take rear springs as upright on a plain axle at their spring base, where rods or mounts are not known."""
    base = np.array([reader.number(f"setup.rear.{name}.spring_base_in") for name in REAR])
    if np.all(np.isfinite(spring[2:, 2:])) or not np.all(np.isfinite([*base, *at[1, 2:]])):
        return
    reader.assume(
        "Rear springs: taken as upright on a plain axle at their spring_base_in; rods or mounts are not known"
    )
    spring[2:] = 0.0
    try:
        spring[2:, 2:] = upright_springs(spring_y_in=base, wheel_y_in=at[1, 2:])
    except ValueError as error:
        path = "setup.rear.lr.spring_base_in"
        raise FieldsUnfit([FieldFault(path=path, detail=f"{path}: {error}")]) from error


def _springs_lacking(reader: DocumentReader, front: FrontEnd | None, row: Array, rates: Array) -> list[Missing]:
    """List the springs that are not known at the wheels, with the fields; an unreadable front is listed already."""
    missing = []
    for index, name in enumerate(WHEELS if front is not None else REAR, start=0 if front is not None else 2):
        spring, mounts = f"setup.{END[name]}.{name}.spring", f"survey.{END[name]}.{name}.spring"
        wanted = [f"{spring}.rate_lb_per_in"]
        if not np.all(np.isfinite(row[index])):
            wanted += mount_paths(mounts)
        elif name in FRONT and np.isnan(rates[index]):
            wanted += [f"{spring}.{leaf}" for leaf in ("free_length_in", "installed_length_in")]
        fields = reader.unrecorded(*wanted)
        if fields:
            missing.append(Missing(subject=f"{CORNER[name]} spring at the wheel", fields=fields))
    return missing


def _tires_lacking(tires: Array) -> list[Missing]:
    paths = [f"setup.{END[name]}.{name}.tire.rate_lb_per_in" for name in WHEELS]
    fields = [path for path, rate in zip(paths, tires, strict=True) if np.isnan(rate)]
    return [Missing(subject="loads on the tires", fields=fields)] if fields else []
