"""Which parts at one front corner come closest to a camber curve, as an answer."""

from collections.abc import Mapping

import msgspec
import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.searches import Candidate, CornerOutcome, Counts, Inventory, StudSearch, StudSearchAnswer
from studbook_service.engine import VERSION
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.search import Goal, Window, search
from studbook_service.engine.wheel import WheelAlignment, wheel
from studbook_service.translate import cautions
from studbook_service.translate.errors import FieldsMissingError
from studbook_service.translate.front_end import FrontEnd, front_end, refuse_open
from studbook_service.translate.kit import kit, studs_missing
from studbook_service.translate.outcomes import (
    HEIGHT_KEPT,
    as_it_is,
    best,
    costs,
    counts,
    outcomes,
    plans,
    roll_centers,
    told,
    until,
)
from studbook_service.translate.stud_stock import assumed_of_book, told_of_book
from studbook_service.translate.words import CORNER, signed

OTHER = {"lf": "rf", "rf": "lf"}


def stud_search_answer(
    tree: Tree, *, origins: Mapping[str, Tree], wanted: StudSearch, inventory: Inventory | None = None
) -> StudSearchAnswer:
    """Try every combination of parts at one corner.

    Args:
        tree: the setup document.
        origins: for each corner with an alignment reading, the document it was entered in.
        wanted: the target, the limits and the parts at hand.
        inventory: the studs of the book, where they may be put in too.

    Returns:
        The answer; `revision` is the caller's to fill.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: nothing can be computed, and why.
        TooCostlyError: there are more combinations, or poses of them, than may be tried.
    """
    enough = until(wanted.time_s)
    front = front_end(tree, origins=origins)
    name = wanted.corner
    if name not in front.names:
        raise FieldsMissingError(front.missing)
    other = _other(front, name)
    alone = front.only((name,))
    stood = alone.pose()
    refuse_open(alone, stood, when="at ride height")
    now = wheel(stood).take((0,))
    travels, aims = np.array(wanted.camber_target).T
    tried = kit(front, name, wanted, travels=travels.size, inventory=inventory)
    found = search(
        front.each[name],
        choices=tried.choices,
        goal=Goal(travel_in=travels, camber_deg=aims, toe_deg=float(now.toe_deg), windows=_windows(wanted, now, other)),
        rest_in=float(alone.travel[0]),
        other=other,
        rod_step_in=tried.flat_in,
        enough=enough,
    )
    cost = costs(found.off, found.changed)
    picked = best(cost, list(found.off), most=wanted.keep_count)
    places = [place for place, _ in picked]
    made = plans(tried, found, places, travels=travels, aims=aims)
    ranked = [
        Candidate(**msgspec.structs.asdict(plan), best_in=names) for plan, (_, names) in zip(made, picked, strict=True)
    ]
    if other is not None and places:
        there = wheel(solve_travel(found.designs(places), travel_in=alone.travel))
        for candidate, center in zip(ranked, roll_centers(other, there), strict=True):
            candidate.roll_center = center
    as_is = outcomes(front, name, as_it_is(front, name), travels=travels, aims=aims)[0]
    tally = counts(tried, found)
    answer = StudSearchAnswer(
        engine=VERSION,
        revision="",
        corner=name,
        said=[*_said(name, tally, as_is, ranked), *told_of_book(inventory)],
        travel_in=travels.tolist(),
        camber_target_deg=aims.tolist(),
        counts=tally,
        now=as_is,
        ranked=ranked,
        assumptions=[*front.page.assumed, HEIGHT_KEPT, *assumed_of_book(inventory)],
        missing=_missing(front, name, other, from_book=inventory is not None),
        cautions=[*cautions.FRONT, *cautions.STUD, cautions.TAPER],
        inventory=inventory or UNSET,
    )
    if other is not None:
        answer.roll_center_now = roll_centers(other, now)[0]
    return answer


def _other(front: FrontEnd, name: str) -> WheelAlignment | None:
    """Give the other front wheel as it stands, or None where it cannot be computed."""
    if OTHER[name] not in front.names:
        return None
    alone = front.only((OTHER[name],))
    pose = alone.pose()
    refuse_open(alone, pose, when="at ride height")
    return wheel(pose).take((0,))


def _windows(wanted: StudSearch, now: WheelAlignment, other: WheelAlignment | None) -> dict[str, Window]:
    """Set what is allowed, and what is best: caster near to now, no bump steer, the middle of the roll centers."""
    caster, most = float(now.caster_deg), wanted.bump_steer_most_deg_per_in
    windows = {
        "caster_deg": Window(caster - wanted.caster_within_deg, caster + wanted.caster_within_deg),
        "bump_steer_deg_per_in": Window(aim=0.0) if most is UNSET else Window(-most, most, 0.0),
    }
    if other is not None:
        low, high = wanted.roll_center_in or (-np.inf, np.inf)
        as_is = roll_centers(other, now)[0].height_in
        aim = (low + high) / 2 if wanted.roll_center_in else as_is
        windows["height_in"] = Window(low, high, None if aim is UNSET else float(aim))
    return windows


def _missing(front: FrontEnd, name: str, other: WheelAlignment | None, *, from_book: bool) -> list[Missing]:
    lacks = studs_missing(front.page, name, from_book=from_book)
    if other is None:
        fields = [path for each in front.missing for path in each.fields]
        lacks.append(Missing(subject="roll center, so that no window was kept", fields=fields))
    return lacks


def _said(name: str, tally: Counts, as_is: CornerOutcome, ranked: list[Candidate]) -> list[str]:
    said = [told(CORNER[name], tally)]
    if not ranked:
        return [*said, "Nothing fits: loosen what excluded most."]
    first = ranked[0]
    jobs = "; ".join(first.todo) or "leave it as it is"
    was, then = as_is, first.outcome
    said.append(
        f"Closest: {jobs}. Camber is then {then.camber_off_deg:.2f} deg off the curve ({was.camber_off_deg:.2f} now),"
        f" bump steer {signed(then.bump_steer_deg_per_in, 3)} deg/in ({signed(was.bump_steer_deg_per_in, 3)} now)."
    )
    return said
