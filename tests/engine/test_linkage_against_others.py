"""The linkage agrees with a general solver and with a rigid-body library, neither of which shares its formulas.

The default run compares 50 corners at a few travels; tests/bench/engine.py compares more at all of them.
"""

import pytest

from golden.agreement import RACKS, worst
from golden.independent_solvers import Distances, Joints

TRAVELS = (1.5, 4.0, 0.0, -1.5, -3.0)


@pytest.mark.parametrize("solver", [Distances, Joints])
def test_agrees_on_random_corners(solver: type[Distances | Joints]) -> None:
    compared, apart_in, turned_deg = worst(solver, corners=28, travels=TRAVELS)
    assert compared == 28 * len(RACKS) * len(TRAVELS)
    assert apart_in < 1e-6
    assert turned_deg < 1e-6
