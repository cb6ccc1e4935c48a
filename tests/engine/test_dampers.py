"""Shocks: curves against SciPy's interpolator, work round a cycle against published values and against time."""

import numpy as np
import numpy.typing as npt
import pytest
from scipy.interpolate import PchipInterpolator

from golden.joints_and_parts import (
    DIGRESSIVE,
    LINEAR_CYCLE,
    M_PER_IN,
    N_PER_LB,
    N_PER_M_PER_LB_PER_IN,
    POWER_LAW_WORK,
    THORBY,
)
from studbook_service.engine.curves import curve
from studbook_service.engine.dampers import (
    ShockCurves,
    at_speed,
    cycle,
    equivalent_shim,
    friction_crossover,
    gas_force,
    shock,
)

# Invented shocks of four corners: compression and rebound, lb, at 1, 3, 5 and 10 in/s.
SPEEDS = (1, 3, 5, 10)
CURVES = {
    "lf": ((65, 115, 145, 200), (130, 240, 290, 370)),
    "rf": ((95, 165, 205, 270), (95, 175, 220, 295)),
    "lr": ((115, 195, 235, 305), (40, 75, 95, 130)),
    "rr": ((85, 155, 195, 260), (75, 130, 160, 220)),
}


def corner_shock(name: str) -> ShockCurves:
    compression, rebound = CURVES[name]
    return shock(speed_in_per_s=SPEEDS, compression_lb=compression, rebound_lb=rebound)


def shock_force_lb(damper: ShockCurves, *, velocity_in_per_s: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Force of a shock, + against compression, at a shaft velocity, + in compression."""
    velocity = np.asarray(velocity_in_per_s, float)
    return np.where(velocity >= 0, damper.compression(np.abs(velocity)), -damper.rebound(np.abs(velocity)))


def sampled(compression: npt.ArrayLike, rebound: npt.ArrayLike, speeds: npt.ArrayLike) -> ShockCurves:
    return shock(speed_in_per_s=speeds, compression_lb=compression, rebound_lb=rebound)


@pytest.mark.parametrize("points", [2, 3, 4, 9, 30])
def test_curve_is_scipys(points: int) -> None:
    rng = np.random.default_rng(points)
    for _ in range(40):
        x = np.cumsum(rng.uniform(0.05, 3, points))
        y = rng.normal(size=points) * rng.integers(0, 2, points)  # some flat, some turning
        at = rng.uniform(x[0], x[-1], 50)
        ours, theirs = curve(x=x, y=y), PchipInterpolator(x, y)
        np.testing.assert_allclose(ours(at), theirs(at), atol=1e-12)
        np.testing.assert_allclose(ours.derivative(at), theirs(at, 1), atol=1e-10)
        np.testing.assert_allclose(ours(x), y, atol=1e-13)


def test_nothing_is_extrapolated() -> None:
    made = corner_shock("rf")
    assert np.isnan(shock_force_lb(made, velocity_in_per_s=[0, 0.99, -0.5, 10.01, -11])).all()
    assert shock_force_lb(made, velocity_in_per_s=[1, -1, 10]).tolist() == [95, -95, 270]


def test_parts_and_slopes() -> None:
    made = corner_shock("lf")
    speed = np.linspace(1, 10, 50)
    at = at_speed(made, speed_in_per_s=speed)
    np.testing.assert_allclose(at.compression_lb, shock_force_lb(made, velocity_in_per_s=speed))
    np.testing.assert_allclose(-at.rebound_lb, shock_force_lb(made, velocity_in_per_s=-speed))
    np.testing.assert_allclose(at.rebound_over_compression, at.rebound_lb / at.compression_lb)
    step = 1e-6
    ahead = at_speed(made, speed_in_per_s=speed[:-1] + step)
    np.testing.assert_allclose(
        at.compression_slope_lb_s_per_in[:-1], (ahead.compression_lb - at.compression_lb[:-1]) / step, rtol=1e-4
    )
    assert float(at_speed(made, speed_in_per_s=3).rebound_over_compression) == pytest.approx(240 / 115)


def test_linear_cycle() -> None:
    line = sampled([0, 200], [0, 200], [0, 20])
    got = cycle(line, stroke_in=2.0, frequency_hz=1.6)
    assert float(got.peak_in_per_s) == pytest.approx(LINEAR_CYCLE["peak_in_per_s"], rel=1e-12)
    assert float(got.work_in_lb) == pytest.approx(LINEAR_CYCLE["work_in_lb"], rel=1e-9)
    assert float(got.coefficient_lb_s_per_in) == pytest.approx(10, rel=1e-12)
    assert float(shock_force_lb(line, velocity_in_per_s=got.peak_in_per_s)) == pytest.approx(LINEAR_CYCLE["force_lb"])
    assert float(got.least_in_lb) == pytest.approx(float(got.most_in_lb))  # measured down to 0


@pytest.mark.parametrize("power", POWER_LAW_WORK)
def test_power_laws(power: float) -> None:
    speeds = 11 * np.linspace(0, 1, 400) ** 2
    forces = 20 * speeds**power
    got = cycle(sampled(forces, forces, speeds), stroke_in=2.0, frequency_hz=1.6)
    assert float(got.work_in_lb) == pytest.approx(POWER_LAW_WORK[power], rel=2e-5)


def test_digressive_and_unequal() -> None:
    speeds = np.unique(np.concatenate([np.linspace(0, 11, 12), 3 + np.linspace(-1e-3, 1e-3, 9)]))
    knee = [np.where(speeds < 3, low * speeds, 3 * low + 3 * (speeds - 3)) for low in (8, 20)]
    made = sampled(knee[0], knee[1], speeds)
    got = cycle(made, stroke_in=2.0, frequency_hz=1.6)
    assert float(got.work_in_lb) == pytest.approx(DIGRESSIVE["work_in_lb"], rel=1e-7)
    assert float(got.coefficient_lb_s_per_in) == pytest.approx(DIGRESSIVE["coefficient"], rel=1e-7)
    at = at_speed(made, speed_in_per_s=got.peak_in_per_s)
    assert float(at.compression_lb) == pytest.approx(DIGRESSIVE["compression_lb"], rel=1e-9)
    assert float(at.rebound_lb) == pytest.approx(DIGRESSIVE["rebound_lb"], rel=1e-9)
    assert float(at.rebound_over_compression) == pytest.approx(DIGRESSIVE["ratio"], rel=1e-9)


def test_thorby() -> None:
    coefficient = THORBY["coefficient_n_s_per_m"] / N_PER_M_PER_LB_PER_IN
    line = sampled([0, 100 * coefficient], [0, 100 * coefficient], [0, 100])
    for frequency, amplitude in zip(THORBY["frequency_hz"], THORBY["amplitude_m"], strict=True):
        peak = cycle(line, stroke_in=2 * amplitude / M_PER_IN, frequency_hz=frequency).peak_in_per_s
        force = float(shock_force_lb(line, velocity_in_per_s=peak)) * N_PER_LB
        assert force == pytest.approx(THORBY["force_n"], rel=0.011)  # printed to two or three figures


@pytest.mark.parametrize("name", CURVES)
def test_work_is_that_of_the_force_over_time(name: str) -> None:
    compression, rebound = CURVES[name]
    made = sampled((0, *compression), (0, *rebound), (0, *SPEEDS))
    turn = 2 * np.pi * (np.arange(200_000) + 0.5) / 200_000
    velocity = np.pi * 1.5 * 2 * np.cos(turn)
    by_time = float(np.mean(shock_force_lb(made, velocity_in_per_s=velocity) * velocity)) / 1.5
    assert float(cycle(made, stroke_in=2.0, frequency_hz=1.5).work_in_lb) == pytest.approx(by_time, rel=1e-8)


def test_work_below_the_first_point_is_a_range() -> None:
    got = cycle(corner_shock("rf"), stroke_in=[2.0, 0.1, 8.0], frequency_hz=1.5)
    assert np.all(got.least_in_lb[:2] < got.work_in_lb[:2])
    assert np.all(got.work_in_lb[:2] < got.most_in_lb[:2])
    assert float(got.least_in_lb[1]) == pytest.approx(0, abs=1e-12)  # 0.47 in/s at its peak: nothing measured
    assert float(got.work_in_lb[1]) == pytest.approx(np.pi * 95 * 2 * np.pi * 1.5 * 0.05**2)
    assert np.isnan(got.work_in_lb[2])  # 38 in/s, beyond the curve


def test_same_peak_speed_another_loop() -> None:
    one, other = cycle(corner_shock("rf"), stroke_in=[2.0, 1.0], frequency_hz=[1.0, 2.0]).work_in_lb
    assert float(one) == pytest.approx(2 * float(other))


@pytest.mark.parametrize("name", CURVES)
def test_joint_friction_lies_below_the_first_point_of_every_curve(name: str) -> None:
    for direction in ("compression", "rebound"):
        got = friction_crossover(corner_shock(name), friction_lb=[8.0, 120.0, 900.0], direction=direction)
        assert bool(got.below_first[0])
        assert bool(got.above_last[2])
        assert np.isnan(got.speed_in_per_s[[0, 2]]).all()
        measured = getattr(corner_shock(name), direction)
        if not got.below_first[1]:
            assert float(measured(got.speed_in_per_s[1])) == pytest.approx(120)


def test_a_hole_in_a_batch_stays_a_hole() -> None:
    got = friction_crossover(corner_shock("rf"), friction_lb=[120, np.nan], direction="rebound")
    assert np.isfinite(got.speed_in_per_s).tolist() == [True, False]
    assert not (got.below_first | got.above_last).any()


def test_gas_and_stacks() -> None:
    assert float(gas_force(pressure_psi=75, rod_diameter_in=0.625)) == pytest.approx(23, abs=0.05)  # hand: 75 × 0.3068
    one = equivalent_shim(thickness_in=[0.012], diameter_in=1.1)
    two = equivalent_shim(thickness_in=[0.006] * 8, diameter_in=[1.1] * 8)  # eight at half the thickness: t³ / 8 each
    assert two == pytest.approx(one)
    assert two == pytest.approx(0.012)


def test_bad_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="single-valued: 3 follows 3"):
        sampled([1, 2, 3], [1, 2, 3], [1, 3, 3])
    with pytest.raises(ValueError, match="compression_lb is -95 lb; it must be at least 0 lb"):
        sampled([-95, 2], [1, 2], [1, 3])
    with pytest.raises(ValueError, match="one number per point"):
        sampled([1, 2, 3], [1, 2], [1, 3])
    with pytest.raises(ValueError, match="finite"):
        curve(x=[0, 1], y=[0, np.nan])
    with pytest.raises(ValueError, match="stroke_in is 0 in"):
        cycle(corner_shock("rf"), stroke_in=0, frequency_hz=1)
    with pytest.raises(ValueError, match="only shims of one diameter compare"):
        equivalent_shim(thickness_in=[0.01, 0.01], diameter_in=[1.1, 0.9])
    with pytest.raises(ValueError, match="direction"):
        friction_crossover(corner_shock("rf"), friction_lb=1, direction="both")  # type: ignore[arg-type] # the wrong word is the point
