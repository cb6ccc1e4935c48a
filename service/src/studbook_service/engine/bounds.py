"""Arguments refused where they enter: each message names the argument, the bound and the unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from studbook_service.engine.vectors import Array, dot, lift, numbers

if TYPE_CHECKING:
    from collections.abc import Collection

COINCIDENT_IN = 1e-3
"""Points nearer than this are one."""


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


def shaped(name: str, array: Array, *lead: int) -> Array:
    """`array`, when its leading axes have the lengths `lead`; what follows is its batch.

    Raises:
        ValueError: naming the argument and its shape.

    >>> shaped("axis", np.zeros((2, 5)), 3)
    Traceback (most recent call last):
    ValueError: axis must have shape (3, *batch), not (2, 5)
    """
    if array.shape[: len(lead)] != lead:
        raise ValueError(f"{name} must have shape ({', '.join(map(str, lead))}, *batch), not {array.shape}")
    return array


def checked_point(name: str, value: npt.ArrayLike, *, single: bool = False) -> Array:
    """A point or displacement, in, (3, *batch), when it is finite.

    Args:
        name: of the argument, for the message.
        value: its coordinates.
        single: whether it must have no batch.

    Raises:
        ValueError: it is not.

    >>> checked_point("tie_inner", (0, 1, 2)).tolist()
    [0.0, 1.0, 2.0]
    """
    array = shaped(name, bounded(name, value, unit="in"), 3)
    if single and array.ndim != 1:
        raise ValueError(f"{name} must have shape (3,), not {array.shape}")
    return array


def check_apart(first_name: str, second_name: str, first: Array, second: Array) -> None:
    """Refuse two points, (3, *batch), within a thousandth of an inch of each other.

    Raises:
        ValueError: naming both.

    >>> check_apart("chassis", "moving", np.zeros(3), np.zeros((3, 2)))
    Traceback (most recent call last):
    ValueError: chassis and moving are in one place
    """
    rank = max(first.ndim, second.ndim) - 1
    gap = lift(first, rank) - lift(second, rank)
    if not np.all(dot(gap, gap) > COINCIDENT_IN**2):
        raise ValueError(f"{first_name} and {second_name} are in one place")


def one_of(name: str, value: str, allowed: Collection[str]) -> None:
    """Refuse a word that is none of those allowed.

    Raises:
        ValueError: naming the argument and the words.

    >>> one_of("arm", "middle", ("upper", "lower"))
    Traceback (most recent call last):
    ValueError: arm must be one of upper, lower, not 'middle'
    """
    if value not in allowed:
        raise ValueError(f"{name} must be one of {', '.join(allowed)}, not {value!r}")
