"""A car put back on its scales after a change.

A reading of the scales, and one of the ride heights, belongs to the revision it was entered in. Perches, springs,
studs, gas, tires, ballast and bars recorded since come on top, so an answer gives what the scales would read now beside
what they read. Where a change is only tried, springs are held and no perch is turned for it.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.scales import OnScales, Weights, WheelInches, WheelPounds
from studbook_service.engine.car import FourWheelCar, percentages
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.loads import ChassisChange, on_scales
from studbook_service.engine.one_sided import WHEELS, difference_row
from studbook_service.engine.vectors import Array
from studbook_service.translate.car_change import ChangeOnScales
from studbook_service.translate.document import DocumentReader, Recent
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.origins import READINGS
from studbook_service.translate.states import rounded
from studbook_service.translate.whole_car import WholeCar, names_where, scales, wheels_where, whole_car


class Rescaled(NamedTuple):
    """A car put back on its scales after a change.

    Attributes:
        car: the engine's, as changed, with the loads before.
        causes: what moves a weight or a height, in words.
        left_out: what might, and could not be judged.
    """

    car: FourWheelCar
    change: ChassisChange
    standing: CarState
    causes: list[str]
    left_out: list[str]


class OnItsWheels(NamedTuple):
    """A document's car with the loads that its scales would read now.

    Attributes:
        read_lb: as last read, (4,).
        loads_lb: with what was changed since.
        since: the change since the scales were read, with the bars linked as raced, and what it does.
        since_heights: what the change since the ride heights were read does.
    """

    whole: WholeCar
    read_lb: Array
    loads_lb: Array
    since: Rescaled
    since_heights: CarState

    def change_with_bars(self, *, hooked: bool) -> ChassisChange:
        """Give what was changed since the scales were read, with every bar hooked or unhooked."""
        bars = self.whole.bars()
        force = np.asarray(self.since.change.spring_lb) + sum(
            difference_row(bar.axle) * bar.rate_lb_per_in * bar.preload_in * (hooked - bar.hooked) for bar in bars
        )
        return self.since.change._replace(spring_lb=force, hooked=[bar.axle for bar in bars] if hooked else [])


_READ = Recent[OnItsWheels | WholeCar]()
_ORIGINAL = Recent[WholeCar]()
"""The cars of the documents in which readings were entered: later revisions need the same."""


def on_its_wheels(tree: Tree, *, origins: Mapping[str, Tree]) -> OnItsWheels | WholeCar:
    """Read a car and what its scales would read now.

    Returns:
        The car on its wheels; the car alone where scales, springs or tires are not known, which `missing` then says.

    Raises:
        FieldsUnfit, CannotClose: the document cannot be read as a car.
    """
    found = _READ.get(tree, origins, compute=lambda: _on_its_wheels(tree, origins))
    whole = found.whole if isinstance(found, OnItsWheels) else found
    reader = DocumentReader(tree=tree, lacking=list(whole.reader.lacking), assumed=list(whole.reader.assumed))
    own = replace(whole, reader=reader, missing=list(whole.missing))
    return found._replace(whole=own) if isinstance(found, OnItsWheels) else own


def _on_its_wheels(tree: Tree, origins: Mapping[str, Tree]) -> OnItsWheels | WholeCar:
    whole = whole_car(tree, origins=origins)
    whole.reader.lacking.clear()
    read = scales(whole.reader)
    if read is None or not whole.ready():
        return whole
    scaled = origins.get("scales", tree)
    measured = origins.get("ride_height", scaled)

    def since(origin: Tree) -> Rescaled:
        same = (origins.get(name) for name in READINGS)
        old = whole
        if origin is not tree:
            old = _ORIGINAL.get(origin, *same, compute=lambda: whole_car(origin, origins=origins))
        return rescaled_by(old, whole, read, scaled=True)

    changed = since(scaled)
    heights = changed if measured is scaled else since(measured)
    return OnItsWheels(whole, read, changed.standing.loads_lb, changed, heights.standing)


def rescaled_by(old: WholeCar, new: WholeCar, loads_lb: Array, *, scaled: bool = False) -> Rescaled:
    """Put a car back on its scales after a change.

    Args:
        old: the car changed from.
        new: the car changed to; its springs and tires must be known.
        loads_lb: what the scales read before, (4,).
        scaled: whether its bars were then linked as the basis of the reading says; else as raced.

    Returns:
        How it stands, its bars linked as raced.

    Raises:
        FieldsMissing: the new car's springs or tires are not known.
        CannotClose: the car has no rest on its scales.
    """
    found = ChangeOnScales(old, new, loads_lb, scaled=scaled)
    car, change = new.on_scales(loads_lb), found.change()
    standing = on_scales(car, change)
    if not standing.closed:
        raise CannotClose("the car does not come to rest on its scales after this change")
    return Rescaled(car, change, standing, found.causes, found.left_out)


def car_on_its_wheels(tree: Tree, *, origins: Mapping[str, Tree]) -> OnItsWheels:
    """Read a car as `on_its_wheels` does, for an answer that is nothing without its loads.

    Raises:
        FieldsMissing: scales, springs or tires are not known.
    """
    found = on_its_wheels(tree, origins=origins)
    if isinstance(found, OnItsWheels):
        return found
    raise FieldsMissing(unscaled(found))


def unscaled(whole: WholeCar) -> list[Missing]:
    """List what a car lacks that `on_its_wheels` gave alone."""
    lacking = whole.reader.lacking
    return [*whole.missing, *([Missing(subject="weights", fields=lacking)] if lacking else [])]


def weights(loads_lb: Array) -> Weights:
    """Write four loads as a crew reads them."""
    shares = percentages(loads_lb)
    return Weights(
        **{f"{name}_lb": rounded(load) for name, load in zip(WHEELS, loads_lb, strict=True)},
        **{name: rounded(value) for name, value in shares._asdict().items()},
    )


def wheel_pounds(force_lb: Array) -> WheelPounds:
    """Write a force at each wheel."""
    return WheelPounds(**{f"{name}_lb": rounded(each) for name, each in zip(WHEELS, force_lb, strict=True)})


def wheel_inches(length_in: Array) -> WheelInches:
    """Write a length at each corner."""
    return WheelInches(**{f"{name}_in": rounded(each) for name, each in zip(WHEELS, length_in, strict=True)})


def height_places(reader: DocumentReader) -> Array | None:
    """Give x and y of the places where the ride heights are read, (2, 4), or None."""
    places = [reader.get(f"survey.ride_height.{name}.at_in") for name in WHEELS]
    return None if None in places else np.array(places, float).T


def rises(reader: DocumentReader, standing: CarState) -> tuple[str, Array]:
    """Give the chassis' rises where the ride heights are read, else over the wheels, and say which, (4, *batch)."""
    places = height_places(reader)
    if places is None:
        return "over the wheels", standing.rise_in
    return "where the ride heights are read", standing.rise_at(x_in=places[0], y_in=places[1])


def ride_height_change(reader: DocumentReader, standing: CarState) -> WheelInches | UnsetType:
    """Give the rises where the ride heights are read, if those places are known."""
    return UNSET if height_places(reader) is None else wheel_inches(rises(reader, standing)[1])


def on_scales_answer(found: Rescaled, before_lb: Array, reader: DocumentReader) -> OnScales:
    """Describe a car put back on its scales."""
    standing = found.standing
    return OnScales(
        before=weights(before_lb),
        after=weights(standing.loads_lb),
        change=wheel_pounds(standing.change_lb),
        rise=wheel_inches(standing.rise_in),
        causes=found.causes,
        left_out=found.left_out,
        engaged=names_where(standing.names, standing.engaged),
        lifted=wheels_where(standing.lifted),
        ride_height=ride_height_change(reader, standing),
    )
