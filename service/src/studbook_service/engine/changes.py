"""What a crew can change at a front corner, as amounts added to the survey."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import one_of, shaped
from studbook_service.engine.vectors import Array, lift, numbers

if TYPE_CHECKING:
    from studbook_service.engine.corner import FrontLinkage

PIVOTS = ("upper_front_in", "upper_rear_in", "lower_front_in", "lower_rear_in", "tie_inner_in")
"""The moves that are displacements of a point on the chassis; every other move is one amount."""


NOWHERE, NOTHING = np.zeros(3), np.zeros(())
"""The defaults: a move that is one of these very arrays was not made."""
NOWHERE.flags.writeable = NOTHING.flags.writeable = False


@dataclass(frozen=True, eq=False, init=False)
class Moves:
    """Changes at a corner since its survey, all in inches; they add up, in any order.

    Attributes:
        upper_stud_in: extra length of the upper stud: the ball moves this far along `upper_stud_axis` *in the
            spindle*, away from its seat. Shape (*batch), as every amount here.
        lower_stud_in: the same at the lower ball, along `lower_stud_axis`.
        upper_housing_in: the ball moves this far along `upper_housing_axis` *in the arm* (another housing, a
            spacer under it).
        lower_housing_in: the same in the lower arm.
        upper_front_in, upper_rear_in, lower_front_in, lower_rear_in: displacement (3, *batch) of that pivot on the
            chassis, car axes; the arm's legs keep their lengths.
        tie_inner_in: displacement of the tie rod's inner end, with the rack or link it belongs to.
        upper_arm_in: a threaded upper arm becomes this much longer, from its pivot shaft to the ball's center: the
            ball moves straight away from the line of the two pivots.
        tie_rod_in: the tie rod becomes this much longer.
        outer_spacer_in: the rod's outer end moves this far along `outer_axis`, in the spindle.
        wheel_offset_in: the wheel center moves this far outboard along the spin axis (offset, spacer).
        loaded_radius_in: the tire's loaded radius becomes this much larger.

    Source: what moves in which body is common practice of the trade, no source.

    >>> (Moves(upper_stud_in=0.5) + 0.5 * Moves(upper_stud_in=1, tie_rod_in=0.1)).upper_stud_in.item()
    1.0
    """

    upper_stud_in: Array
    lower_stud_in: Array
    upper_housing_in: Array
    lower_housing_in: Array
    upper_front_in: Array
    upper_rear_in: Array
    lower_front_in: Array
    lower_rear_in: Array
    tie_inner_in: Array
    upper_arm_in: Array
    tie_rod_in: Array
    outer_spacer_in: Array
    wheel_offset_in: Array
    loaded_radius_in: Array

    __array_ufunc__ = None  # an array on the left of a product leaves it to us

    def __init__(
        self,
        *,
        upper_stud_in: npt.ArrayLike = NOTHING,
        lower_stud_in: npt.ArrayLike = NOTHING,
        upper_housing_in: npt.ArrayLike = NOTHING,
        lower_housing_in: npt.ArrayLike = NOTHING,
        upper_front_in: npt.ArrayLike = NOWHERE,
        upper_rear_in: npt.ArrayLike = NOWHERE,
        lower_front_in: npt.ArrayLike = NOWHERE,
        lower_rear_in: npt.ArrayLike = NOWHERE,
        tie_inner_in: npt.ArrayLike = NOWHERE,
        upper_arm_in: npt.ArrayLike = NOTHING,
        tie_rod_in: npt.ArrayLike = NOTHING,
        outer_spacer_in: npt.ArrayLike = NOTHING,
        wheel_offset_in: npt.ArrayLike = NOTHING,
        loaded_radius_in: npt.ArrayLike = NOTHING,
    ) -> None:
        amounts = {name: numbers(value) for name, value in locals().items() if name != "self"}
        for name in PIVOTS:
            shaped(name, amounts[name], 3)
        vars(self).update(amounts)

    def __add__(self, other: Moves) -> Moves:
        total = {name: getattr(self, name) for name in self.made}
        for name in other.made:
            amount = getattr(other, name)
            if name in total:
                mine, theirs = total[name], amount
                if name in PIVOTS:
                    rank = max(mine.ndim, theirs.ndim) - 1
                    mine, theirs = lift(mine, rank), lift(theirs, rank)
                amount = mine + theirs
            total[name] = amount
        return Moves(**total)

    def __rmul__(self, amount: npt.ArrayLike) -> Moves:
        scale = numbers(amount)
        return Moves(
            **{
                name: scale * (lift(getattr(self, name), scale.ndim) if name in PIVOTS else getattr(self, name))
                for name in self.made
            }
        )

    @cached_property
    def made(self) -> tuple[str, ...]:
        """The moves that were made at all, by name."""
        return tuple(name for name in MOVES if getattr(self, name) is not (NOWHERE if name in PIVOTS else NOTHING))


MOVES = tuple(each.name for each in fields(Moves))


def shims(
    *, side: npt.ArrayLike, front_in: npt.ArrayLike = 0.0, rear_in: npt.ArrayLike = 0.0, arm: str = "upper"
) -> Moves:
    """Moves of an arm's two inner pivots straight outboard.

    Args:
        side: +1 left, −1 right.
        front_in: how far the front pivot moves, + outboard; shape (*batch).
        rear_in: the same for the rear pivot.
        arm: "upper" or "lower".

    Raises:
        ValueError: `arm` is neither.

    >>> shims(side=-1, front_in=0.125).upper_front_in.tolist()
    [0.0, -0.125, 0.0]
    """
    one_of("arm", arm, ("upper", "lower"))
    outboard = numbers(side)

    def displacement(amount: npt.ArrayLike) -> Array:
        y = outboard * numbers(amount)
        return np.stack([np.zeros_like(y), y, np.zeros_like(y)])

    return Moves(**{f"{arm}_front_in": displacement(front_in), f"{arm}_rear_in": displacement(rear_in)})


def apply(corner: FrontLinkage, moves: Moves) -> FrontLinkage:
    """`corner` with `moves` made besides those it already has; it closes again when it is next solved.

    Args:
        corner: any batch.
        moves: a batch that broadcasts against the corner's.

    >>> from studbook_service.engine.examples import CORNER
    >>> apply(apply(CORNER, Moves(upper_stud_in=0.5)), Moves(upper_stud_in=-0.5)).moves.upper_stud_in.item()
    0.0
    """
    return corner.remade(moves.made, moves=corner.moves + moves)
