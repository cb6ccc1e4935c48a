"""How a corner reads with parts put in, and what a search of them came to."""

from collections.abc import Callable, Sequence
from time import monotonic

import numpy as np

from studbook.wire.searches import CornerOutcome, CornerPlan, Counts, Excluded, RollCenterAt, StudTaken
from studbook_service.engine.centers import n_line_height, roll_center
from studbook_service.engine.changes import Moves, apply
from studbook_service.engine.corner import FrontLinkage
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.search import SearchResult
from studbook_service.engine.trade_offs import trade_offs
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import WheelAlignment, toe_in, wheel
from studbook_service.translate.front_end import FrontEnd
from studbook_service.translate.kit import Kit
from studbook_service.translate.states import TOE_BASE_IN, columns, rounded
from studbook_service.translate.stud_stock import take

TOLD_APART = {"camber_deg": 0.01, "caster_deg": 0.05, "bump_steer_deg_per_in": 0.002, "height_in": 0.05, "parts": 1.0}
"""Differences below these are none to gauge and dial (common practice, no source)."""

HEIGHT_KEPT = (
    "In every combination the perch is turned until the wheel stands where it stood, and toe is put back by the rod;"
    " the effects of the parts chosen say how far the perch goes"
)

NAMES = {
    "camber_deg": "camber curve",
    "caster_deg": "caster",
    "bump_steer_deg_per_in": "bump steer",
    "height_in": "roll center",
    "cannot_close": "cannot close",
    "parts": "parts changed",
}


def until(seconds: float) -> Callable[[], bool]:
    """Make the question whether so much time has gone by since now."""
    end = monotonic() + seconds
    return lambda: monotonic() > end


def costs(off: dict[str, Array], parts: Array) -> Array:
    """Put what is off, and the parts changed, into costs that only differ where a crew can tell, (costs, n)."""
    rows = [np.round(values / TOLD_APART[name]) for name, values in (off | {"parts": parts}).items()]
    return np.stack(rows)


def best(cost: Array, off: Sequence[str], *, most: int, by: Array | None = None) -> list[tuple[int, list[str]]]:
    """Pick what nothing beats, best first, each with what it is the best of all in.

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
    return list(leads.items())


def outcomes(front: FrontEnd, name: str, designs: FrontLinkage, *, travels: Array, aims: Array) -> list[CornerOutcome]:
    """Read designs of a corner where it stands and over travels.

    Args:
        front: whose corner.
        name: `lf` or `rf`.
        designs: one batch axis; all of them close.
        travels: from where it stands.
        aims: the camber wanted there.
    """
    rest = front.travel[front.names.index(name)]
    at = wheel(solve_travel(designs, travel_in=rest))
    over = wheel(solve_travel(designs.expand(1), travel_in=rest + travels))
    line = n_line_height(at)
    off = np.sqrt(np.mean((over.camber_deg - aims) ** 2, axis=1))
    drift = np.max(np.abs(over.toe_deg - at.toe_deg[:, None]), axis=1)
    return [
        CornerOutcome(
            camber_off_deg=rounded(off[place]),
            camber_deg=columns(over.camber_deg[place]),
            camber_gain_deg_per_in=rounded(at.camber_gain_deg_per_in[place]),
            caster_deg=rounded(at.caster_deg[place]),
            toe_deg=rounded(at.toe_deg[place]),
            toe_change_deg=rounded(drift[place]),
            bump_steer_deg_per_in=rounded(at.bump_steer_deg_per_in[place]),
            bump_steer_in_per_in=rounded(toe_in(toe_deg=at.bump_steer_deg_per_in[place], diameter_in=TOE_BASE_IN)),
            line_at_center_in=rounded(line[place]),
        )
        for place in range(len(off))
    ]


def as_it_is(front: FrontEnd, name: str) -> FrontLinkage:
    """Give a corner as it is now, as the only one of a batch."""
    return apply(front.each[name], Moves(tie_rod_in=np.zeros(1)))


def plans(
    kit: Kit,
    found: SearchResult,
    places: Sequence[int],
    *,
    travels: Array,
    aims: Array,
    taken: Sequence[Sequence[StudTaken]] | None = None,
) -> list[CornerPlan]:
    """Say of some of what was found what is to do, and how the corner then reads.

    Args:
        kit: what could be put in.
        found: every combination that closes.
        places: of those asked about, there.
        travels: from where the corner stands.
        aims: the camber wanted there.
        taken: the studs that each puts in; if not given, those that serve this corner alone.
    """
    if not places:
        return []
    read = outcomes(kit.front, kit.name, found.designs(places), travels=travels, aims=aims)
    options = found.options(places)
    made = []
    for row, place in enumerate(places):
        picked = [int(option) for option in options[:, row]]
        studs = kit.studs[picked[0]]
        of_stock = take(kit.stock, studs.put) if taken is None else taken[row]
        todo, adjustments = kit.todo(picked, float(found.rod_in[place]), of_stock)
        plan = CornerPlan(
            todo=todo,
            adjustments=adjustments,
            parts_changed_count=int(found.changed[place]),
            outcome=read[row],
            studs=list(of_stock),
        )
        if studs.upper_in is not None:
            plan.upper_stud_in = rounded(studs.upper_in)
        if studs.lower_in is not None:
            plan.lower_stud_in = rounded(studs.lower_in)
        made.append(plan)
    return made


def counts(kit: Kit, found: SearchResult) -> Counts:
    """Say how many were tried, and what excluded the rest."""
    excluded = {"not in stock": kit.out_of_stock} | {NAMES[name]: count for name, count in found.excluded.items()}
    return Counts(
        total_count=found.total + kit.out_of_stock,
        tried_count=found.tried,
        fitting_count=int(found.index.size),
        excluded=[Excluded(constraint=name, count=count) for name, count in excluded.items() if count],
    )


def told(name: str, counts: Counts) -> str:
    """Say the same in a sentence."""
    sentence = f"{name}: {counts.tried_count:,} combinations tried, {counts.fitting_count:,} fit"
    if counts.excluded:
        sentence += "; excluded " + ", ".join(f"{each.count:,} by {each.constraint}" for each in counts.excluded)
    left = counts.total_count - counts.tried_count
    left -= sum(each.count for each in counts.excluded if each.constraint == "not in stock")
    if left:
        sentence += f"; {left:,} were left untried when the time was up, and a better one may be among them"
    return sentence + "."


def roll_centers(left: WheelAlignment, right: WheelAlignment) -> list[RollCenterAt]:
    """Find the roll centers of pairs of wheels, one batch axis."""
    found = roll_center(left=left, right=right)
    return [
        RollCenterAt(height_in=rounded(height), y_in=rounded(y)) if np.isfinite(height + y) else RollCenterAt()
        for height, y in zip(np.atleast_1d(found.height_in), np.atleast_1d(found.y_in), strict=True)
    ]
