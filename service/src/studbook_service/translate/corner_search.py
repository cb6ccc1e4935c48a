"""One front corner, searched: every combination of parts, how the best of them read, and what was excluded."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from time import monotonic

import numpy as np

from studbook.wire.searches import (
    CornerOutcome,
    CornerPlan,
    Counts,
    Excluded,
    Inventory,
    RollCenterAt,
    SearchTerms,
    StudTaken,
)
from studbook_service.engine.centers import n_line_height, roll_center
from studbook_service.engine.changes import Moves, apply
from studbook_service.engine.corner import FrontLinkage
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.search import Goal, SearchResult, Window, search
from studbook_service.engine.trade_offs import trade_offs
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import WheelAlignment, toe_in, wheel
from studbook_service.translate import cautions
from studbook_service.translate.front_end import FrontEnd
from studbook_service.translate.kit import Kit, kit
from studbook_service.translate.states import TOE_BASE_IN, columns, figures, rounded
from studbook_service.translate.stud_stock import StudSwap, take
from studbook_service.translate.words import CORNER

RESOLUTION = {"camber_deg": 0.01, "caster_deg": 0.05, "bump_steer_deg_per_in": 0.002, "height_in": 0.05, "parts": 1.0}
"""Gauge and dial do not show smaller differences (common practice, no source)."""

HEIGHT_KEPT = (
    "In every combination the perch is turned until the wheel is back at its ride height, and toe is reset at the tie"
    " rod; the effects of the chosen parts show how far the perch goes"
)

NAMES = {
    "camber_deg": "camber curve",
    "caster_deg": "caster",
    "bump_steer_deg_per_in": "bump steer",
    "height_in": "roll center",
    "cannot_close": "cannot close",
    "parts": "parts changed",
}

CAUTIONS = (*cautions.FRONT, *cautions.STUD, cautions.TAPER)


@dataclass(frozen=True, kw_only=True)
class CornerSearch:
    """One corner, searched.

    Attributes:
        kit: what could be put in.
        found: every combination that fits.
        travels: where camber is compared, from where the corner stands.
        aims: the camber wanted there.
    """

    kit: Kit
    found: SearchResult
    travels: Array
    aims: Array

    def costs(self) -> Array:
        """Give what each combination is off by, and its parts changed, as `costs` does."""
        return costs(self.found.off, self.found.changed)

    def swaps(self, places: Sequence[int]) -> list[tuple[StudSwap, ...]]:
        """Give the studs that some of the combinations put in."""
        return [self.kit.studs[option].swaps for option in self.found.options(places)[0]]

    def wheels(self, places: Sequence[int], *, expand: int = 0) -> WheelAlignment:
        """Give the wheel with some of the combinations, where this corner stands."""
        return wheel(solve_travel(self.found.designs(places).expand(expand), travel_in=self.kit.rest_in))

    def now(self) -> CornerOutcome:
        """Read the corner as it is fitted now."""
        return outcome_now(self.kit.front, self.kit.name, self.travels, self.aims)

    def counts(self) -> Counts:
        """Count what was tried, and what excluded the rest."""
        kit, found = self.kit, self.found
        excluded = {"not in stock": kit.out_of_stock} | {NAMES[name]: count for name, count in found.excluded.items()}
        return Counts(
            total_count=found.total + kit.out_of_stock,
            tried_count=found.tried,
            fitting_count=int(found.index.size),
            excluded=[Excluded(constraint=name, count=count) for name, count in excluded.items() if count],
        )

    def plans(self, places: Sequence[int], *, taken: Sequence[Sequence[StudTaken]] | None = None) -> list[CornerPlan]:
        """Give the jobs of some of the combinations, and how the corner then reads.

        Args:
            places: which combinations.
            taken: the studs that each puts in; if not given, those that serve this corner alone.
        """
        if not places:
            return []
        kit, options = self.kit, self.found.options(places)
        read = _outcomes(self.found.designs(places), kit.rest_in, self.travels, self.aims)
        made = []
        for row, place in enumerate(places):
            picked = [int(option) for option in options[:, row]]
            studs = kit.studs[picked[0]]
            of_stock = take(kit.stock, studs.swaps) if taken is None else taken[row]
            todo, adjustments = kit.todo(picked, float(self.found.rod_in[place]), of_stock)
            plan = CornerPlan(
                todo=todo,
                adjustments=adjustments,
                parts_changed_count=int(self.found.changed[place]),
                outcome=read[row],
                studs=list(of_stock),
            )
            if studs.upper_in is not None:
                plan.upper_stud_in = rounded(studs.upper_in)
            if studs.lower_in is not None:
                plan.lower_stud_in = rounded(studs.lower_in)
            made.append(plan)
        return made


def search_corner(
    front: FrontEnd,
    name: str,
    terms: SearchTerms,
    *,
    travels: Array,
    aims: Array,
    toe_deg: float,
    windows: Mapping[str, Window],
    other: WheelAlignment | None = None,
    enough: Callable[[], bool],
    inventory: Inventory | None,
) -> CornerSearch:
    """Try every combination of parts at a corner.

    Args:
        front: whose corner.
        name: `lf` or `rf`.
        terms: studs in stock, how far adjusters may go, how many combinations are too many.
        travels: where camber is compared, from where the corner stands.
        aims: the camber wanted there.
        toe_deg: what the tie rod sets.
        windows: what is allowed and best of the other readings.
        other: the other front wheel; with it `height_in` is the roll center's.
        enough: called before each block; what is not tried when it is true is left out.
        inventory: the studs of the book, where they may be put in too.

    Raises:
        TooCostly: there are more combinations, or poses of them, than may be tried.
    """
    tried = kit(front, name, terms, travels=travels.size, inventory=inventory)
    found = search(
        front.each[name],
        choices=tried.choices,
        goal=Goal(travel_in=travels, camber_deg=aims, toe_deg=toe_deg, windows=windows),
        rest_in=tried.rest_in,
        other=other,
        rod_step_in=tried.flat_in,
        enough=enough,
    )
    return CornerSearch(kit=tried, found=found, travels=travels, aims=aims)


def deadline(seconds: float) -> Callable[[], bool]:
    """Make a function that tells whether so much time has gone by since now."""
    end = monotonic() + seconds
    return lambda: monotonic() > end


def costs(off: dict[str, Array], parts: Array) -> Array:
    """Put what is off, and the parts changed, into costs that only differ where a crew can tell, (costs, n)."""
    return np.stack([np.round(values / RESOLUTION[name]) for name, values in (off | {"parts": parts}).items()])


def best(cost: Array, off: Sequence[str], *, most: int, by: Array | None = None) -> dict[int, list[str]]:
    """Pick what nothing beats, best first; name what each is the best of all in.

    Args:
        cost: from `costs`.
        off: names of its rows but the last.
        most: how many, at least; the best in each cost is always among them.
        by: what ranks; the first cost if not given.
    """
    places = trade_offs(cost, most=most, by=by)
    leads: dict[int, list[str]] = {place: [] for place in places}
    if places:
        for name, row in zip((*off, "parts"), cost, strict=True):
            leads[places[int(np.argmin(row[places]))]].append(NAMES[name])
    return leads


def outcome_now(front: FrontEnd, name: str, travels: Array, aims: Array) -> CornerOutcome:
    """Read a corner as it is fitted now, against the camber wanted over travels."""
    as_fitted = apply(front.each[name], Moves(tie_rod_in=np.zeros(1)))
    return _outcomes(as_fitted, front.travel_of(name), travels, aims)[0]


def counts_sentence(name: str, counts: Counts) -> str:
    """Say how many combinations were tried, and what excluded the rest."""
    sentence = f"{CORNER[name]}: {counts.tried_count:,} combinations tried, {counts.fitting_count:,} fit"
    if counts.excluded:
        sentence += "; excluded " + ", ".join(f"{each.count:,} by {each.constraint}" for each in counts.excluded)
    untried = counts.total_count - counts.tried_count
    untried -= sum(each.count for each in counts.excluded if each.constraint == "not in stock")
    if untried:
        sentence += f"; {untried:,} were not tried before the time was up, and a better one may be among them"
    return sentence + "."


def roll_centers(left: WheelAlignment, right: WheelAlignment) -> list[RollCenterAt]:
    """Find the roll centers of pairs of wheels, one batch axis."""
    found = roll_center(left=left, right=right)
    return [
        RollCenterAt(height_in=rounded(height), y_in=rounded(y)) if np.isfinite(height + y) else RollCenterAt()
        for height, y in zip(np.atleast_1d(found.height_in), np.atleast_1d(found.y_in), strict=True)
    ]


READ = ("camber_gain_deg_per_in", "caster_deg", "toe_deg", "bump_steer_deg_per_in")
"""Readings of the wheel where it stands."""


def _outcomes(designs: FrontLinkage, rest_in: float, travels: Array, aims: Array) -> list[CornerOutcome]:
    """Read designs of a corner, one batch axis, where it stands and over travels; all of them close."""
    at = wheel(solve_travel(designs, travel_in=rest_in))
    over = wheel(solve_travel(designs.expand(1), travel_in=rest_in + travels))
    line = n_line_height(at)
    off = np.sqrt(np.mean((over.camber_deg - aims) ** 2, axis=1))
    drift = np.max(np.abs(over.toe_deg - at.toe_deg[:, None]), axis=1)
    return [
        CornerOutcome(
            camber_off_deg=rounded(off[place]),
            camber_deg=columns(over.camber_deg[place]),
            toe_change_deg=rounded(drift[place]),
            bump_steer_in_per_in=rounded(toe_in(toe_deg=at.bump_steer_deg_per_in[place], diameter_in=TOE_BASE_IN)),
            line_at_center_in=rounded(line[place]),
            **figures(at, READ, place),
        )
        for place in range(len(off))
    ]
