"""A front corner as surveyed: double A-arm, tie rod, wheel and spring."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, Self

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import COINCIDENT_IN, bounded, check_apart, checked_point, one_of
from studbook_service.engine.changes import PIVOTS, Moves
from studbook_service.engine.mechanism import Mechanism, mechanism, remake
from studbook_service.engine.vectors import Array, dot, lift, unit

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence

BODIES = ("lower_arm", "upper_arm", "spindle")
"""What can carry the moving end of a spring or shock; `Mount.body` is an index into it."""

Body = Literal["lower_arm", "upper_arm", "spindle"]


@dataclass(frozen=True, eq=False)
class Mount:
    """The two ends of a spring or shock at the survey.

    Attributes:
        chassis: the end on the chassis, in, (3, *batch); NaN when there is no spring.
        moving: the end on the moving body, survey coordinates, in, (3, *batch).
        body: which body carries it, an index into `BODIES`, (*batch).
    """

    chassis: Array = field(default_factory=lambda: np.full(3, np.nan))
    moving: Array = field(default_factory=lambda: np.full(3, np.nan))
    body: Array = field(default_factory=lambda: np.zeros((), np.int64))


def mount(*, chassis: npt.ArrayLike, moving: npt.ArrayLike, body: Body) -> Mount:
    """A `Mount` from two points.

    Args:
        chassis: end on the chassis, in, (3, *batch).
        moving: end on the moving body at the survey, in, (3, *batch).
        body: one of `BODIES`.

    Raises:
        ValueError: the body has no such name, a point is not finite, or the ends coincide.

    >>> mount(chassis=(0, 17, 23), moving=(0, 22, 8), body="lower_arm").chassis.tolist()
    [0.0, 17.0, 23.0]
    """
    one_of("body", body, BODIES)
    ends = checked_point("chassis", chassis), checked_point("moving", moving)
    check_apart("chassis", "moving", *ends)
    return Mount(*ends, np.array(BODIES.index(body)))


@dataclass(frozen=True, eq=False, kw_only=True)
class FrontLinkage:
    """A corner: what was surveyed, and what has been moved since.

    Points are survey coordinates in inches, (3, *batch), x forward, y left, z up. The arms, the spindle and the tie rod
    are rigid; the chassis holds the five inner points and the spring's upper end. Made by `corner_from_survey`,
    where the other fields are described.

    Attributes:
        spin: outboard unit vector of the wheel's axis at the survey.
        upper_stud_axis, lower_stud_axis: unit vectors from seat to ball, in the spindle.
        upper_housing_axis, lower_housing_axis: unit vectors along which the balls move in their arms.
        outer_axis: unit vector of the bolt at the tie rod's outer end.
        moves: changes made since the survey.
    """

    side: Array
    upper_front: Array
    upper_rear: Array
    upper_ball: Array
    lower_front: Array
    lower_rear: Array
    lower_ball: Array
    tie_inner: Array
    tie_outer: Array
    wheel_center: Array
    spin: Array
    loaded_radius_in: Array
    upper_stud_axis: Array
    lower_stud_axis: Array
    upper_housing_axis: Array
    lower_housing_axis: Array
    outer_axis: Array
    spring: Mount = field(default_factory=Mount)
    moves: Moves = field(default_factory=Moves)

    @cached_property
    def mechanism(self) -> Mechanism:
        """The corner in the form the solver uses, built once."""
        return mechanism(self)

    @cached_property
    def rank(self) -> int:
        """How many batch axes the corner has, its moves included."""
        vectors = [getattr(self, name).ndim - 1 for name in VECTORS]
        moves = [getattr(self.moves, name).ndim - (name in PIVOTS) for name in self.moves.made]
        return int(max(*vectors, *moves, *(getattr(self, name).ndim for name in SCALARS)))

    @property
    def radius_in(self) -> Array:
        """The tire's loaded radius now, in, (*batch)."""
        return self.loaded_radius_in + self.moves.loaded_radius_in

    def remade(self, touched: Collection[str], **changed: Any) -> Self:
        """The corner with some fields changed that matter only through the moves named in `touched`.

        What those moves do not touch of the mechanism is kept, not built again.
        """
        other = replace(self, **changed)
        vars(other)["mechanism"] = remake(self.mechanism, other, touched)  # where the cached property looks
        return other

    def expand(self, axes: int) -> FrontLinkage:
        """The corner with `axes` length-1 batch axes appended, to be met by travels.

        >>> from studbook_service.engine.examples import CORNER
        >>> stack([CORNER, CORNER]).expand(1).upper_ball.shape
        (3, 2, 1)
        """
        return self.mapped(lambda array, _: array.reshape(array.shape + (1,) * axes))

    def mapped(self, change: Callable[[Array, int], Array]) -> FrontLinkage:
        """The corner with every array changed; the second argument is the array's number of component axes."""
        return _merged([self], lambda arrays, components: change(arrays[0], components))


SCALARS = ("side", "loaded_radius_in")
VECTORS = tuple(each.name for each in fields(FrontLinkage) if each.name not in {*SCALARS, "spring", "moves"})
"""Corner's (3, *batch) fields: nine surveyed points, then six directions."""


def corner_from_survey(
    *,
    side: npt.ArrayLike,
    upper_front: npt.ArrayLike,
    upper_rear: npt.ArrayLike,
    upper_ball: npt.ArrayLike,
    lower_front: npt.ArrayLike,
    lower_rear: npt.ArrayLike,
    lower_ball: npt.ArrayLike,
    tie_inner: npt.ArrayLike,
    tie_outer: npt.ArrayLike,
    wheel_center: npt.ArrayLike,
    camber_deg: npt.ArrayLike,
    toe_deg: npt.ArrayLike,
    loaded_radius_in: npt.ArrayLike,
    upper_stud_axis: npt.ArrayLike | None = None,
    lower_stud_axis: npt.ArrayLike | None = None,
    upper_ball_is: Literal["outside", "inside"] = "outside",
    lower_ball_is: Literal["outside", "inside"] = "outside",
    upper_housing_axis: npt.ArrayLike | None = None,
    lower_housing_axis: npt.ArrayLike | None = None,
    outer_axis: npt.ArrayLike = (0.0, 0.0, 1.0),
    spring: Mount | None = None,
) -> FrontLinkage:
    """A corner from the points and readings of a survey.

    Args:
        side: +1 left, −1 right, (*batch).
        upper_front: upper arm's front inner pivot, in, (3, *batch); x forward, y left, z up.
        upper_rear: its rear inner pivot.
        upper_ball: center of the upper ball.
        lower_front: lower arm's front inner pivot.
        lower_rear: its rear inner pivot.
        lower_ball: center of the lower ball.
        tie_inner: inner end of the tie rod.
        tie_outer: outer end of the tie rod.
        wheel_center: center of the wheel.
        camber_deg: angle of the wheel's plane from vertical, + top outboard.
        toe_deg: + front of the wheel toward the centerline.
        loaded_radius_in: from wheel center to ground in the wheel's plane.
        upper_stud_axis: measured direction from seat to ball, any length; by default the line lower_ball → upper_ball.
        lower_stud_axis: the same below; by default the line upper_ball → lower_ball.
        upper_ball_is: "outside" when the arm lies beyond the boss, "inside" when between the bosses; turns the default
            stud axis round, and is not used when the axis is given.
        lower_ball_is: the same below.
        upper_housing_axis: direction in which the ball moves in the arm; by default the stud's axis.
        lower_housing_axis: the same below.
        outer_axis: axis of the bolt at the tie rod's outer end.
        spring: the spring's mounts, or none.

    Returns:
        The corner, with no moves. Spin axis n = (sin δ cos γ, s cos δ cos γ, −sin γ), s the side, γ camber, δ toe.

    Raises:
        ValueError: naming the argument that is malformed: not (3, *batch), not finite, two points in one place, a ball
            on its arm's inner axis, a tie rod's outer end on the steer axis, a side other than ±1.

    Source: sense of the axes ISO 8855; spin axis from the definitions of camber and toe.

    >>> from studbook_service.engine.examples import CORNER
    >>> round(float(CORNER.spin[2]), 6)
    0.069756
    """
    points = {
        "upper_front": upper_front, "upper_rear": upper_rear, "upper_ball": upper_ball,
        "lower_front": lower_front, "lower_rear": lower_rear, "lower_ball": lower_ball,
        "tie_inner": tie_inner, "tie_outer": tie_outer, "wheel_center": wheel_center,
    }  # fmt: skip
    at: dict[str, Any] = {name: checked_point(name, value) for name, value in points.items()}
    for first, second in _RIGID:
        check_apart(first, second, at[first], at[second])
    for arm in ("upper", "lower"):
        _off_line(f"{arm}_ball", at[f"{arm}_ball"], at[f"{arm}_front"], at[f"{arm}_rear"])
    _off_line("tie_outer", at["tie_outer"], at["lower_ball"], at["upper_ball"])
    which = bounded("side", side, unit="")
    if not np.all(np.abs(which) == 1):
        raise ValueError("side must be +1 (left) or −1 (right)")
    radius = bounded("loaded_radius_in", loaded_radius_in, unit="in", above=0)
    camber = np.radians(bounded("camber_deg", camber_deg, unit="deg"))
    toe = np.radians(bounded("toe_deg", toe_deg, unit="deg"))
    spin = np.stack(
        np.broadcast_arrays(np.sin(toe) * np.cos(camber), which * np.cos(toe) * np.cos(camber), -np.sin(camber))
    )
    rank = max(at["lower_ball"].ndim, at["upper_ball"].ndim) - 1
    upward = unit(lift(at["upper_ball"], rank) - lift(at["lower_ball"], rank))
    upper_axis = _axis("upper_stud_axis", upper_stud_axis, _outward(upper_ball_is) * upward)
    lower_axis = _axis("lower_stud_axis", lower_stud_axis, -_outward(lower_ball_is) * upward)
    return FrontLinkage(
        side=which,
        **at,
        spin=spin,
        loaded_radius_in=radius,
        upper_stud_axis=upper_axis,
        lower_stud_axis=lower_axis,
        upper_housing_axis=_axis("upper_housing_axis", upper_housing_axis, upper_axis),
        lower_housing_axis=_axis("lower_housing_axis", lower_housing_axis, lower_axis),
        outer_axis=_axis("outer_axis", outer_axis, None),
        spring=spring or Mount(),
    )


def stack(corners: Sequence[FrontLinkage]) -> FrontLinkage:
    """Several corners as one, along a new first batch axis (left and right, or before and after).

    Args:
        corners: of one batch shape, or shapes that broadcast.

    >>> from studbook_service.engine.examples import CORNER
    >>> stack([CORNER, CORNER, CORNER]).side.shape
    (3,)
    """
    rank = max(corner.rank for corner in corners)

    def join(arrays: list[Array], components: int) -> Array:
        lifted = [lift(array, rank, lead=components) for array in arrays]
        alike = all(array.shape == lifted[0].shape for array in lifted)
        return np.stack(lifted if alike else np.broadcast_arrays(*lifted), axis=components)

    return _merged(corners, join)


def _merged(corners: Sequence[FrontLinkage], join: Callable[[list[Array], int], Array]) -> FrontLinkage:
    """One corner out of some, each array joined of theirs; the second argument is its number of component axes."""

    def each(components: Mapping[str, int], of: Sequence[object]) -> dict[str, Any]:
        return {name: join([getattr(one, name) for one in of], count) for name, count in components.items()}

    springs, moves = [corner.spring for corner in corners], [corner.moves for corner in corners]
    return replace(
        corners[0],
        **each(dict.fromkeys(VECTORS, 1) | dict.fromkeys(SCALARS, 0), corners),
        spring=Mount(**each({"chassis": 1, "moving": 1, "body": 0}, springs)),
        moves=Moves(**each({name: int(name in PIVOTS) for move in moves for name in move.made}, moves)),
    )


_RIGID = (
    ("upper_front", "upper_rear"),
    ("lower_front", "lower_rear"),
    ("upper_ball", "lower_ball"),
    ("tie_inner", "tie_outer"),
)


def _axis(name: str, value: npt.ArrayLike | None, default: Array | None) -> Array:
    if value is None and default is not None:
        return default
    array = checked_point(name, value if value is not None else (0.0, 0.0, 0.0))
    if not np.all(dot(array, array) > 0):
        raise ValueError(f"{name} must have a length")
    return unit(array)


def _outward(ball_is: str) -> float:
    one_of("ball_is", ball_is, ("outside", "inside"))
    return 1.0 if ball_is == "outside" else -1.0


def _off_line(name: str, point: Array, start: Array, end: Array) -> None:
    rank = max(point.ndim, start.ndim, end.ndim) - 1
    along = unit(lift(end, rank) - lift(start, rank))
    arm = lift(point, rank) - lift(start, rank)
    off = arm - dot(arm, along) * along
    if not np.all(dot(off, off) > COINCIDENT_IN**2):
        raise ValueError(f"{name} lies on the axis it should turn about")
