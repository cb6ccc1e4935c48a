"""A car put back on its scales after what was changed on it, nothing put right."""

from collections import deque
from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.scales import OnScales, Weights, WheelInches, WheelPounds
from studbook_service.engine.car import FourWheelCar, percentages
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.loads import ChassisChange, on_scales
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.vectors import Array
from studbook_service.translate.car_change import CarChange
from studbook_service.translate.document import READ_MOST, Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.states import rounded
from studbook_service.translate.whole_car import WholeCar, said, scales, whole_car
from studbook_service.translate.words import CORNER


class Rescaled(NamedTuple):
    """A car put back on its scales after a change.

    Attributes:
        car: the engine's, as changed, with the loads before.
        causes: what moves a weight or a height, in words; `left_out` what might and could not be judged.
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
        since: what was, bars linked as raced among it, and what it does.
        since_heights: what was changed since the ride heights were read does.
    """

    whole: WholeCar
    read_lb: Array
    loads_lb: Array
    since: Rescaled
    since_heights: CarState


_READ: deque[tuple[Tree, Mapping[str, Tree], OnItsWheels | WholeCar]] = deque(maxlen=READ_MOST)
"""The cars read last: one answer about a change asks for both several times."""

_ORIGINS: deque[tuple[Tree, Mapping[str, Tree], WholeCar]] = deque(maxlen=READ_MOST)
"""Of the documents in which readings were entered: later revisions ask for the same."""


def on_its_wheels(tree: Tree, *, origins: Mapping[str, Tree]) -> OnItsWheels | WholeCar:
    """Read a car and what its scales would read now.

    Args:
        tree: the document.
        origins: where readings were entered; `scales` for those of the scales, `ride_height` for the heights. What the
            setup records since then comes on top.

    Returns:
        The car on its wheels; the car alone where scales, springs or tires are not known, which `missing` then says.

    Raises:
        FieldsUnfitError, CannotCloseError: the document cannot be read as a car.
    """
    found = next((car for kept, theirs, car in tuple(_READ) if kept is tree and theirs is origins), None)
    if found is None:
        found = _on_its_wheels(tree, origins)
        _READ.append((tree, origins, found))
    whole = found.whole if isinstance(found, OnItsWheels) else found
    page = Document(tree=tree, lacking=list(whole.page.lacking), assumed=list(whole.page.assumed))
    own = replace(whole, page=page, missing=list(whole.missing))
    return found._replace(whole=own) if isinstance(found, OnItsWheels) else own


def _on_its_wheels(tree: Tree, origins: Mapping[str, Tree]) -> OnItsWheels | WholeCar:
    whole = whole_car(tree, origins=origins)
    whole.page.lacking.clear()
    read = scales(whole.page)
    if read is None or not whole.ready():
        return whole
    scaled = origins.get("scales", tree)
    measured = origins.get("ride_height", scaled)

    def since(origin: Tree) -> Rescaled:
        old = whole if origin is tree else _original(origin, origins)
        return rescaled_by(old, whole, read, scaled=True)

    changed = since(scaled)
    heights = changed if measured is scaled else since(measured)
    return OnItsWheels(whole, read, changed.standing.loads_lb, changed, heights.standing)


def _original(tree: Tree, origins: Mapping[str, Tree]) -> WholeCar:
    for kept, theirs, car in tuple(_ORIGINS):
        if kept is tree and theirs.keys() == origins.keys() and all(theirs[name] is origins[name] for name in origins):
            return car
    found = whole_car(tree, origins=origins)
    _ORIGINS.append((tree, origins, found))
    return found


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
        FieldsMissingError: the new car's springs or tires are not known.
        CannotCloseError: the car has no rest on its scales.
    """
    found = CarChange(old, new, loads_lb, scaled=scaled)
    car, change = new.on_scales(loads_lb), found.change()
    standing = on_scales(car, change)
    if not standing.closed:
        raise CannotCloseError("the car does not come to rest on its scales after this change")
    return Rescaled(car, change, standing, found.causes, found.left_out)


def car_on_its_wheels(tree: Tree, *, origins: Mapping[str, Tree]) -> OnItsWheels:
    """Read a car as `on_its_wheels` does, for an answer that is nothing without its loads.

    Raises:
        FieldsMissingError: scales, springs or tires are not known.
    """
    found = on_its_wheels(tree, origins=origins)
    if isinstance(found, OnItsWheels):
        return found
    raise FieldsMissingError(unscaled(found))


def unscaled(whole: WholeCar) -> list[Missing]:
    """List what a car lacks that `on_its_wheels` gave alone."""
    lacking = whole.page.lacking
    return [*whole.missing, *([Missing(subject="weights", fields=lacking)] if lacking else [])]


def weights(loads_lb: Array) -> Weights:
    """Tell four loads as a crew reads them."""
    shares = percentages(loads_lb)
    return Weights(
        **{f"{name}_lb": rounded(load) for name, load in zip(WHEELS, loads_lb, strict=True)},
        **{name: rounded(value) for name, value in shares._asdict().items()},
    )


def wheel_pounds(force_lb: Array) -> WheelPounds:
    """Tell a force at each wheel."""
    return WheelPounds(**{f"{name}_lb": rounded(each) for name, each in zip(WHEELS, force_lb, strict=True)})


def wheel_inches(length_in: Array) -> WheelInches:
    """Tell a length at each corner."""
    return WheelInches(**{f"{name}_in": rounded(each) for name, each in zip(WHEELS, length_in, strict=True)})


def height_places(page: Document) -> Array | None:
    """Give x and y of the places where the ride heights are read, (2, 4), or None."""
    places = [page.get(f"survey.ride_height.{name}.at_in") for name in WHEELS]
    return None if None in places else np.array(places, float).T


def told(found: Rescaled, before_lb: Array, page: Document) -> OnScales:
    """Tell a car put back on its scales."""
    standing, places = found.standing, height_places(page)
    answer = OnScales(
        before=weights(before_lb),
        after=weights(standing.loads_lb),
        change=wheel_pounds(standing.change_lb),
        rise=wheel_inches(standing.rise_in),
        causes=found.causes,
        left_out=found.left_out,
        engaged=said(standing.names, standing.engaged),
        lifted=said([CORNER[name] for name in WHEELS], standing.lifted),
    )
    if places is not None:
        answer.ride_height = wheel_inches(standing.rise_at(x_in=places[0], y_in=places[1]))
    return answer
