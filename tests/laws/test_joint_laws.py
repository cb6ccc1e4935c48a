"""Laws of joint friction, joint loads, studs and shocks."""

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from golden.front_corners import corner
from studbook_service.engine.dampers import cycle, shock
from studbook_service.engine.joints import JOINTS, wheel_friction
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.spindle import joint_loads
from studbook_service.engine.studs import stud_limits, stud_stress
from studbook_service.engine.wheel import motion, wheel

names = st.sampled_from(["dirt lf", "dirt rf", "asphalt lf", "asphalt rf"])
travels = st.floats(-3, 4)
torques = st.dictionaries(st.sampled_from(JOINTS), st.floats(0, 100), max_size=6)
forces = st.tuples(st.floats(-2000, 2000), st.floats(-2000, 2000), st.floats(-500, 3000))
quietly = settings(max_examples=40)


@quietly
@given(names, travels, torques, st.floats(0, 3), st.floats(0.2, 3))
def test_friction_is_never_negative_and_linear_in_torque(
    name: str, travel: float, preload: dict[str, float], times: float, factor: float
) -> None:
    pose = solve_travel(corner(name), travel_in=travel)
    one = wheel_friction(pose, preload_in_lb=preload, tilt_over_spin=factor)
    more = wheel_friction(
        pose, preload_in_lb={joint: times * torque for joint, torque in preload.items()}, tilt_over_spin=factor
    )
    parts = [
        wheel_friction(pose, preload_in_lb={joint: torque}, tilt_over_spin=factor) for joint, torque in preload.items()
    ]
    for part in ("total_lb", "tie_rod_lb"):
        whole = float(getattr(one, part))
        assert whole >= 0
        np.testing.assert_allclose(float(getattr(more, part)), times * whole, rtol=1e-12, atol=1e-300)
        np.testing.assert_allclose(sum(float(getattr(each, part)) for each in parts), whole, rtol=1e-12, atol=1e-300)


@quietly
@given(st.floats(1, 3000), st.floats(0.5, 3), st.floats(0.4, 1.1), st.floats(0, 1.5), st.floats(0.01, 1.5))
def test_a_longer_stud_is_weaker(across: float, lever: float, diameter: float, extra: float, further: float) -> None:
    neck = [(0.8 * diameter, 0.4 * lever)]
    stud: dict[str, Any] = {
        "lever_in": lever,
        "seat_diameter_in": diameter,
        "extra_in": [extra, extra + further],
        "sections_in": neck,
    }
    short, long = stud_stress(across_lb=across, axial_lb=0, **stud).bending_psi
    # The worst section's lever is at most the whole of the longer stud, so it grows by at least this share.
    grown = 1 + further / (lever + extra + further)
    assert long > short * (1 + (grown - 1) / 2)
    limits = stud_limits(**stud, yield_psi=120e3)
    for limit in (limits.first_yield_lb, limits.hinge_lb):
        assert limit[1] < limit[0] / (1 + (grown - 1) / 2)
    assert limits.shear_lb[1] == limits.shear_lb[0]


@quietly
@given(names, travels, forces, forces)
def test_loads_superpose_and_the_spring_does_the_work(
    name: str, travel: float, first: tuple[float, ...], second: tuple[float, ...]
) -> None:
    pose = solve_travel(corner(name), travel_in=travel)
    both = np.add(first, second)
    one, other, together = (joint_loads(pose, patch_lb=force, brake="locked") for force in (first, second, both))
    for a, b, c in zip(one, other, together, strict=True):
        np.testing.assert_allclose(a + b, c, rtol=1e-9, atol=1e-6)
    work = both @ wheel(pose).patch_velocity
    np.testing.assert_allclose(together.spring_lb * motion(pose).ratio, work, rtol=1e-9, atol=1e-6)


@st.composite
def curves(draw: st.DrawFn) -> dict[str, list[float]]:
    """A rising shock curve measured from 0."""
    count = draw(st.integers(2, 8))
    steps = st.lists(st.floats(0.1, 60), min_size=count - 1, max_size=count - 1)
    names = ("speed_in_per_s", "compression_lb", "rebound_lb")
    return {name: [0.0, *np.cumsum(draw(steps)).tolist()] for name in names}


@quietly
@given(curves(), st.floats(0.05, 1))
def test_a_shock_always_takes_work_out(made: dict[str, list[float]], share: float) -> None:
    damper = shock(**made)
    peak = share * made["speed_in_per_s"][-1]
    got = cycle(damper, stroke_in=2.0, frequency_hz=peak / (2 * np.pi))
    assert float(got.work_in_lb) > 0
    assert float(got.work_in_lb) <= 2 * (damper.compression(peak) + damper.rebound(peak)) * (1 + 1e-9)
    speeds = np.linspace(0, made["speed_in_per_s"][-1], 200)
    assert np.all(np.diff(damper.compression(speeds)) >= -1e-9)  # rising points, rising curve
