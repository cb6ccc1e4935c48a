"""Finding in the book of parts what a card needs: by its tag where the setup names it so, else by kind and size."""

from collections.abc import Iterator
from typing import Any, Final

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.leaves import at, steps
from studbook.wire.part_states import PartState, PartStates
from studbook.wire.parts import PartPlace
from studbook.wire.work import PartNeeded
from studbook_service.night.fit import SPARE, misfit, tag_of, unfit
from studbook_service.work.parts import Found, Spot, Stock

SAME_IN: Final = 0.005
"""Sizes nearer than this are one size."""

SIZES: Final = {
    "stud": {"length_in": "stud.length_in"},
    "spring": {"rate_lb_per_in": "spring.rate_lb_per_in", "free_length_in": "spring.free_length_in"},
    "tire": {"compound": "tire.compound", "rollout_in": "tire.rollout_in"},
    "wheel": {"width_in": "wheel.width_in", "offset_in": "wheel.offset_in"},
}
"""By kind of part: fields of what is fitted, and of a part in the book, that must agree where both are recorded."""


def stock_of(shelf: PartStates, car: str) -> Stock:
    """Look parts up on a shelf; of several that would do, one in the trailer, else one on the shelf.

    A part that is on a car is found by its tag only. What is not fit to go on a car is passed over, and so is a stud
    that does not go into the seat.

    Args:
        shelf: how the parts stand.
        car: the one that they are wanted for.

    Example:
        >>> stud = PartNeeded(kind="stud", name="s-041")
        >>> stock_of(PartStates(items=[]), "7")(stud, {}, Spot("rf", "upper_stud")) is None
        True
    """
    usable = [part for part in shelf.items if not unfit(part)]

    def find(needed: PartNeeded, fitted: Tree, spot: Spot) -> Found | None:
        going = [part for part in usable if needed.kind != "stud" or not misfit(_tree(part), fitted)]
        named = [part for part in going if part.part == tag_of(needed.name)]
        alike = [part for part in going if part.document.kind == needed.kind and _fits(needed.kind, part, fitted)]
        lying = [part for where in SPARE for part in alike if any(place.where == where for place in part.places)]
        found = next(iter([*named, *lying]), None)
        return None if found is None else _told(found, fitted=_is_there(found, car, spot))

    return find


def _is_there(part: PartState, car: str, spot: Spot) -> bool:
    """Say whether a part is known to be on the car at a place; where nobody said as what, if a corner takes one."""
    alone = not spot.slot.startswith(("upper_", "lower_"))
    return bool(part.places) and all(
        place.car == car and place.corner == spot.corner and (place.slot == spot.slot or (alone and not place.slot))
        for place in part.places
    )


def _fits(kind: str, part: PartState, fitted: Tree) -> bool:
    """Say whether a part has the sizes wanted: all that both know, and at least one."""
    document = _tree(part)
    pairs = [(fitted.get(leaf), at(document, steps(path))) for leaf, path in SIZES.get(kind, {}).items()]
    known = [(ours, theirs) for ours, theirs in pairs if ours is not None and theirs is not None]
    return bool(known) and all(_same(*pair) for pair in known)


def _tree(part: PartState) -> Tree:
    tree: Tree = msgspec.to_builtins(part.document)
    return tree


def _same(one: Any, other: Any) -> bool:
    numbers = isinstance(one, int | float) and isinstance(other, int | float)
    return abs(one - other) < SAME_IN if numbers else bool(one == other)


def _told(part: PartState, *, fitted: bool) -> Found:
    price = part.document.price_usd
    return Found(
        tag=part.part,
        where=", ".join(said for place in part.places if (said := " ".join(_words(place)))) or None,
        in_trailer=any(place.where == "trailer" for place in part.places) if part.places else None,
        price_usd=None if price is UNSET else price,
        fitted=fitted,
    )


def _words(place: PartPlace) -> Iterator[str]:
    for value in (place.where, place.car, place.corner, place.slot):
        if isinstance(value, str):
            yield value.replace("_", " ")
