"""Studs against worked examples in print; no strength is assumed."""

import inspect
from typing import Any

import numpy as np
import pytest

from golden.joints_and_parts import (
    CANTILEVER,
    GERE_BEAM,
    GERE_TUBE,
    HARRIS_LEAF,
    SHAPE_FACTOR_PRINTED,
    STEEL_4140_1000F_YIELD_PSI,
    TAPER,
)
from studbook_service.engine.studs import SHEAR_YIELD, stud_limits, stud_load, stud_stress, worst_section


def test_cantilever() -> None:
    want = CANTILEVER
    stress = stud_stress(
        across_lb=want["across_lb"], axial_lb=-900, lever_in=want["lever_in"], seat_diameter_in=want["diameter_in"]
    )
    assert float(stress.moment_in_lb) == pytest.approx(want["moment_in_lb"])
    assert float(stress.bending_psi) == pytest.approx(want["bending_psi"], rel=1e-9)
    assert float(stress.shear_psi) == pytest.approx(want["shear_psi"], rel=1e-9)
    assert float(stress.axial_psi) == pytest.approx(-900 / (np.pi * 0.75**2 / 4))
    limits = stud_limits(lever_in=want["lever_in"], seat_diameter_in=want["diameter_in"], yield_psi=want["yield_psi"])
    assert float(limits.first_yield_lb) * want["lever_in"] == pytest.approx(want["first_yield_in_lb"], rel=1e-9)
    assert float(limits.first_yield_lb) / want["across_lb"] == pytest.approx(want["yield_over_bending"], rel=1e-9)
    assert float(limits.hinge_lb) * want["lever_in"] == pytest.approx(want["hinge_in_lb"], rel=1e-9)
    assert float(limits.hinge_lb / limits.first_yield_lb) == pytest.approx(SHAPE_FACTOR_PRINTED, rel=1e-3)


def test_bends_before_it_shears_above_0_368() -> None:
    assert pytest.approx(0.5773502691896258) == SHEAR_YIELD  # distortion energy, Shigley ch. 5 (from memory)
    slender = 2 / (3 * np.pi * SHEAR_YIELD)  # lever over diameter at which a round stud's hinge and shear come together
    assert round(slender, 3) == 0.368
    for lever, bends in ((slender * 0.999, False), (slender * 1.001, True)):
        assert bool(stud_limits(lever_in=lever, seat_diameter_in=1, yield_psi=100e3).bends_first) is bends


def test_taper_is_worst_half_way_and_the_title_names_the_seat_alone() -> None:
    want = TAPER
    share = np.linspace(0.001, 1, 1000)
    diameters = want["tip_in"] + (want["root_in"] - want["tip_in"]) * share
    sections = np.stack([diameters, share * want["length_in"]], axis=1)
    stud = {"across_lb": want["load_lb"], "axial_lb": 0, "lever_in": 2.0, "seat_diameter_in": want["root_in"]}
    seat, whole = stud_stress(**stud), stud_stress(**stud, sections_in=sections)
    assert float(seat.bending_psi) == pytest.approx(want["root_psi"], rel=1e-9)
    assert float(whole.bending_psi) == pytest.approx(want["peak_psi"], rel=1e-9)
    assert share[int(whole.section) - 1] == pytest.approx(want["peak_at"])
    assert (seat.title, whole.title) == ("seat section only", "seat and given sections")


def test_gere_and_harris() -> None:
    tube, share = GERE_TUBE, np.linspace(0.01, 1, 100)
    diameter = tube["tip"] + (tube["root"] - tube["tip"]) * share
    moment, modulus = tube["load"] * tube["length"] * share, np.pi * diameter**2 * tube["wall"] / 4
    worst, at = worst_section(moment_in_lb=moment, modulus_in3=modulus)
    assert float(worst) == pytest.approx(tube["printed"], rel=1e-3)
    assert tube["length"] * share[at] == pytest.approx(tube["at"])
    assert float(worst) / (moment[-1] / modulus[-1]) == pytest.approx(tube["ratio"])
    beam = GERE_BEAM
    depth = beam["tip_depth"] + (beam["root_depth"] - beam["tip_depth"]) * share
    moment, modulus = beam["couple"] + beam["load"] * beam["length"] * share, beam["width"] * depth**2 / 6
    worst, at = worst_section(moment_in_lb=moment, modulus_in3=modulus)
    assert (float(worst), beam["length"] * share[at]) == pytest.approx((beam["printed"], beam["at"]))
    assert moment[-1] / modulus[-1] == pytest.approx(beam["root"])
    leaf = HARRIS_LEAF
    modulus = leaf["root_width"] * share * leaf["depth"] ** 2 / 6
    worst, _ = worst_section(moment_in_lb=leaf["load"] * leaf["length"] * share, modulus_in3=modulus)
    assert float(worst) == pytest.approx(leaf["printed"])


def test_a_neck_governs() -> None:
    stud = {"across_lb": 1000, "axial_lb": 0, "lever_in": 1.3, "seat_diameter_in": 0.75}
    necked = stud_stress(**stud, sections_in=[(0.45, 0.6)])
    assert int(necked.section) == 1
    assert float(necked.bending_psi) == pytest.approx(32 * 600 / (np.pi * 0.45**3))
    limits = stud_limits(lever_in=1.3, seat_diameter_in=0.75, yield_psi=120e3, sections_in=[(0.45, 0.6)])
    assert float(limits.first_yield_lb) == pytest.approx(120e3 * 1000 / float(necked.bending_psi))
    assert float(limits.shear_lb) == pytest.approx(SHEAR_YIELD * 120e3 * np.pi / 4 * 0.45**2)


def test_a_longer_stud_is_further_from_its_ball_at_every_section() -> None:
    """A neck of 0.6 in, 0.7 in from the ball of the surveyed stud, is 1.2 in from that of one half an inch longer."""
    stud: dict[str, Any] = {
        "lever_in": 1.3,
        "seat_diameter_in": 2.0,
        "sections_in": [(0.6, 0.7)],
        "extra_in": [0.0, 0.5, 1.0],
    }
    levers, section = np.array([0.7, 1.2, 1.7]), np.pi * 0.6**3 / 32
    stress = stud_stress(across_lb=900, axial_lb=0, **stud)
    np.testing.assert_allclose(stress.bending_psi, 900 * levers / section)
    assert stress.section.tolist() == [1, 1, 1]
    np.testing.assert_allclose(stress.moment_in_lb, 900 * (1.3 + np.array([0.0, 0.5, 1.0])))
    limits = stud_limits(yield_psi=120e3, **stud)
    np.testing.assert_allclose(limits.first_yield_lb, 120e3 * section / levers)
    np.testing.assert_allclose(limits.hinge_lb, 120e3 * 0.6**3 / (6 * levers))


def test_batches() -> None:
    stress = stud_stress(
        across_lb=np.ones((4, 1)),
        axial_lb=np.full((4, 1), np.nan),
        lever_in=1.3,
        seat_diameter_in=0.75,
        extra_in=[0.0, 0.5, 1.0],
        sections_in=[(0.6, 0.7)],
    )
    assert stress.bending_psi.shape == (4, 3)
    assert stress.section.shape == (4, 3)
    assert np.isnan(stress.axial_psi).all()
    load = stud_load(force_lb=np.ones((3, 5)), axis=(0, 0, 2))
    np.testing.assert_allclose(load.across_lb, np.sqrt(2))
    np.testing.assert_allclose(load.axial_lb, -1)


def test_strength_is_never_assumed() -> None:
    low, high = sorted(STEEL_4140_1000F_YIELD_PSI.values())
    assert high / low > 1.24  # one alloy, one tempering, two tables
    assert inspect.signature(stud_limits).parameters["yield_psi"].default is inspect.Parameter.empty


def test_bad_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="yield_psi is 151 psi; it must be at least 10000 psi"):
        stud_limits(lever_in=1.6, seat_diameter_in=0.75, yield_psi=151)
    with pytest.raises(ValueError, match="seat_diameter_in is 0 in"):
        stud_limits(lever_in=1.6, seat_diameter_in=0, yield_psi=120e3)
    with pytest.raises(ValueError, match=r"with extra_in is -0\.4 in"):
        stud_limits(lever_in=1.6, seat_diameter_in=0.7, yield_psi=120e3, extra_in=-2)
    with pytest.raises(ValueError, match="across_lb is -1 lb"):
        stud_stress(across_lb=-1, axial_lb=0, lever_in=1, seat_diameter_in=1)
    with pytest.raises(ValueError, match="sections_in"):
        stud_stress(across_lb=1, axial_lb=0, lever_in=1, seat_diameter_in=1, sections_in=[0.5, 0.6])
    with pytest.raises(ValueError, match="axis"):
        stud_load(force_lb=(0, 0, 1), axis=(1, 1))
