"""What can be put in at a front corner for a search: studs in stock, and every stack, slot or turn of its adjusters."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, prod
from typing import NamedTuple

import numpy as np

from studbook.wire.answers import Adjustment, Missing
from studbook.wire.searches import Inventory, Joint, SearchTerms, StudTaken
from studbook_service.engine.search import PartChoice
from studbook_service.engine.vectors import Array
from studbook_service.translate.adjusters import MOST_PIECES, Place
from studbook_service.translate.corner import moves, shim_sign
from studbook_service.translate.document import Document
from studbook_service.translate.errors import refuse_costly
from studbook_service.translate.front_end import FrontEnd
from studbook_service.translate.stud_stock import ARMS, SAME_IN, Lot, Put, in_stock, lots
from studbook_service.translate.words import CORNER

SLOT_STEP_IN = 1 / 16
"""A slot, or the height of an inner rod end, is tried in such steps (common practice, no source)."""

FLATS = 6
HALF_TURN = 0.5

POSES_MOST = 3_000_000
"""Combinations × travels; the engine solves some 600,000 a second, and no search has more than 10 s."""


class Studs(NamedTuple):
    """One way of having both studs; a length is None where the stud fitted is not recorded."""

    upper_in: float | None
    lower_in: float | None
    put: tuple[Put, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Kit:
    """Everything a search tries at one corner.

    Attributes:
        name: `lf` or `rf`.
        choices: the engine's; the first is of both studs, and option 0 of each is what is there now.
        studs: what the options of the first choice are.
        stock: what they are taken from.
        amounts: of the other choices: camber, caster, toe and bump steer amounts of each option, (4, options).
        out_of_stock: combinations that were left out for want of studs.
        flat_in: what a flat moves the rod; 0 where that is not recorded.
    """

    name: str
    front: FrontEnd
    choices: list[PartChoice]
    studs: list[Studs]
    stock: list[Lot]
    amounts: list[Array]
    out_of_stock: int
    flat_in: float

    def todo(
        self, options: Sequence[int], rod_in: float, taken: Sequence[StudTaken]
    ) -> tuple[list[str], list[Adjustment]]:
        """Say what the options of a combination are to do: in words, studs first, and as adjustments."""
        fitted = self.studs[0]
        told = [
            f"{CORNER[self.name]} {stud.joint} stud: {stud.length_in:.2f} in"
            f" instead of {getattr(fitted, f'{stud.joint}_in'):.2f} in"
            + (f": {stud.part}, {stud.where}" if stud.part else "")
            for stud in taken
        ]
        amounts = np.array([0.0, 0.0, rod_in, 0.0])
        for each, option in zip(self.amounts, options[1:], strict=True):
            amounts += each[:, option]
        adjustments = self.front.adjusters[self.name].told(amounts.tolist())
        return [*told, *(each.text for each in adjustments)], adjustments


def kit(front: FrontEnd, name: str, terms: SearchTerms, *, travels: int, inventory: Inventory | None = None) -> Kit:
    """Lay out what can be tried at a corner.

    Args:
        front: whose corner; assumptions are noted in its document.
        name: `lf` or `rf`.
        terms: studs in stock, how far adjusters may go, how many combinations are too many.
        travels: at how many each is looked at.
        inventory: the studs of the book, where they may be put in too.

    Raises:
        TooCostlyError: there are more combinations, or poses of them, than may be tried.
    """
    page = front.page
    stock = lots(terms.studs, inventory)
    studs, refused = _studs(page, name, stock)
    fitted = studs[0]
    choices = [
        PartChoice(
            moves=moves(
                upper_stud_in=[_longer(each.upper_in, fitted.upper_in) for each in studs],
                lower_stud_in=[_longer(each.lower_in, fitted.lower_in) for each in studs],
            ),
            changed=[len(each.put) for each in studs],
        )
    ]
    amounts = _amounts(front, name, terms)
    adjusters = front.adjusters[name]
    units = (adjusters.camber, adjusters.caster, adjusters.toe, adjusters.bump_steer)
    for each, parts in amounts:
        total = moves(tie_rod_in=np.zeros(each.shape[1]))
        for amount, unit in zip(each, units, strict=True):
            if amount.any():
                total = total + amount * unit
        choices.append(PartChoice(moves=total, changed=parts * np.any(each, axis=0)))
    counts = [choice.count for choice in choices]
    made_of = f"{counts[0]} of studs, {' x '.join(map(str, counts[1:]))} of adjusters"
    fewer = "list fewer studs" if inventory is None else "list the studs to try instead of all in the book"
    advice = f"{fewer}, or let shims and spacers move less ({CORNER[name]}: {made_of})"
    refuse_costly(prod(counts), most=terms.most_count, unit="combinations", advice=advice)
    refuse_costly(prod(counts) * travels, most=POSES_MOST, unit="poses", advice=f"{advice}, or give fewer travels")
    per_turn = page.get(f"setup.front.{name}.tie_rod.moves_per_turn_in")
    if per_turn is None:
        page.assume(f"{CORNER[name]}: the rod goes to any length; what a turn moves it is not recorded")
    return Kit(
        name=name,
        front=front,
        choices=choices,
        studs=studs,
        stock=stock,
        amounts=[each for each, _ in amounts],
        out_of_stock=refused * prod(counts[1:]),
        flat_in=per_turn / FLATS if per_turn else 0.0,
    )


def studs_missing(page: Document, name: str, *, from_book: bool) -> list[Missing]:
    """Say for which joints no other stud can be tried: the one fitted is not recorded, or what taper its seat has."""
    lacks = []
    for arm in ARMS:
        stud = f"setup.front.{name}.{arm}_stud"
        if page.get(f"{stud}.length_in") is None:
            lacks.append(Missing(subject=f"{CORNER[name]} {arm} stud, to be changed", fields=[f"{stud}.length_in"]))
        if from_book and page.get(f"{stud}.taper_included_deg") is None:
            fields = [f"{stud}.taper_included_deg"]
            lacks.append(Missing(subject=f"{CORNER[name]} {arm} stud, to be taken from the book", fields=fields))
    return lacks


def _studs(page: Document, name: str, stock: Sequence[Lot]) -> tuple[list[Studs], int]:
    """List the ways to have both studs, what is fitted first, and how many ways the stock does not allow."""
    ways: dict[Joint, list[float | None]] = {}
    for arm in ARMS:
        fitted = page.get(f"setup.front.{name}.{arm}_stud.length_in")
        others = {lot.length_in for lot in stock if f"{name}.{arm}" in lot.seats} if fitted is not None else set()
        ways[arm] = [fitted, *sorted(each for each in others if abs(each - fitted) > SAME_IN)]
    found = []
    for upper in ways["upper"]:
        for lower in ways["lower"]:
            lengths = zip(ARMS, (upper, lower), strict=True)
            put = tuple(Put(name, arm, each) for arm, each in lengths if each is not None and each != ways[arm][0])
            if in_stock(stock, put):
                found.append(Studs(upper, lower, put))
    return found, len(ways["upper"]) * len(ways["lower"]) - len(found)


def _longer(length: float | None, fitted: float | None) -> float:
    return 0.0 if length is None or fitted is None else length - fitted


def _amounts(front: FrontEnd, name: str, terms: SearchTerms) -> list[tuple[Array, int]]:
    """Give each adjuster's options as amounts of the four settings, (4, options), and how many parts one changes."""
    page, adjusters = front.page, front.adjusters[name]

    def steps(place: str, within: float) -> Array:
        return _steps(page, name, adjusters.places[place], within)

    def along(weights: tuple[float, float, float, float], amounts: Array) -> Array:
        return np.outer(weights, amounts)

    shims, spacers = terms.shims_within_in, terms.spacers_within_in
    if adjusters.shared:  # the front pivot an inch out is half an inch of both and an inch of difference
        pivots = [
            (along((0.5, 1.0, 0.0, 0.0), steps("front", shims)), 1),
            (along((0.5, -1.0, 0.0, 0.0), steps("rear", shims)), 1),
        ]
    else:
        place, parts = ("arm", 1) if adjusters.places["camber_front"].by == "upper_arm_thread" else ("camber_front", 2)
        pivots = [
            (along((1.0, 0.0, 0.0, 0.0), steps(place, shims)), parts),
            (along((0.0, 2.0, 0.0, 0.0), steps("front", shims)), 2),
        ]
    return [*pivots, (along((0.0, 0.0, 0.0, 1.0), steps("bump", spacers)), 1)]


def _steps(page: Document, name: str, place: Place, within_in: float) -> Array:
    """List how far a place can be moved each way, nothing first, then from little to much."""
    if place.by == "upper_arm_thread":
        per_turn = page.get(f"setup.front.{name}.upper_arm.moves_per_turn_in")
        step = SLOT_STEP_IN if per_turn is None else per_turn * HALF_TURN
        sizes = {round(step * count, 6) for count in range(1, int(within_in / step + SAME_IN) + 1)}
    elif place.sizes:
        sizes = _stacks(place.sizes, within_in)
    else:
        sizes = {SLOT_STEP_IN * count for count in range(1, int(within_in / SLOT_STEP_IN + SAME_IN) + 1)}
    removable = inf if place.now_in is None else place.now_in + SAME_IN
    both_ways = [0.0, *sizes, *(-size for size in sizes if size <= removable)]
    amounts = np.array(sorted(both_ways, key=lambda size: (abs(size), -size)))
    return amounts * shim_sign(page, name) if place.by == "upper_shims" else amounts


def _stacks(sizes: Sequence[float], most_in: float) -> set[float]:
    """List the thicknesses that up to five pieces make."""
    sums = {0.0}
    for _ in range(MOST_PIECES):
        sums |= {round(total + size, 6) for total in sums for size in sizes if total + size <= most_in + SAME_IN}
    return sums - {0.0}
