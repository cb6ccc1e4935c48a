"""How fast parts are searched, and in how much memory: a plain script, never a timed test.

`python tests/bench/search.py`. The bare limit is SciPy's general solver on one corner's distances in the same run,
for as many positions. Memory is measured in a process of its own.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tracemalloc
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.engine import Row, best, scipy_solves_per_second
from golden.front_corners import corner
from studbook_service.engine.changes import Moves, shims
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.search import BYTES_PER_CANDIDATE, Goal, PartChoice, SearchResult, Window, search
from studbook_service.engine.trade_offs import trade_offs
from studbook_service.engine.wheel import wheel

TRAVELS = np.linspace(-3.0, 3.0, 7)
FLAT_IN = 1 / 54
STEPS = np.array(sorted(np.arange(-8, 9) / 32, key=abs))
SPACERS = np.array(sorted(np.arange(-5, 6) / 16, key=abs))
COUNT = 50_000


def choices(pairs: int = 16) -> list[PartChoice]:
    """Pairs of studs, front shims, rear shims and spacers: 16 × 17 × 17 × 11 are 50,864 combinations."""
    upper, lower = (each.ravel()[:pairs] for each in np.meshgrid([0, 0.1, 0.5, 1.0], [0, 0.1, 0.5, 1.0], indexing="ij"))
    nothing = np.zeros_like(STEPS)
    return [
        PartChoice(
            moves=Moves(upper_stud_in=upper, lower_stud_in=lower), changed=(upper > 0).astype(int) + (lower > 0)
        ),
        PartChoice(moves=shims(side=-1, front_in=STEPS, rear_in=nothing), changed=STEPS != 0),
        PartChoice(moves=shims(side=-1, front_in=nothing, rear_in=STEPS), changed=STEPS != 0),
        PartChoice(moves=Moves(outer_spacer_in=SPACERS), changed=SPACERS != 0),
    ]


def tried(*, caster: Window = Window(aim=5.15), travels: np.ndarray = TRAVELS) -> SearchResult:  # noqa: B008 - a constant
    """Search the dirt car's right front."""
    goal = Goal(
        travel_in=travels,
        camber_deg=-4 - 1.5 * travels,
        toe_deg=-0.12,
        windows={"caster_deg": caster, "bump_steer_deg_per_in": Window(aim=0.0), "height_in": Window(aim=3.9)},
    )
    other = wheel(solve_travel(corner("dirt lf"), travel_in=0.0))
    return search(corner("dirt rf"), choices=choices(), goal=goal, other=other, rod_step_in=FLAT_IN)


def memory() -> tuple[float, float]:
    """What a search allocates at its peak, and the most its whole process ever had, MiB."""
    tracemalloc.start()
    found = tried()
    trade_offs(np.stack(list(found.off.values())), most=12)
    peak = tracemalloc.get_traced_memory()[1] / 2**20
    return peak, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def rows() -> list[Row]:
    """What was measured, the figure, the bare limit, and the ratio."""
    found = tried()
    limit = scipy_solves_per_second()
    seconds = best(tried, 3)
    positions = found.tried * len(TRAVELS)
    near = best(lambda: tried(caster=Window(4.65, 5.65)), 3)
    shut = tried(travels=np.linspace(-11, 9.5, 7))
    closing = best(lambda: tried(travels=np.linspace(-11, 9.5, 7)), 3)
    cost = np.round(np.stack([*found.off.values(), found.changed]), 2)
    with multiprocessing.get_context("spawn").Pool(1) as fresh:
        peak, whole = fresh.apply(memory)
    return [
        (
            f"stud search, {found.tried:,} candidates × 7 travels, all fit",
            f"{seconds * COUNT / found.tried:.2f} s for 50,000",
            f"SciPy {positions / limit:,.0f} s",
            f"{positions / limit / seconds:,.0f}×",
        ),
        (
            "the same, caster within half a degree",
            f"{near * COUNT / found.tried:.2f} s for 50,000",
            "1 s",
            f"{1 / near:.1f}×",
        ),
        (
            f"the same, {shut.excluded['cannot_close'] / shut.tried:.0%} cannot close",
            f"{closing * COUNT / found.tried:.2f} s for 50,000",
            "1 s",
            f"{1 / closing:.1f}×",
        ),
        ("trade-offs among them, 12 best", f"{1e3 * best(lambda: trade_offs(cost, most=12), 3):.0f} ms", "–", "–"),
        (
            f"memory of the search ({BYTES_PER_CANDIDATE} bytes kept a candidate)",
            f"{peak:.0f} MiB at its peak",
            f"its process {whole:.0f} MiB",
            f"{peak / whole:.2f}×",
        ),
    ]


if __name__ == "__main__":
    for row in rows():
        print("{:62} {:>22} {:>18} {:>10}".format(*row))
