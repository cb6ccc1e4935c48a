"""Which of one car's parts make it handle at the front like another, as an answer.

Each corner is searched exhaustively for its own readings and the height of its n-line. Then the best of both are
paired for the roll center that they make together, as far as there are studs for both: which stud goes where is
decided for both corners at once, since they share one stock.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import cache

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.searches import (
    CarryOver,
    CarryOverAnswer,
    CornerPlan,
    FrontPlan,
    Inventory,
    Likeness,
    RollCenterAt,
    StudTaken,
)
from studbook_service.engine import VERSION
from studbook_service.engine.centers import n_line_height, roll_center
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.search import Window
from studbook_service.engine.trade_offs import trade_offs
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import WheelAlignment, wheel
from studbook_service.translate.corner_search import (
    CAUTIONS,
    HEIGHT_KEPT,
    CornerSearch,
    best,
    costs,
    counts_sentence,
    deadline,
    outcome_now,
    roll_centers,
    search_corner,
)
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.front_end import FrontEnd, front_end
from studbook_service.translate.kit import studs_missing
from studbook_service.translate.stud_stock import StudSwap, in_stock, inventory_assumptions, inventory_notes, take
from studbook_service.translate.words import CORNER

WEIGHTS = np.array([0.1, 0.2, 0.2, 0.2, 0.05])
"""What ranks: camber counts by the tenth of a degree, caster by the quarter, bump steer by 0.01 deg/in, the roll
center by the quarter inch, and a part changed breaks ties (common practice, no source)."""

PAIRED = 60
"""So many of each corner's best are paired with the other's."""


def carry_over_answer(
    source: Tree,
    tree: Tree,
    *,
    source_origins: Mapping[str, Tree],
    origins: Mapping[str, Tree],
    wanted: CarryOver,
    inventory: Inventory | None = None,
) -> CarryOverAnswer:
    """Match one car's camber curves, caster, bump steer and roll center with another's parts, and toe by its rods.

    Args:
        source: the document of the car to match.
        tree: the document of the car to change.
        source_origins: where the readings of `source` were entered.
        origins: the same of `tree`.
        wanted: the travels and the parts at hand.
        inventory: the studs of the book, where they may be put in too.

    Returns:
        The answer; `source` and `revision` are the caller's to fill.

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: nothing can be computed, and why.
        TooCostly: there are more combinations, or poses of them, than may be tried.
    """
    like, front = front_end(source, origins=source_origins), front_end(tree, origins=origins)
    names = tuple(name for name in front.names if name in like.names)
    if not names:
        raise FieldsMissing([*like.missing, *front.missing])
    like, front = like.only(names), front.only(names)
    aim = wheel(like.closed_pose(when="at the ride height of the car to match"))
    now = wheel(front.closed_pose(when="at the ride height of the car to change"))
    travels = np.array(wanted.travel_in)
    deadlines = [deadline(wanted.time_s * (place + 1) / len(names)) for place in range(len(names))]
    left, *right = [
        _search(like, front, name, wanted, travels, aim.take((place,)), deadlines[place], inventory)
        for place, name in enumerate(names)
    ]
    assumptions = [*front.reader.assumed, *like.reader.assumed, HEIGHT_KEPT, *inventory_assumptions(inventory)]
    answer = CarryOverAnswer(
        engine=VERSION,
        source="",
        revision="",
        notes=[],
        travel_in=travels.tolist(),
        ranked=[],
        assumptions=list(dict.fromkeys(assumptions)),
        missing=[*front.missing, *like.missing],
        cautions=list(CAUTIONS),
        inventory=inventory or UNSET,
    )
    for name, search in zip(names, (left, *right), strict=True):
        answer.missing += studs_missing(front.reader, name, from_book=inventory is not None)
        answer.notes.append(counts_sentence(name, search.counts()))
        there = outcome_now(like, name, travels, search.aims)
        setattr(answer, name, Likeness(aim=there, now=search.now(), counts=search.counts()))
    if right:
        centers = [roll_centers(each.take((0,)), each.take((1,)))[0] for each in (aim, now)]
        answer.roll_center_aim, answer.roll_center_now = centers
        answer.ranked = _pairs(left, right[0], centers[0].height_in or None, wanted.keep_count)
    else:
        answer.ranked = _alone(left, wanted.keep_count)
    answer.notes += [_most_alike(names, answer.ranked), *inventory_notes(inventory)]
    return answer


def _search(
    like: FrontEnd,
    front: FrontEnd,
    name: str,
    wanted: CarryOver,
    travels: Array,
    aim: WheelAlignment,
    enough: Callable[[], bool],
    inventory: Inventory | None,
) -> CornerSearch:
    """Search one corner for the readings of the other car's, where that one stands."""
    aims = wheel(solve_travel(like.each[name], travel_in=like.travel_of(name) + travels)).camber_deg
    if not np.isfinite(aims).all():
        raise CannotClose(f"{CORNER[name]} of the car to match does not reach all of these travels")
    windows = {
        "caster_deg": Window(aim=float(aim.caster_deg)),
        "bump_steer_deg_per_in": Window(aim=float(aim.bump_steer_deg_per_in)),
        "height_in": Window(aim=float(n_line_height(aim))),
    }
    return search_corner(
        *(front, name, wanted),
        travels=travels,
        aims=aims,
        toe_deg=float(aim.toe_deg),
        windows=windows,
        enough=enough,
        inventory=inventory,
    )


def _alone(search: CornerSearch, most: int) -> list[FrontPlan]:
    """Rank the only corner there is."""
    cost = search.costs()
    picked = best(cost, list(search.found.off), most=most, by=WEIGHTS @ cost)
    plans = search.plans(list(picked))
    return [_front_plan({search.kit.name: plan}, names) for plan, names in zip(plans, picked.values(), strict=True)]


def _pairs(left: CornerSearch, right: CornerSearch, height_in: float | None, most: int) -> list[FrontPlan]:
    """Rank the pairs of both corners' best that the stock allows."""
    lefts, rights = (trade_offs(cost, most=PAIRED, by=WEIGHTS @ cost) for cost in (left.costs(), right.costs()))
    if not lefts or not rights:
        return []
    center = roll_center(left=left.wheels(lefts, expand=1), right=right.wheels(rights)).height_in
    rows, columns = np.nonzero(np.isfinite(center) & _in_stock(left, left.swaps(lefts), right.swaps(rights)))
    ours, others = np.array(lefts)[rows], np.array(rights)[columns]
    both = {name: (left.found.off[name][ours], right.found.off[name][others]) for name in left.found.off}
    off = {name: np.maximum(*pair) for name, pair in both.items()}
    off["camber_deg"] = np.hypot(*both["camber_deg"]) / np.sqrt(2)
    if height_in is not None:
        off["height_in"] = np.abs(center[rows, columns] - height_in)
    cost = costs(off, left.found.changed[ours] + right.found.changed[others])
    picked = best(cost, list(off), most=most, by=WEIGHTS @ cost)
    if not picked:
        return []
    ours, others = ours[list(picked)].tolist(), others[list(picked)].tolist()
    taken = [_taken(left, *swaps) for swaps in zip(left.swaps(ours), right.swaps(others), strict=True)]
    of_left, of_right = zip(*taken, strict=True)
    return [
        _front_plan({"lf": lf, "rf": rf}, names, at)
        for lf, rf, at, names in zip(
            left.plans(ours, taken=of_left),
            right.plans(others, taken=of_right),
            roll_centers(left.wheels(ours), right.wheels(others)),
            picked.values(),
            strict=True,
        )
    ]


def _in_stock(search: CornerSearch, lefts: list[tuple[StudSwap, ...]], rights: list[tuple[StudSwap, ...]]) -> Array:
    """Tell of each pair whether there are studs for both corners at once."""

    @cache
    def both(left: tuple[StudSwap, ...], right: tuple[StudSwap, ...]) -> bool:
        return in_stock(search.kit.stock, [*left, *right])

    return np.array([[both(left, right) for right in rights] for left in lefts])


def _taken(
    search: CornerSearch, left: Sequence[StudSwap], right: Sequence[StudSwap]
) -> tuple[list[StudTaken], list[StudTaken]]:
    """Share the one stock out between both corners."""
    taken = take(search.kit.stock, [*left, *right])
    return taken[: len(left)], taken[len(left) :]


def _front_plan(plans: dict[str, CornerPlan], names: list[str], at: RollCenterAt | None = None) -> FrontPlan:
    parts = sum(each.parts_changed_count for each in plans.values())
    return FrontPlan(parts_changed_count=parts, best_in=names, roll_center=at or UNSET, **plans)


def _most_alike(names: Sequence[str], ranked: list[FrontPlan]) -> str:
    if not ranked:
        return "No combination of these parts closes over these travels."
    jobs = [job for name in names if (plan := getattr(ranked[0], name)) for job in plan.todo]
    return f"Most alike: {'; '.join(jobs)}." if jobs else "No combination of these parts makes it more alike."
