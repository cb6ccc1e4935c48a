"""Arrays over a batch: axes that mean something (components, wheels, rods), then the batch, made of lanes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from studbook_service.engine.vectors import Array, lift

if TYPE_CHECKING:
    from collections.abc import Callable


def over_batch(value: Array, *, lead: int, batch: tuple[int, ...]) -> Array:
    """`value` of shape (*lead axes, *its batch) broadcast to (*lead axes, *batch), read only.

    Args:
        value: an array with `lead` axes before its batch.
        lead: how many.
        batch: what its batch broadcasts to.

    Raises:
        ValueError: it does not broadcast.

    >>> over_batch(np.zeros((4, 3)), lead=1, batch=(5, 3)).shape
    (4, 5, 3)
    """
    return np.broadcast_to(lift(value, len(batch), lead=lead), value.shape[:lead] + batch)


def lane_picker(shape: tuple[int, ...], index: tuple[Any, ...]) -> Callable[[Array, int], Array]:
    """A function that takes some lanes of a batch out of an array of so many leading axes, as one batch axis.

    Args:
        shape: of the batch that its arrays broadcast to.
        index: which lanes, as NumPy indexes that batch. An array that is alike in all lanes keeps one.

    >>> lane_picker((2, 3), (slice(0, 1),))(np.zeros((3, 2, 1)), 1).shape
    (3, 3)
    """

    def pick(array: Array, lead: int) -> Array:
        head = array.shape[:lead]
        if all(length == 1 for length in array.shape[lead:]):
            return array.reshape((*head, 1))
        return over_batch(array, lead=lead, batch=shape)[(slice(None),) * lead + index].reshape((*head, -1))

    return pick


def diagonal(first: Array, second: Array) -> Array:
    """The diagonal matrices of two numbers, (2, 2, *batch).

    >>> diagonal(np.array(1.0), np.array(2.0)).tolist()
    [[1.0, 0.0], [0.0, 2.0]]
    """
    first, second = np.broadcast_arrays(first, second)
    nothing = np.zeros_like(first)
    return np.stack([np.stack([first, nothing]), np.stack([nothing, second])])


def batch_first(matrix: Array) -> Array:
    """A matrix (rows, columns, *batch) as NumPy's linear algebra takes it, (*batch, rows, columns)."""
    return np.moveaxis(matrix, (0, 1), (-2, -1))


def solutions(matrix: Array, columns: Array, *, least_determinant: float = 0.0) -> Array:
    """The solutions of M x = c in every lane; NaN where M is singular.

    Args:
        matrix: (n, n, *batch).
        columns: (n, k, *batch).
        least_determinant: when some lane is exactly singular, those up to this are left out too.

    Returns:
        (n, k, *batch).

    >>> solutions(np.eye(2), np.array([[1.0], [2.0]])).tolist()
    [[1.0], [2.0]]
    """
    square, right = batch_first(matrix), batch_first(columns)
    try:
        found = np.linalg.solve(square, right)
    except np.linalg.LinAlgError:  # some lane is exactly singular: leave it out
        usable = (np.abs(np.linalg.det(square)) > least_determinant)[..., None, None]
        found = np.where(usable, np.linalg.solve(np.where(usable, square, np.eye(square.shape[-1])), right), np.nan)
    return np.moveaxis(found, (-2, -1), (0, 1))
