"""Finding in the book of parts what a card needs: by its tag where the setup names it so, else by kind and size."""

from collections.abc import Iterator
from typing import Any, Final

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.leaves import at, steps
from studbook.wire.parts import PartPlace
from studbook.wire.shelf import PartState, Shelf
from studbook.wire.work import PartNeeded
from studbook_service.night.fit import SPARE, misfit, tag_of, unfit
from studbook_service.work.parts import Spot, Stock

SAME_IN: Final = 0.005
"""Sizes nearer than this are one size."""

SIZES: Final = {
    "stud": {"length_in": "stud.length_in"},
    "spring": {"rate_lb_per_in": "spring.rate_lb_per_in", "free_length_in": "spring.free_length_in"},
    "tire": {"compound": "tire.compound", "rollout_in": "tire.rollout_in"},
    "wheel": {"width_in": "wheel.width_in", "offset_in": "wheel.offset_in"},
}
"""By kind of part: fields of what is fitted, and of a part in the book, that must agree where both are recorded."""


def stock_of(shelf: Shelf, car: str) -> Stock:
    """Find parts for a car on a shelf; of several that would do, one in the trailer, else one on the shelf.

    A part that is on a car is found by its tag only. What is not fit to go on a car is passed over, and so is a stud
    that does not go into the seat.

    Example:
        >>> stock_of(Shelf(items=[]), "7")(PartNeeded(kind="stud", name="s-041"), {}, Spot("rf", "upper_stud")).tag
        UNSET
    """
    usable = [part for part in shelf.items if not unfit(part)]

    def complete(needed: PartNeeded, fitted: Tree, spot: Spot) -> PartNeeded:
        going = [part for part in usable if needed.kind != "stud" or not misfit(_tree(part), fitted)]
        named = [part for part in going if part.part == tag_of(needed.name)]
        alike = [part for part in going if part.document.kind == needed.kind and _fits(needed.kind, part, fitted)]
        lying = [part for where in SPARE for part in alike if any(place.where == where for place in part.places)]
        found = next(iter([*named, *lying]), None)
        return needed if found is None else _stocked(needed, found, fitted=_is_there(found, car, spot))

    return complete


def _is_there(part: PartState, car: str, spot: Spot) -> bool:
    """Say whether a part is known to be on the car at a place; without a slot, if a corner takes only one such part."""
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


def _stocked(needed: PartNeeded, part: PartState, *, fitted: bool) -> PartNeeded:
    names = [name for place in part.places if (name := " ".join(_place_words(place)))]
    return msgspec.structs.replace(
        needed,
        tag=part.part,
        where=", ".join(names) or UNSET,
        in_trailer=any(place.where == "trailer" for place in part.places) if part.places else UNSET,
        price_usd=part.document.price_usd,
        fitted=fitted,
    )


def _place_words(place: PartPlace) -> Iterator[str]:
    for value in (place.where, place.car, place.corner, place.slot):
        if isinstance(value, str):
            yield value.replace("_", " ")
