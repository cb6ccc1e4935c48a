"""Displacements of the tie rods' inner ends: by a rack, or a center link on a pitman and an idler arm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.vectors import Array, cross, dot, lift, numbers, root, unit


def rack(*, shift_in: npt.ArrayLike) -> Array:
    """Displacement of both inner ends by a rack, in, (3, *batch).

    Args:
        shift_in: + toward +y (left), (*batch).

    Source: definition.

    >>> rack(shift_in=1.5).tolist()
    [0.0, 1.5, 0.0]
    """
    shift = numbers(shift_in)
    return np.stack([np.zeros_like(shift), shift, np.zeros_like(shift)])


@dataclass(frozen=True, eq=False, kw_only=True)
class CenterLink:
    """A center link between a pitman and an idler arm, at straight ahead; points in inches, (3,).

    Attributes:
        pitman_pivot, idler_pivot: a point on each arm's axis.
        pitman_axis, idler_axis: direction of that axis.
        pitman_end, idler_end: joint of that arm and the link.
        left_inner, right_inner: inner ends of the tie rods, on the link.
    """

    pitman_pivot: npt.ArrayLike
    pitman_axis: npt.ArrayLike
    pitman_end: npt.ArrayLike
    idler_pivot: npt.ArrayLike
    idler_axis: npt.ArrayLike
    idler_end: npt.ArrayLike
    left_inner: npt.ArrayLike
    right_inner: npt.ArrayLike


class LinkShift(NamedTuple):
    """Displacements of the inner ends, in, (3, *batch), and whether the link closes there, (*batch)."""

    left: Array
    right: Array
    closed: Array


def center_link(link: CenterLink, *, shift_in: npt.ArrayLike) -> LinkShift:
    """Displacements of the inner ends of a center link.

    Each arm's end runs on its circle; the link keeps its length between the two; an inner end rides on the link, which
    does not roll about its own line. Closed form, on the branch of straight ahead.

    Args:
        link: the points.
        shift_in: +y displacement of the pitman arm's end, (*batch).

    Returns:
        The shifts; NaN and `closed` false where an arm cannot go that far.

    Source: rigid-body closure, derived here.

    >>> arms = CenterLink(pitman_pivot=(10, 8, 8), pitman_axis=(0, 0, 1), pitman_end=(5, 8, 8),
    ...     idler_pivot=(10, -8, 8), idler_axis=(0, 0, 1), idler_end=(5, -8, 8),
    ...     left_inner=(5, 10, 8), right_inner=(5, -10, 8))
    >>> center_link(arms, shift_in=3.0).left.round(9).tolist()
    [1.0, 3.0, 0.0]
    """
    shift = numbers(shift_in)
    start, finish = (lift(numbers(point), shift.ndim) for point in (link.pitman_end, link.idler_end))
    with np.errstate(all="ignore"):
        pitman = _swing(link.pitman_pivot, link.pitman_axis, start)
        near = _turn(pitman, pitman[1][1], pitman[2][1], pitman[1][1] + shift)
        idler = _swing(link.idler_pivot, link.idler_axis, finish)
        gap = idler[0] - near
        line = finish - start
        half = 0.5 * (dot(line, line) - dot(idler[1], idler[1]) - dot(gap, gap))
        surveyed = idler[0] - start
        branch = np.sign(dot(surveyed, idler[2]))
        far = _turn(idler, dot(gap, idler[1]), dot(gap, idler[2]), half, branch)
        old, new = unit(line), unit(far - near)
        arms = [lift(numbers(inner), shift.ndim) - start for inner in (link.left_inner, link.right_inner)]
        left, right = (near - start + _carry(arm, old, new) - arm for arm in arms)
        return LinkShift(left, right, np.isfinite(left[0]) & np.isfinite(right[0]))


def _swing(pivot: npt.ArrayLike, axis: npt.ArrayLike, end: Array) -> tuple[Array, Array, Array]:
    """Center, radius to `end`, and the radius a quarter turn on, of the circle an arm's end runs on."""
    rank = end.ndim - 1
    about, base = unit(lift(numbers(axis), rank)), lift(numbers(pivot), rank)
    arm = end - base
    radius = arm - dot(arm, about) * about
    return end - radius, radius, cross(about, radius)


def _turn(
    circle: tuple[Array, Array, Array], along: Array, beside: Array, wanted: Array, branch: Array | None = None
) -> Array:
    """The point of a circle where along · cos + beside · sin = wanted, on the branch of the survey."""
    square = along**2 + beside**2
    side = -np.sign(beside) if branch is None else -branch
    swing = side * root(square - wanted**2)
    cosine, sine = (along * wanted - beside * swing) / square, (beside * wanted + along * swing) / square
    point: Array = circle[0] + cosine * circle[1] + sine * circle[2]
    return point


def _carry(arm: Array, old: Array, new: Array) -> Array:
    """`arm` turned by the least rotation that takes direction `old` to `new`."""
    axis = cross(old, new)
    cosine = dot(old, new)
    carried: Array = cosine * arm + cross(axis, arm) + dot(axis, arm) / (1 + cosine) * axis
    return carried
