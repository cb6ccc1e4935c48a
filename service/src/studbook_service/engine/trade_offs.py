"""Which candidates no other beats, best first.

The caller rounds away differences too small for gauge and dial: without that nearly every stack of shims is a
trade-off.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from studbook_service.engine.vectors import Array, numbers

if TYPE_CHECKING:
    from collections.abc import Iterator

CHUNK = 1024


def ranked(cost: npt.ArrayLike, *, by: npt.ArrayLike | None = None) -> Array:
    """Indices of all candidates, best first: by one figure, and where that is equal by each cost in turn.

    Args:
        cost: less is better, (costs, candidates).
        by: what ranks, (candidates); it grows, or stays, with every cost. The first cost by default.

    >>> ranked([[2, 1, 1], [0, 5, 3]]).tolist()
    [2, 1, 0]
    """
    costs = numbers(cost)
    first = costs[0] if by is None else numbers(by)
    order: Array = np.lexsort([*costs[::-1], first])
    return order


def trade_offs(cost: npt.ArrayLike, *, most: int, by: npt.ArrayLike | None = None) -> list[int]:
    """Indices of the first candidates that no other beats, best first.

    One beats another that is at least as good in every cost and better in one (Pareto).

    Args:
        cost: less is better, (costs, candidates), rounded. Of equals only the first is given.
        most: how many at most; what is cheapest in some cost is given also beyond that.
        by: what ranks, as in `ranked`.

    Source: dominance as defined by Pareto (from memory). Whoever beats a candidate is ranked before it, so it is enough
    to hold each one against those found so far.

    >>> trade_offs([[0, 1, 2, 3], [3, 2, 2, 0]], most=9)
    [0, 1, 3]
    """
    costs, order = numbers(cost), ranked(cost, by=by)
    found: list[int] = []
    for each in _unbeaten(costs, order):
        found.append(each)
        if len(found) >= most:
            break
    extremes = {int(order[np.argmin(row[order])]) for row in costs} if order.size else set()
    place = np.empty_like(order)
    place[order] = np.arange(order.size)
    return [*found, *sorted(extremes - set(found), key=lambda each: int(place[each]))]


def _unbeaten(costs: Array, order: Array) -> Iterator[int]:
    front = np.empty((costs.shape[0], 0))
    for start in range(0, order.size, CHUNK):
        chunk = order[start : start + CHUNK]
        while (chunk := chunk[~_beaten(costs[:, chunk], front)]).size:
            front = np.concatenate([front, costs[:, chunk[:1]]], axis=1)
            yield int(chunk[0])


def _beaten(costs: Array, front: Array) -> Array:
    """Whether some of the front is as good in everything, (candidates)."""
    as_good = np.all(front[:, None, :] <= costs[:, :, None], axis=0)
    beaten: Array = np.any(as_good, axis=1)
    return beaten
