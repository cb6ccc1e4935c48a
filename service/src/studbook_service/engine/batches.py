"""Giving arrays one batch: leading axes that mean something, then the batch."""

import numpy as np

from studbook_service.engine.vectors import Array


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
    head, tail = value.shape[:lead], value.shape[lead:]
    return np.broadcast_to(value.reshape((*head, *(1,) * (len(batch) - len(tail)), *tail)), head + batch)
