"""What was aboard when the car was weighed: driver and fuel, by weight and place; and how two bases differ."""

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from studbook_service.translate.document import DocumentReader

SAME_LB: Final = 0.5

PLACES: Final[Mapping[str, str]] = {"driver": "setup.seat.position_in", "fuel": "setup.fuel_cell.position_in"}
"""Where each is on the car."""

Basis = Mapping[str, Any]


class Load(NamedTuple):
    """A weight that came (+) or went, of the `driver` or `fuel`; its x and y are None where they are not known."""

    what: str
    weight_lb: float
    at_in: tuple[float, float] | None


def load(reader: DocumentReader, what: str, weight_lb: float) -> Load:
    """Give a weight its place, as the setup has it."""
    place = reader.get(PLACES[what])
    return Load(what, weight_lb, None if place is None else (place[0], place[1]))


def driver_lb(basis: Basis) -> float | None:
    """Give the driver's weight aboard: 0 where nobody was, None where it is not known.

    Example:
        >>> driver_lb({"driver_aboard": True, "driver_weight_lb": 185}), driver_lb({"driver_aboard": False})
        (185, 0.0)
    """
    if basis.get("driver_aboard") is False:
        return 0.0
    return basis.get("driver_weight_lb")


def fuel_lb(basis: Basis) -> float | None:
    """Give the weight of the fuel aboard; None where it is not known: a gallon's weight differs by fuel.

    Example:
        >>> fuel_lb({"fuel_gal": 15, "fuel_lb_per_gal": 6.6}), fuel_lb({"fuel_gal": 15})
        (99.0, None)
    """
    if basis.get("fuel_lb") is not None:
        return float(basis["fuel_lb"])
    gallons, each = basis.get("fuel_gal"), basis.get("fuel_lb_per_gal")
    return 0.0 if gallons == 0 else None if gallons is None or each is None else round(gallons * each, 6)


def differing(reader: DocumentReader, then: Basis, now: Basis) -> tuple[list[Load], list[str]]:
    """Compare what was aboard at two readings: list what came or went, and what of it is not known."""
    loads, unknown = [], []
    for what, weight in (("driver", driver_lb), ("fuel", fuel_lb)):
        was, is_ = weight(then), weight(now)
        if was is None or is_ is None:
            if _of(what, then) != _of(what, now):
                unknown.append(what)
        elif abs(is_ - was) >= SAME_LB:
            loads.append(load(reader, what, is_ - was))
    return loads, unknown


def _of(what: str, basis: Basis) -> dict[str, Any]:
    return {name: value for name, value in basis.items() if name.startswith(what)}


def on_dirt(basis: Basis) -> bool:
    """Tell whether the pads were on dirt, by what was written of the floor.

    Example:
        >>> on_dirt({"floor": "pit dirt"}), on_dirt({})
        (True, False)
    """
    return "dirt" in str(basis.get("floor", "")).lower()
