"""How fast wheel loads are: a plain script, never a timed test.

`python tests/bench/loads.py`. Compared in the same run with SciPy's least energy and root finder on the same cars.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from golden.free_bodies import corner_loads, random_car, scale_loads
from studbook_service.engine.cornering import Thrust, cornering_state
from studbook_service.engine.loads import ChassisChange, on_scales
from studbook_service.engine.perches import find_perches
from studbook_service.engine.track import InPlane

if TYPE_CHECKING:
    from collections.abc import Callable

Row = tuple[str, str, str, str]
MANY, FEW = 10_000, 20


def best(work: Callable[[], object], times: int) -> float:
    """Shortest wall time of some runs, s."""
    taken = []
    for _ in range(times):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return min(taken)


def rows() -> list[Row]:
    """Time the equilibria beside SciPy's general solvers on the same cars."""
    rng = np.random.default_rng(1)
    given = random_car(rng)
    car, masses, links, nothing = given.engine(), given.masses(), given.links(), np.zeros(4)
    perch = rng.uniform(-0.7, 0.7, (4, MANY))
    lateral = rng.uniform(0.2, 0.9, MANY)
    scaled = MANY / best(lambda: on_scales(car, ChassisChange(perch_in=perch)), 3)
    turned = MANY / best(
        lambda: cornering_state(car, track=InPlane(lateral, 1.0), masses=masses, links=links, thrust=Thrust(300)), 3
    )
    other = FEW / best(
        lambda: [scale_loads(given, perch=perch[:, each], stud=nothing, radius=nothing) for each in range(FEW)], 1
    )
    root = FEW / best(lambda: [corner_loads(given, InPlane(lateral[each], 1.0), Thrust(300)) for each in range(FEW)], 1)
    one = best(lambda: on_scales(car, ChassisChange(perch_in=perch[:, 0])), 20)
    one_corner = best(lambda: cornering_state(car, track=InPlane(0.7, 1.0), masses=masses, links=links), 20)
    search = best(lambda: find_perches(car, cross_percent=51, pitch_in=[1 / 16] * 4), 10)
    energy, balance = f"SciPy's least energy {other:,.0f}/s", f"SciPy's root finder {root:,.0f}/s"
    return [
        ("cars on the scales, batched", f"{scaled:,.0f}/s", energy, f"{scaled / other:,.0f}×"),
        ("cars in a corner, batched", f"{turned:,.0f}/s", balance, f"{turned / root:,.0f}×"),
        ("one car on the scales", f"{1e3 * one:.2f} ms", energy, f"{1 / one / other:,.0f}×"),
        ("one car in a corner", f"{1e3 * one_corner:.2f} ms", balance, f"{1 / one_corner / root:,.1f}×"),
        ("perches for a cross weight, heights held", f"{1e3 * search:.2f} ms", "-", "-"),
    ]


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
