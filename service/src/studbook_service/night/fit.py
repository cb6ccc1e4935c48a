"""Whether a part is fit to go on a car, where it lies, and into which seats a stud goes.

Used by the list of studs at hand, the searches, the work card and the checks at entry. A part that left a corner which
saw contact is not fit before it was inspected, though the contact was recorded of another part there. A part whose
sides differ in what matters to putting it in is not fit either: taking the newest side would be a guess about a taper.
Notes, prices and preloads, which are set again, may differ.
"""

import re
from collections.abc import Collection, Sequence
from typing import Final

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import dotted, leaves
from studbook.wire.shelf import PartState
from studbook_service.night.facts import number, taper_deg

SAME_TAPER_DEG: Final = 0.2
"""Included angles further apart than this do not draw up. Common practice, no source."""

SAME_LARGE_END_IN: Final = 0.01
"""Large ends further apart than this are of another size: of 1.5 in per ft it draws in by 0.08 in. Common practice,
no source."""

SAME_BALL_IN: Final = 0.005
"""Balls further apart than this do not share a housing. Common practice, no source."""

SPARE: Final = ("trailer", "shelf")
"""Where a part lies that can be taken, the nearest first."""

ASIDE: Final = ("about", "price_usd", "bought", "supplier", "notes", "preload")
"""Fields of a part that do not matter to whether it is fit, and where it goes."""

TAPERS: Final = frozenset({("stud", "taper", "in_per_ft"), ("stud", "taper", "included_deg")})
"""Two forms of one figure."""

_UNFIT: Final = {
    "bent": "bent: scrap it, never straighten it",
    "inspect": "saw contact, and nobody has inspected it and signed",
    "loose": "has more play than its limit",
}


def unfit(state: PartState) -> str:
    """Say why a part may not go on a car; empty where nothing on record forbids it.

    A preload off its target is set, and no reason.

    Example:
        >>> from studbook.wire.parts import Part
        >>> unfit(PartState(part="s-041", document=Part(), places=[], scrapped=True))
        'scrapped'
    """
    if state.scrapped:
        return "scrapped"
    codes = {alert.code for alert in state.alerts}
    apart = (alert.detail.removeprefix(f"{state.part} is ") for alert in state.alerts if alert.code == "split")
    return next((why for code, why in _UNFIT.items() if code in codes), next(apart, ""))


def differing(sides: Sequence[Tree]) -> list[str]:
    """Name the figures in which the sides of a split part differ, as far as it matters to putting it in.

    Example:
        >>> differing([{"stud": {"length_in": 1.7}}, {"stud": {"length_in": 1.75}, "notes": "new"}])
        ['stud.length_in']
        >>> differing([{"stud": {"taper": {"in_per_ft": 1.5}}}, {"stud": {"taper": {"included_deg": 7.15}}}])
        []
    """
    known = [{path: value for path, value in leaves(side).items() if path[0] not in ASIDE} for side in sides]
    tapers = {None if taper is None else round(taper, 2) for taper in map(taper_deg, sides)}
    one_taper = len(tapers) == 1 and None not in tapers
    return [
        dotted(path)
        for path in sorted({path for side in known for path in side})
        if not all(same(side.get(path, UNSET), known[0].get(path, UNSET)) for side in known[1:])
        and not (one_taper and path in TAPERS)
    ]


def elsewhere(state: PartState, *, spare: Collection[str] = SPARE) -> str:
    """Say why a part is not there to be taken; empty where it lies in one of the places given.

    Example:
        >>> from studbook.wire.parts import Part, PartPlace
        >>> elsewhere(PartState(part="s-041", document=Part(), places=[PartPlace(where="shelf")]), spare=["trailer"])
        'on the shelf'
    """
    if not state.places:
        return "its place is not recorded"
    if all(place.where in spare for place in state.places):
        return ""
    where = [f"on car {place.car}" if place.car else f"on the {place.where or 'car'}" for place in state.places]
    return " and ".join(where)


def same_taper(one_deg: float, other_deg: float) -> bool:
    """Say whether two tapers draw up, by their included angles.

    Example:
        >>> same_taper(7.153, 7.15), same_taper(9.527, 7.15)
        (True, False)
    """
    return abs(one_deg - other_deg) <= SAME_TAPER_DEG


def misfit(stud: Tree, seat: Tree) -> str:
    """Say why a stud is known not to go in; empty where no recorded figure forbids it.

    Args:
        stud: its document.
        seat: the stud that is fitted there, of a setup document, with the seat's taper and large end.

    Example:
        >>> misfit({"stud": {"taper": {"in_per_ft": 2}}}, {"taper_included_deg": 7.15})
        'its taper of 9.527 deg does not go into one of 7.15 deg'
    """
    own, there = taper_deg(stud), number(seat, "taper_included_deg")
    if own is not None and there is not None and not same_taper(own, there):
        return f"its taper of {own:.4g} deg does not go into one of {there:.4g} deg"
    for what, leaf, path, most in (
        ("large end", "seat_diameter_in", ("stud", "taper", "large_end_in"), SAME_LARGE_END_IN),
        ("ball", "ball_diameter_in", ("stud", "ball_diameter_in"), SAME_BALL_IN),
    ):
        size, wanted = number(stud, *path), number(seat, leaf)
        if size is not None and wanted is not None and round(abs(size - wanted), 6) > most:
            return f"its {what} is {size:g} in, there it is {wanted:g} in"
    return ""


def tag_of(name: str) -> str:
    """Write the name that a setup gives a part as a tag.

    Example:
        >>> tag_of("S 041")
        's-041'
    """
    return re.sub(r"[^a-z0-9_]+", "-", name.lower()).strip("-")
