"""The studs that a search may put in, and a stud for each that is wanted: none is used twice."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final, Literal, NamedTuple

from msgspec import UNSET

from studbook.wire.searches import Inventory, Joint, StudAtHand, StudStock, StudTaken
from studbook.wire.units import Opt

SAME_IN: Final = 1e-6
ARMS: Final[tuple[Joint, Joint]] = ("upper", "lower")


class StudSwap(NamedTuple):
    """A stud that takes the place of another."""

    corner: str
    joint: Joint
    length_in: float


@dataclass(frozen=True, slots=True)
class Lot:
    """Studs that are equal to a search.

    Attributes:
        seats: where they go: corner, joint.
        parts: their tags; empty of those that were listed.
    """

    length_in: float
    seats: frozenset[str]
    count: int
    parts: Sequence[str] = ()
    where: Opt[Literal["trailer", "shelf"]] = UNSET

    def suits(self, wanted: StudSwap) -> bool:
        """Tell whether one of them is the stud that is wanted."""
        return f"{wanted.corner}.{wanted.joint}" in self.seats and abs(self.length_in - wanted.length_in) < SAME_IN


def lots(listed: Sequence[StudStock], inventory: Inventory | None) -> list[Lot]:
    """Join what is listed and what the book has; what is in the trailer by its tag comes first.

    Example:
        >>> [lot.count for lot in lots([StudStock(joint="either", length_in=1.7, count=2)], None)]
        [2]
    """
    joints = {"upper": ARMS[:1], "lower": ARMS[1:], "either": ARMS}
    typed = [
        Lot(
            each.length_in,
            frozenset(f"{corner}.{arm}" for corner in ("lf", "rf") for arm in joints[each.joint]),
            each.count,
        )
        for each in listed
    ]
    studs = sorted(inventory.studs if inventory else [], key=_alike)
    known = [_lot(list(alike)) for _, alike in groupby(studs, key=_alike)]
    near = [lot for lot in known if lot.where == "trailer"]
    return [*near, *typed, *(lot for lot in known if lot.where != "trailer")]


def in_stock(stock: Sequence[Lot], wanted: Sequence[StudSwap]) -> bool:
    """Tell whether there are studs for all that are wanted at once.

    Example:
        >>> one = lots([StudStock(joint="either", length_in=1.7)], None)
        >>> upper, lower = StudSwap("rf", "upper", 1.7), StudSwap("rf", "lower", 1.7)
        >>> in_stock(one, [upper]), in_stock(one, [upper, lower])
        (True, False)
    """
    return _places([lot.count for lot in stock], stock, wanted) is not None


def take(stock: Sequence[Lot], wanted: Sequence[StudSwap]) -> list[StudTaken]:
    """Give a stud for each that is wanted, no stud twice.

    Raises:
        LookupError: there are not enough.

    Example:
        >>> take(lots([StudStock(joint="either", length_in=1.7)], None), [StudSwap("rf", "upper", 1.7)])[0].joint
        'upper'
    """
    places = _places([lot.count for lot in stock], stock, wanted)
    if places is None:
        raise LookupError(f"not in stock at once: {wanted}")
    tags = [list(lot.parts) for lot in stock]
    return [
        StudTaken(
            joint=each.joint,
            length_in=each.length_in,
            part=tags[place].pop(0) if tags[place] else UNSET,
            where=stock[place].where,
        )
        for each, place in zip(wanted, places, strict=True)
    ]


def inventory_notes(inventory: Inventory | None) -> list[str]:
    """Note how many studs the book had for a search."""
    if inventory is None:
        return []
    return [f"Studs of the book: {len(inventory.studs)} can go in, {len(inventory.left_out)} are left out."]


def inventory_assumptions(inventory: Inventory | None) -> list[str]:
    """List what was assumed of the book's studs."""
    if inventory is None:
        return []
    assumptions = ["Studs that are listed beside those of the book are not the same studs"]
    alone = [stud.part for stud in inventory.studs if stud.by_angle_alone]
    if alone:
        assumptions.append(
            f"{', '.join(alone)}: taken to fit by the angle of the taper alone, since the large end of the stud or of"
            " the seat is not recorded"
        )
    return assumptions


def _alike(stud: StudAtHand) -> tuple[str, float, list[str]]:
    return stud.where, stud.length_in, [*stud.fits]


def _lot(alike: Sequence[StudAtHand]) -> Lot:
    first, tags = alike[0], [each.part for each in alike]
    return Lot(first.length_in, frozenset(first.fits), len(tags), tags, first.where)


def _places(left: Sequence[int], stock: Sequence[Lot], wanted: Sequence[StudSwap]) -> list[int] | None:
    """Give the lot that each stud comes from, None where there are not enough."""
    if not wanted:
        return []
    for place, lot in enumerate(stock):
        if left[place] and lot.suits(wanted[0]):
            rest = _places([count - (other == place) for other, count in enumerate(left)], stock, wanted[1:])
            if rest is not None:
                return [place, *rest]
    return None
