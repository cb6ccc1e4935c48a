"""The search of a corner's parts: every combination put in, toe restored by the rod, closed and judged.

Blocks of combinations are solved together, and of each only its figures are kept: memory is bounded by
`BYTES_PER_CANDIDATE` for every combination that fits, twice that at the end, and the temporaries of a `BLOCK`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf, prod
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.centers import n_line_height, roll_center
from studbook_service.engine.changes import PIVOTS, Moves, apply
from studbook_service.engine.linkage import Pose, solve_travel
from studbook_service.engine.vectors import Array, numbers, unit
from studbook_service.engine.wheel import WheelAlignment, toe_per_rack, wheel

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from studbook_service.engine.corner import FrontLinkage

BLOCK = 2048
BYTES_PER_CANDIDATE = 56
"""Kept of a combination that fits, eight each: its number, the rod, parts changed, four figures at most."""

TOE_STEPS = 8
TOE_NEAR_DEG = 1e-9
READINGS = ("caster_deg", "bump_steer_deg_per_in", "height_in")
"""What a window may be set for; `height_in` is of the roll center, or of the n-line at y = 0 without another wheel."""

CANNOT_CLOSE = "cannot_close"


@dataclass(frozen=True, eq=False, kw_only=True)
class PartChoice:
    """A place at the corner and what could go there, what is there now first.

    Attributes:
        moves: of each option against now; batch (options,).
        changed: parts that each option changes, (options,).

    >>> PartChoice(moves=Moves(upper_stud_in=[0, 0.5]), changed=[0, 1]).count
    2
    """

    moves: Moves
    changed: npt.ArrayLike

    @property
    def count(self) -> int:
        """How many options there are."""
        return int(numbers(self.changed).size)


class Window(NamedTuple):
    """What a reading may be, and what it should be best; None where any value within is as good."""

    low: float = -inf
    high: float = inf
    aim: float | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class Goal:
    """What a corner shall read.

    Attributes:
        travel_in: wheel travels from rest, (travels,).
        camber_deg: the camber aimed at there, (travels,).
        toe_deg: what the rod sets toe to, at rest.
        windows: for some of `READINGS`, at rest.
    """

    travel_in: npt.ArrayLike
    camber_deg: npt.ArrayLike
    toe_deg: float
    windows: Mapping[str, Window] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, kw_only=True)
class SearchResult:
    """Every combination that fits.

    Attributes:
        total: combinations there are; `tried` of them were looked at.
        excluded: how many each constraint excluded, each counted once; `cannot_close`: at rest or over the travels.
        index: the combinations that fit, (n,); combination 0 is what is there now.
        rod_in: how much longer the rod becomes, (n,).
        changed: parts changed, the rod among them, (n,).
        off: by name, how far each is from its aim, (n,): `camber_deg` (root mean square over the travels) first.
        corner, choices: what was searched.
    """

    total: int
    tried: int
    excluded: dict[str, int]
    index: Array
    rod_in: Array
    changed: Array
    off: dict[str, Array]
    corner: FrontLinkage
    choices: Sequence[PartChoice]

    def options(self, places: Sequence[int]) -> Array:
        """Which option of each choice these are; places count among those that fit; (choices, places)."""
        return _options(self.choices, self.index[list(places)])

    def designs(self, places: Sequence[int]) -> FrontLinkage:
        """These of those that fit, as a corner with one batch axis."""
        rows = list(places)
        return _design(self.corner, self.choices, self.index[rows], self.rod_in[rows])


def search(
    corner: FrontLinkage,
    *,
    choices: Sequence[PartChoice],
    goal: Goal,
    rest_in: float = 0.0,
    other: WheelAlignment | None = None,
    rod_step_in: float = 0.0,
    enough: Callable[[], bool] = lambda: False,
) -> SearchResult:
    """Try every combination of parts at a corner.

    Args:
        corner: as it is now, no batch.
        choices: the places; their options combine freely.
        goal: what it shall read.
        rest_in: the wheel's travel at rest, from its surveyed height; the perch is turned until it is there.
        other: the other front wheel at rest; with it `height_in` is the roll center's.
        rod_step_in: the rod goes in such steps, as of one flat; 0: to any length.
        enough: called before each block; once it is true, the rest is not tried.

    Returns:
        What fits and what was excluded. A combination without a roll center is outside its window.

    Raises:
        ValueError: travels and cambers differ in number, a window for what is no reading, or no choice has an option.

    Source: exhaustive enumeration; geometry as in `linkage` and `wheel`; the rod by Newton's method.

    >>> from studbook_service.engine.examples import CORNER
    >>> studs = PartChoice(moves=Moves(upper_stud_in=[0, 0.5, 1.0]), changed=[0, 1, 1])
    >>> goal = Goal(travel_in=[0, 2], camber_deg=[-4.4, -7.7], toe_deg=-0.12)
    >>> found = search(CORNER, choices=[studs], goal=goal)
    >>> found.tried, found.off["camber_deg"].round(2).tolist()
    (3, [0.53, 0.04, 0.64])
    """
    travels, aims = numbers(goal.travel_in), numbers(goal.camber_deg)
    if travels.ndim != 1 or travels.shape != aims.shape or not travels.size:
        raise ValueError(f"travel_in and camber_deg must be one column each, not {travels.shape} and {aims.shape}")
    if set(goal.windows) - set(READINGS):
        raise ValueError(f"windows are for {', '.join(READINGS)}, not {', '.join(goal.windows)}")
    total = prod(choice.count for choice in choices)
    if not total:
        raise ValueError("every choice must have an option")
    excluded = dict.fromkeys((CANNOT_CLOSE, *goal.windows), 0)
    kept: list[Array] = []
    tried = 0
    names = ["camber_deg", *(name for name, window in goal.windows.items() if window.aim is not None)]
    with np.errstate(all="ignore"):
        for index in _blocks(total):
            if enough():
                break
            tried += index.size
            kept.append(_judged(corner, choices, index, goal, rest_in, other, rod_step_in, excluded))
    number, rod, changed, *off = np.concatenate(kept, axis=1) if kept else np.empty((3 + len(names), 0))
    return SearchResult(
        total=total,
        tried=tried,
        excluded=excluded,
        index=number.astype(np.int64),
        rod_in=rod,
        changed=changed,
        off=dict(zip(names, off, strict=True)),
        corner=corner,
        choices=choices,
    )


def rod_to_toe(
    corner: FrontLinkage, *, toe_deg: npt.ArrayLike, travel_in: npt.ArrayLike = 0.0, step_in: float = 0.0
) -> Array:
    """How much longer the tie rod must be for a toe, the wheel's height held, in, (*B); NaN where nothing closes.

    Args:
        corner: batch B.
        toe_deg: wanted, + toe-in.
        travel_in: of the wheel, from its surveyed height.
        step_in: to the nearest of such steps, as of one flat; 0: exactly.

    Source: Newton's method with `toe_per_rack` along the rod: a longer rod moves its outer end as an inner end does
    that moves along the rod.

    >>> from studbook_service.engine.examples import CORNER
    >>> round(float(rod_to_toe(CORNER, toe_deg=0.0)), 4)
    -0.0122
    """
    with np.errstate(all="ignore"):
        rod: Array = np.zeros(np.broadcast_shapes(corner.mechanism.tie_closing.shape, numbers(toe_deg).shape))
        for _ in range(TOE_STEPS):
            pose = _pose_at(apply(corner, Moves(tie_rod_in=rod)), travel_in)
            off = toe_deg - _toe(pose)
            if np.fmax.reduce(np.abs(off), axis=None, initial=0.0) < TOE_NEAR_DEG:
                break
            rod = rod + off / toe_per_rack(pose, direction=unit(pose.tie_outer - pose.tie_inner))
        return np.round(rod / step_in) * step_in if step_in else rod


def _blocks(total: int) -> Iterator[Array]:
    for start in range(0, total, BLOCK):
        yield np.arange(start, min(start + BLOCK, total))


def _judged(
    corner: FrontLinkage,
    choices: Sequence[PartChoice],
    index: Array,
    goal: Goal,
    rest_in: float,
    other: WheelAlignment | None,
    rod_step_in: float,
    excluded: dict[str, int],
) -> Array:
    """Judge a block of combinations.

    Returns:
        Number, rod, parts changed and what is off, of those that fit, (columns, n). The others are counted where they
        fail first: at rest, at a window, over the travels.
    """
    rod = rod_to_toe(_design(corner, choices, index), toe_deg=goal.toe_deg, travel_in=rest_in, step_in=rod_step_in)
    pose = _pose_at(_design(corner, choices, index, rod), rest_in)
    at = wheel(pose)
    height = n_line_height(at) if other is None else roll_center(left=other, right=at).height_in
    readings = {"caster_deg": at.caster_deg, "bump_steer_deg_per_in": at.bump_steer_deg_per_in, "height_in": height}
    fits = pose.closed.copy()
    excluded[CANNOT_CLOSE] += int((~fits).sum())
    for name, (low, high, _) in goal.windows.items():
        within = (readings[name] >= low) & (readings[name] <= high)
        excluded[name] += int((fits & ~within).sum())
        fits &= within
    sweep = solve_travel(
        _design(corner, choices, index[fits], rod[fits]).expand(1),
        travel_in=rest_in + numbers(goal.travel_in),
        diagnose=False,
    )
    whole = sweep.closed.all(axis=1)
    excluded[CANNOT_CLOSE] += int((~whole).sum())
    fits[fits] = whole
    camber = -np.degrees(np.arcsin(sweep.spin[2][whole]))
    index, rod = index[fits], rod[fits]
    parts = sum(numbers(choice.changed)[row] for choice, row in zip(choices, _options(choices, index), strict=True))
    columns = [index, rod, parts + (np.abs(rod) > TOE_NEAR_DEG)]
    columns.append(np.sqrt(np.mean((camber - numbers(goal.camber_deg)) ** 2, axis=1)))
    columns += [np.abs(readings[name][fits] - each.aim) for name, each in goal.windows.items() if each.aim is not None]
    return np.stack(columns)


def _pose_at(corner: FrontLinkage, travel_in: npt.ArrayLike) -> Pose:
    return solve_travel(corner, travel_in=travel_in, diagnose=False)


def _toe(pose: Pose) -> Array:
    toe: Array = np.degrees(np.arctan2(pose.spin[0], pose.corner.side * pose.spin[1]))
    return toe


def _options(choices: Sequence[PartChoice], index: Array) -> Array:
    """Split combinations into the option of each choice; the first choice changes slowest."""
    return np.stack(np.unravel_index(index, [choice.count for choice in choices]))


def _design(
    corner: FrontLinkage, choices: Sequence[PartChoice], index: Array, rod_in: npt.ArrayLike = 0.0
) -> FrontLinkage:
    """The corner with combinations put in, one batch axis."""
    moves = Moves(tie_rod_in=rod_in)
    for choice, row in zip(choices, _options(choices, index), strict=True):
        chosen = {name: _chosen(getattr(choice.moves, name), row, pivot=name in PIVOTS) for name in choice.moves.made}
        moves = moves + Moves(**chosen)
    return apply(corner, moves)


def _chosen(amounts: Array, row: Array, *, pivot: bool) -> Array:
    return amounts if amounts.ndim == pivot else amounts[..., row]
