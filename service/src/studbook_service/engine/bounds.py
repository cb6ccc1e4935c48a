"""Refusing nonsense at the door: a number with its bound and unit in the message."""

import numpy as np
import numpy.typing as npt

from studbook_service.engine.vectors import Array, numbers


def bounded(
    name: str,
    value: npt.ArrayLike,
    *,
    unit: str,
    above: float = -np.inf,
    least: float = -np.inf,
    most: float = np.inf,
    holes: bool = False,
) -> Array:
    """`value` as an array, when all of it is finite and within its bounds.

    Args:
        name: of the argument, for the message.
        value: any shape.
        unit: for the message.
        above: every number must be above this.
        least: every number must be at least this.
        most: and at most this.
        holes: whether NaN passes, as in answers of a batch where a linkage did not close.

    Raises:
        ValueError: naming the argument, the first offending value, the bound and the unit.

    >>> bounded("rate_lb_per_in", -200, unit="lb per in", above=0)
    Traceback (most recent call last):
    ValueError: rate_lb_per_in is -200 lb per in; it must be above 0 lb per in
    """
    array = numbers(value)
    if array.size:
        lowest, highest = array.min(), array.max()  # NaN passes no comparison
        if above < lowest and least <= lowest and highest <= most and highest < np.inf:
            return array
    hole = np.isnan(array) & holes
    for passes, words in (
        (np.isfinite(array), "it must be finite"),
        (array > above, f"it must be above {above:g} {unit}"),
        (array >= least, f"it must be at least {least:g} {unit}"),
        (array <= most, f"it must be at most {most:g} {unit}"),
    ):
        refused = ~(passes | hole)
        if np.any(refused):
            first = array[refused].flat[0]
            raise ValueError(f"{name} is {first:g} {unit}; {words}")
    return array
