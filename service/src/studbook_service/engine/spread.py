"""How sure an answer is, with a stud's axis that was assumed and a tape that was read to a sixteenth."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from studbook_service.engine.bounds import one_of
from studbook_service.engine.vectors import Array, cross, lift, unit

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from studbook_service.engine.corner import FrontLinkage

    Outcomes = Callable[[FrontLinkage], Mapping[str, Array]]

DIRECTIONS = 8
POINTS = (
    "upper_front", "upper_rear", "upper_ball",
    "lower_front", "lower_rear", "lower_ball",
    "tie_inner", "tie_outer", "wheel_center",
)  # fmt: skip


class Range(NamedTuple):
    """The least and greatest value of an outcome, (*batch); NaN where none of the trials closes."""

    low: Array
    high: Array


class Largest(NamedTuple):
    """The largest change of an outcome, (*batch), and which coordinate makes it: index into `COORDINATES`."""

    change: Array
    coordinate: Array


COORDINATES = tuple(f"{point}.{axis}" for point in POINTS for axis in "xyz")


def lean_spread(
    corner: FrontLinkage, *, joint: Literal["upper", "lower"], outcomes: Outcomes, lean_deg: float = 5.0
) -> dict[str, Range]:
    """The range of some outcomes when a stud's axis leans any way from the one assumed.

    Args:
        corner: batch B, its moves made.
        joint: whose axis leans, "upper" or "lower".
        outcomes: named outcomes of a corner whose batch has one more leading axis, that of the trials: (trials, *B).
        lean_deg: by how much.

    Returns:
        The range of each outcome over eight directions of lean all round and the axis itself.

    Raises:
        ValueError: `joint` is neither.

    Source: geometry; that a boss may lean this much is common practice, no source.

    >>> from studbook_service.engine.changes import Moves, apply
    >>> from studbook_service.engine.examples import CORNER
    >>> from studbook_service.engine.linkage import solve_angle
    >>> from studbook_service.engine.wheel import wheel
    >>> def camber(corner):
    ...     return {"camber_deg": wheel(solve_angle(corner, angle_rad=0)).camber_deg}
    >>> found = lean_spread(apply(CORNER, Moves(upper_stud_in=0.5)), joint="upper", outcomes=camber)
    >>> [round(float(x), 2) for x in found["camber_deg"]]
    [-4.63, -4.21]
    """
    one_of("joint", joint, ("upper", "lower"))
    name = f"{joint}_stud_axis"
    axis = lift(getattr(corner, name), corner.rank)
    inboard = unit(cross(axis, np.broadcast_to(lift(np.array([1.0, 0.0, 0.0]), corner.rank), axis.shape)))
    ahead = cross(inboard, axis)
    round_ = np.arange(DIRECTIONS) * (2 * np.pi / DIRECTIONS)
    size = np.radians(lean_deg)
    leant = [axis] + [
        np.cos(size) * axis + np.sin(size) * (np.cos(angle) * ahead + np.sin(angle) * inboard) for angle in round_
    ]
    trial = corner.remade({f"{joint}_stud_in"}, **{name: np.stack(leant, axis=1)})
    found = outcomes(trial)
    return {key: Range(np.fmin.reduce(values, axis=0), np.fmax.reduce(values, axis=0)) for key, values in found.items()}


def survey_spread(corner: FrontLinkage, *, outcomes: Outcomes, error_in: float = 1 / 16) -> dict[str, Largest]:
    """The largest change of some outcomes when one surveyed coordinate is off, either way.

    Camber, toe and radius stay as read. A default stud axis stays as assumed.

    Args:
        corner: batch B, its moves made.
        outcomes: named outcomes of a corner whose batch has one more leading axis, that of the trials: (trials, *B).
        error_in: by how much a coordinate is off.

    Returns:
        For each outcome the largest change and the coordinate behind it; NaN where no trial closes.

    Source: that a tape reads to 1/16 in is common practice, no source.

    >>> from studbook_service.engine.examples import CORNER
    >>> from studbook_service.engine.linkage import solve_angle
    >>> from studbook_service.engine.wheel import wheel
    >>> def bump(corner):
    ...     return {"bump": wheel(solve_angle(corner, angle_rad=0)).bump_steer_deg_per_in}
    >>> found = survey_spread(CORNER, outcomes=bump)["bump"]
    >>> COORDINATES[int(found.coordinate)].split(".")[1]
    'z'
    """
    trials = 2 * len(COORDINATES) + 1
    offsets = np.zeros((len(POINTS), 3, trials))
    for number in range(len(COORDINATES)):
        point, axis = divmod(number, 3)
        offsets[point, axis, 1 + 2 * number : 3 + 2 * number] = error_in, -error_in
    tail = (1,) * corner.rank
    changed: dict[str, Any] = {
        point: lift(getattr(corner, point), corner.rank)[:, None] + offset.reshape((3, trials, *tail))
        for point, offset in zip(POINTS, offsets, strict=True)
    }
    found = outcomes(replace(corner, **changed))
    return {key: _largest(values) for key, values in found.items()}


def _largest(values: Array) -> Largest:
    change = values[1:] - values[0]
    size = np.where(np.isfinite(change), np.abs(change), -1.0)
    which = np.argmax(size, axis=0)
    largest = np.take_along_axis(change, which[None], axis=0)[0]
    return Largest(largest, which // 2)
