"""Which parts at one front corner come closest to a camber curve, as an answer."""

from collections.abc import Mapping

import msgspec
import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.searches import Candidate, CornerOutcome, Counts, Inventory, StudSearch, StudSearchAnswer
from studbook_service.engine import VERSION
from studbook_service.engine.search import Window
from studbook_service.engine.wheel import WheelAlignment, wheel
from studbook_service.translate.corner_search import (
    CAUTIONS,
    HEIGHT_KEPT,
    best,
    counts_sentence,
    deadline,
    roll_centers,
    search_corner,
)
from studbook_service.translate.errors import FieldsMissing
from studbook_service.translate.front_end import FrontEnd, front_end
from studbook_service.translate.kit import studs_missing
from studbook_service.translate.stud_stock import inventory_assumptions, inventory_notes
from studbook_service.translate.words import signed

OTHER = {"lf": "rf", "rf": "lf"}


def stud_search_answer(
    tree: Tree, *, origins: Mapping[str, Tree], wanted: StudSearch, inventory: Inventory | None = None
) -> StudSearchAnswer:
    """Try every combination of parts at one corner.

    Args:
        tree: the setup document.
        origins: where its readings were entered.
        wanted: the target, the limits and the parts at hand.
        inventory: the studs of the book, where they may be put in too.

    Returns:
        The answer; `revision` is the caller's to fill.

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: nothing can be computed, and why.
        TooCostly: there are more combinations, or poses of them, than may be tried.
    """
    enough = deadline(wanted.time_s)
    front = front_end(tree, origins=origins)
    name = wanted.corner
    if name not in front.names:
        raise FieldsMissing(front.missing)
    other = _wheel(front, OTHER[name]) if OTHER[name] in front.names else None
    now = _wheel(front, name)
    travels, aims = np.array(wanted.camber_target).T
    search = search_corner(
        *(front, name, wanted),
        travels=travels,
        aims=aims,
        toe_deg=float(now.toe_deg),
        windows=_windows(wanted, now, other),
        other=other,
        enough=enough,
        inventory=inventory,
    )
    picked = best(search.costs(), list(search.found.off), most=wanted.keep_count)
    ranked = [
        Candidate(**msgspec.structs.asdict(plan), best_in=names)
        for plan, names in zip(search.plans(list(picked)), picked.values(), strict=True)
    ]
    if other is not None and ranked:
        for candidate, center in zip(ranked, roll_centers(other, search.wheels(list(picked))), strict=True):
            candidate.roll_center = center
    as_is, counts = search.now(), search.counts()
    answer = StudSearchAnswer(
        engine=VERSION,
        revision="",
        corner=name,
        notes=[*_notes(name, counts, as_is, ranked), *inventory_notes(inventory)],
        travel_in=travels.tolist(),
        camber_target_deg=aims.tolist(),
        counts=counts,
        now=as_is,
        ranked=ranked,
        assumptions=[*front.reader.assumed, HEIGHT_KEPT, *inventory_assumptions(inventory)],
        missing=studs_missing(front.reader, name, from_book=inventory is not None),
        cautions=list(CAUTIONS),
        inventory=inventory or UNSET,
    )
    if other is None:
        fields = [path for each in front.missing for path in each.fields]
        answer.missing.append(Missing(subject="roll center, so that no window was kept", fields=fields))
    else:
        answer.roll_center_now = roll_centers(other, now)[0]
    return answer


def _wheel(front: FrontEnd, name: str) -> WheelAlignment:
    """Give one front wheel where it stands."""
    return wheel(front.only((name,)).closed_pose()).take((0,))


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


def _notes(name: str, counts: Counts, was: CornerOutcome, ranked: list[Candidate]) -> list[str]:
    notes = [counts_sentence(name, counts)]
    if not ranked:
        return [*notes, "Nothing fits: loosen what excluded most."]
    jobs, then = "; ".join(ranked[0].todo) or "leave it as it is", ranked[0].outcome
    notes.append(
        f"Closest: {jobs}. Camber is then {then.camber_off_deg:.2f} deg off the curve ({was.camber_off_deg:.2f} now),"
        f" bump steer {signed(then.bump_steer_deg_per_in, 3)} deg/in ({signed(was.bump_steer_deg_per_in, 3)} now)."
    )
    return notes
