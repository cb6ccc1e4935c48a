"""How fast joint friction, joint loads and shock cycles are: a plain script, never a timed test.

`python tests/bench/joints.py`. The bare limit of the statics is NumPy's own batched 6 × 6 solution in the same run.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from golden.front_corners import corner
from studbook_service.engine.dampers import cycle, shock
from studbook_service.engine.joints import wheel_friction
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.spindle import joint_loads
from studbook_service.engine.steering import rack
from studbook_service.engine.swing import swing_margin

if TYPE_CHECKING:
    from collections.abc import Callable

Row = tuple[str, str, str, str]
COUNT = 20_000


def per_second(work: Callable[[], object], count: int) -> float:
    """Answers a second, by the best of five runs."""
    taken = []
    for _ in range(5):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return count / min(taken)


def rows() -> list[Row]:
    """Time each subject beside the six equations solved by NumPy alone."""
    pose = solve_travel(corner("dirt rf"), travel_in=np.linspace(-3, 4, COUNT))
    rng = np.random.default_rng(1)
    matrices, loads = rng.normal(size=(COUNT, 6, 6)), rng.normal(size=(COUNT, 6, 1))
    made = shock(speed_in_per_s=[1, 3, 5, 10], compression_lb=[95, 165, 205, 270], rebound_lb=[95, 175, 220, 295])
    strokes = np.linspace(0.5, 2, COUNT)
    steering = rack(shift_in=np.linspace(-2, 2, 41))
    travel = np.linspace(-3, 4, 71)
    measured = {
        "joint friction of a pose": (
            lambda: wheel_friction(pose, preload_in_lb={"upper_ball": 7, "lower_ball": 48}),
            COUNT,
        ),
        "joint loads of a pose": (lambda: joint_loads(pose, patch_lb=(-350, 950, 1075)), COUNT),
        "shock cycle": (lambda: cycle(made, stroke_in=strokes, frequency_hz=1.5), COUNT),
        "swing, travel × steer": (
            lambda: swing_margin(corner("dirt rf"), joint="upper", limit_deg=25, travel_in=travel, steer_in=steering),
            41 * 71,
        ),
    }
    bare = per_second(lambda: np.linalg.solve(matrices, loads), COUNT)
    found = {name: per_second(work, count) for name, (work, count) in measured.items()}
    limit = f"NumPy's 6 × 6 alone {bare:,.0f}/s"
    return [(name, f"{ours:,.0f}/s", limit, f"{ours / bare:.2f}×") for name, ours in found.items()]


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
