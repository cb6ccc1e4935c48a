"""The studs of the book that a search may put in: fit to go on, there to be taken, and of the taper that the seat has.

A wrong taper holds by its rim and breaks, so a stud goes only where its own taper and the seat's are recorded and are
one. A large end that is not recorded rules nothing out, but the stud is named in the assumptions. A stud that the setup
has in a seat is no spare, wherever its records put it.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Final, Literal

import msgspec

from studbook.history.canonical import Tree
from studbook.wire.searches import Inventory, Seat, StudAtHand, StudLeftOut
from studbook.wire.shelf import Shelf
from studbook_service.night.facts import group, number, taper_deg, text
from studbook_service.night.fit import SPARE, elsewhere, misfit, tag_of, unfit

SEATS: Final[Sequence[Seat]] = ("lf.upper", "lf.lower", "rf.upper", "rf.lower")
Where = Literal["trailer", "shelf"]


def stud_inventory(
    shelf: Shelf, setup: Tree, *, taken_from: Literal["trailer", "anywhere"], corners: Sequence[str]
) -> Inventory:
    """Divide the studs of the book into those that go into a car's seats, and those left out, with the reason.

    Args:
        shelf: how the parts stand.
        setup: the car's document; the studs fitted give the seats.
        taken_from: the trailer alone, or the shelf too.
        corners: `lf`, `rf`: whose seats matter.

    Example:
        >>> from studbook.wire.parts import Part
        >>> from studbook.wire.shelf import PartState
        >>> bare = Shelf(items=[PartState(part="s-041", document=Part(kind="stud"), places=[])])
        >>> stud_inventory(bare, {}, taken_from="anywhere", corners=["rf"]).left_out[0].why
        'its place is not recorded'
    """
    seats = {seat: _fitted(setup, seat) for seat in SEATS if seat[:2] in corners}
    aboard = {tag_of(text(_fitted(setup, seat), "part")): f"the setup has it in: {_seat_name(seat)}" for seat in SEATS}
    spare = SPARE if taken_from == "anywhere" else (taken_from,)
    found = Inventory(taken_from=taken_from, studs=[], left_out=[])
    for state in shelf.items:
        if state.document.kind != "stud" or state.scrapped:
            continue
        stud: Tree = msgspec.to_builtins(state.document)
        length, against = number(stud, "stud", "length_in"), {seat: _against(stud, seats[seat]) for seat in seats}
        fits = [seat for seat, why in against.items() if not why]
        why = unfit(state) or elsewhere(state, spare=spare) or aboard.get(state.part) or _lacking(stud)
        if why or length is None or not fits:
            found.left_out.append(StudLeftOut(part=state.part, why=why or _reasons(against)))
        else:
            where: Where = "trailer" if state.places[0].where == "trailer" else "shelf"
            alone = [seat for seat in fits if _large_end_unknown(stud, seats[seat])]
            taken = StudAtHand(part=state.part, length_in=length, where=where, fits=fits, by_angle_alone=alone)
            found.studs.append(taken)
    read = [state for state in shelf.items if state.document.kind == "stud"]
    # A split that matters to fitting has an alert, and its stud is left out with that reason.
    lines = {f"part/{each.part}" for each in read if not any(alert.code == "split" for alert in each.alerts)}
    found.splits = [each for each in shelf.splits if each.line in lines]
    return found


def _fitted(setup: Tree, seat: Seat) -> Tree:
    corner, _, joint = seat.partition(".")
    return group(setup, "setup", "front", corner, f"{joint}_stud")


def _lacking(stud: Tree) -> str:
    if number(stud, "stud", "length_in") is None:
        return "its length is not recorded"
    return "its taper is not recorded" if taper_deg(stud) is None else ""


def _against(stud: Tree, fitted: Tree) -> str:
    known = number(fitted, "taper_included_deg") is not None
    return misfit(stud, fitted) if known else "the taper of the seat is not recorded"


def _large_end_unknown(stud: Tree, fitted: Tree) -> bool:
    return None in (number(stud, "stud", "taper", "large_end_in"), number(fitted, "seat_diameter_in"))


def _reasons(against: dict[Seat, str]) -> str:
    """Write the reason against each seat, equal ones together."""
    reasons = defaultdict(list)
    for seat, why in against.items():
        reasons[why].append(_seat_name(seat))
    return "; ".join(f"{' and '.join(seats)}: {why}" for why, seats in reasons.items())


def _seat_name(seat: Seat) -> str:
    return f"{seat[:2].upper()}{seat[2:].replace('.', ' ')}"
