"""By which parts of its own one car handles at the front like another, as an answer."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
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
from studbook_service.engine.search import Goal, SearchResult, Window, search
from studbook_service.engine.trade_offs import trade_offs
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import WheelAlignment, wheel
from studbook_service.translate import cautions
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.front_end import FrontEnd, front_end, refuse_open
from studbook_service.translate.kit import Kit, kit, studs_missing
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
from studbook_service.translate.stud_stock import Put, assumed_of_book, in_stock, take, told_of_book
from studbook_service.translate.words import CORNER

WEIGHTS = np.array([0.1, 0.2, 0.2, 0.2, 0.05])
"""What ranks: camber counts by the tenth of a degree, caster by the quarter, bump steer by 0.01 deg/in, the roll
center by the quarter inch, and a part changed breaks ties (common practice, no source)."""

PAIRED = 60
"""So many of each corner's best are paired with the other's."""


@dataclass(frozen=True, kw_only=True)
class Side:
    """One corner, searched.

    Attributes:
        kit: what could be put in.
        found: every combination that closes.
        best: places of those that nothing beats, most alike first.
        aims: the other car's camber over the travels.
        likeness: what is told of it.
    """

    kit: Kit
    found: SearchResult
    best: list[int]
    aims: Array
    likeness: Likeness

    def puts(self, places: Sequence[int]) -> list[tuple[Put, ...]]:
        """Give the studs that some of what was found puts in."""
        return [self.kit.studs[option].put for option in self.found.options(places)[0]]

    def wheels(self, places: Sequence[int], *, expand: int = 0) -> WheelAlignment:
        """Give the wheels of some of what was found, where this corner stands."""
        rest = self.kit.front.travel[self.kit.front.names.index(self.kit.name)]
        return wheel(solve_travel(self.found.designs(places).expand(expand), travel_in=rest))


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

    Each corner is searched exhaustively for its own readings and the height of its n-line; then the best of both are
    paired for the roll center that they make together, as far as there are studs for both.

    Args:
        source: the document of the car to be like.
        tree: the document of the car to change.
        source_origins: for each corner of `source` with an alignment reading, the document it was entered in.
        origins: the same for `tree`.
        wanted: the travels and the parts at hand.
        inventory: the studs of the book, where they may be put in too.

    Returns:
        The answer; `source` and `revision` are the caller's to fill.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: nothing can be computed, and why.
        TooCostlyError: there are more combinations, or poses of them, than may be tried.
    """
    like, front = front_end(source, origins=source_origins), front_end(tree, origins=origins)
    names = tuple(name for name in front.names if name in like.names)
    if not names:
        raise FieldsMissingError([*like.missing, *front.missing])
    like, front = like.only(names), front.only(names)
    stood = [_stood(like, "the car to be like"), _stood(front, "the car to change")]
    travels = np.array(wanted.travel_in)
    enough = [until(wanted.time_s * (place + 1) / len(names)) for place in range(len(names))]
    sides = [
        _searched(
            *(like, front, name, wanted),
            travels=travels,
            aim=stood[0].take((place,)),
            enough=enough[place],
            inventory=inventory,
        )
        for place, name in enumerate(names)
    ]
    answer = CarryOverAnswer(
        engine=VERSION,
        source="",
        revision="",
        said=[],
        travel_in=travels.tolist(),
        ranked=[],
        assumptions=list(
            dict.fromkeys([*front.page.assumed, *like.page.assumed, HEIGHT_KEPT, *assumed_of_book(inventory)])
        ),
        missing=[*front.missing, *like.missing],
        cautions=[*cautions.FRONT, *cautions.STUD, cautions.TAPER],
        inventory=inventory or UNSET,
    )
    for name in names:
        answer.missing += studs_missing(front.page, name, from_book=inventory is not None)
    for side in sides:
        setattr(answer, side.kit.name, side.likeness)
    if len(sides) == 2:
        centers = [roll_centers(each.take((0,)), each.take((1,)))[0] for each in stood]
        answer.roll_center_aim, answer.roll_center_now = centers
        answer.ranked = _pairs(sides[0], sides[1], centers[0].height_in or None, wanted, travels)
    else:
        answer.ranked = _alone(sides[0], wanted, travels)
    answer.said = [*_said(sides, answer.ranked), *told_of_book(inventory)]
    return answer


def _stood(front: FrontEnd, which: str) -> WheelAlignment:
    pose = front.pose()
    refuse_open(front, pose, when=f"at the ride height of {which}")
    return wheel(pose)


def _searched(
    like: FrontEnd,
    front: FrontEnd,
    name: str,
    wanted: CarryOver,
    *,
    travels: Array,
    aim: WheelAlignment,
    enough: Callable[[], bool],
    inventory: Inventory | None,
) -> Side:
    """Search one corner for the readings of the other car's, where that one stands."""
    place = front.names.index(name)
    aims = wheel(solve_travel(like.each[name], travel_in=like.travel[place] + travels)).camber_deg
    if not np.isfinite(aims).all():
        raise CannotCloseError(f"{CORNER[name]} of the car to be like does not reach all of these travels")
    windows = {
        "caster_deg": Window(aim=float(aim.caster_deg)),
        "bump_steer_deg_per_in": Window(aim=float(aim.bump_steer_deg_per_in)),
        "height_in": Window(aim=float(n_line_height(aim))),
    }
    tried = kit(front, name, wanted, travels=travels.size, inventory=inventory)
    found = search(
        front.each[name],
        choices=tried.choices,
        goal=Goal(travel_in=travels, camber_deg=aims, toe_deg=float(aim.toe_deg), windows=windows),
        rest_in=float(front.travel[place]),
        rod_step_in=tried.flat_in,
        enough=enough,
    )
    cost = costs(found.off, found.changed)
    return Side(
        kit=tried,
        found=found,
        best=trade_offs(cost, most=PAIRED, by=WEIGHTS @ cost),
        aims=aims,
        likeness=Likeness(
            aim=outcomes(like, name, as_it_is(like, name), travels=travels, aims=aims)[0],
            now=outcomes(front, name, as_it_is(front, name), travels=travels, aims=aims)[0],
            counts=counts(tried, found),
        ),
    )


def _alone(side: Side, wanted: CarryOver, travels: Array) -> list[FrontPlan]:
    """Rank the only corner there is."""
    found = side.found
    cost = costs(found.off, found.changed)
    picked = best(cost, list(found.off), most=wanted.keep_count, by=WEIGHTS @ cost)
    made = plans(side.kit, found, [place for place, _ in picked], travels=travels, aims=side.aims)
    return [_front_plan({side.kit.name: plan}, names) for plan, (_, names) in zip(made, picked, strict=True)]


def _pairs(left: Side, right: Side, height_in: float | None, wanted: CarryOver, travels: Array) -> list[FrontPlan]:
    """Rank the pairs of both corners' best that the stock allows."""
    if not left.best or not right.best:
        return []
    center = roll_center(left=left.wheels(left.best, expand=1), right=right.wheels(right.best)).height_in
    rows, columns = np.nonzero(np.isfinite(center) & _in_stock(left, right))
    mine, theirs = np.array(left.best)[rows], np.array(right.best)[columns]
    both = {name: (left.found.off[name][mine], right.found.off[name][theirs]) for name in left.found.off}
    off = {name: np.maximum(*pair) for name, pair in both.items()}
    off["camber_deg"] = np.hypot(*both["camber_deg"]) / np.sqrt(2)
    if height_in is not None:
        off["height_in"] = np.abs(center[rows, columns] - height_in)
    cost = costs(off, left.found.changed[mine] + right.found.changed[theirs])
    picked = best(cost, list(off), most=wanted.keep_count, by=WEIGHTS @ cost)
    chosen = [place for place, _ in picked]
    if not chosen:
        return []
    mine, theirs = mine[chosen].tolist(), theirs[chosen].tolist()
    taken = [_taken(left, *puts) for puts in zip(left.puts(mine), right.puts(theirs), strict=True)]
    ours, others = zip(*taken, strict=True)
    lefts = plans(left.kit, left.found, mine, travels=travels, aims=left.aims, taken=ours)
    rights = plans(right.kit, right.found, theirs, travels=travels, aims=right.aims, taken=others)
    centers = roll_centers(left.wheels(mine), right.wheels(theirs))
    return [
        _front_plan({"lf": lf, "rf": rf}, names, at)
        for lf, rf, at, (_, names) in zip(lefts, rights, centers, picked, strict=True)
    ]


def _in_stock(left: Side, right: Side) -> Array:
    """Tell of each pair of both corners' best whether there are studs for both at once."""

    @cache
    def there_are(one: tuple[Put, ...], other: tuple[Put, ...]) -> bool:
        return in_stock(left.kit.stock, [*one, *other])

    mine, theirs = left.puts(left.best), right.puts(right.best)
    return np.array([[there_are(one, other) for other in theirs] for one in mine])


def _taken(side: Side, one: Sequence[Put], other: Sequence[Put]) -> tuple[list[StudTaken], list[StudTaken]]:
    """Share the stock out between both corners, which have one and the same."""
    taken = take(side.kit.stock, [*one, *other])
    return taken[: len(one)], taken[len(one) :]


def _front_plan(plans: dict[str, CornerPlan], names: list[str], at: RollCenterAt | None = None) -> FrontPlan:
    parts = sum(each.parts_changed_count for each in plans.values())
    return FrontPlan(parts_changed_count=parts, best_in=names, roll_center=at or UNSET, **plans)


def _said(sides: Sequence[Side], ranked: list[FrontPlan]) -> list[str]:
    said = [told(CORNER[side.kit.name], side.likeness.counts) for side in sides]
    if not ranked:
        return [*said, "No combination of these parts closes over these travels."]
    first = ranked[0]
    jobs = [job for side in sides if (plan := getattr(first, side.kit.name)) for job in plan.todo]
    return [*said, f"Most alike: {'; '.join(jobs)}." if jobs else "Nothing in these parts makes it more alike."]
