"""A measured bump sheet shows how high the rod's inner end really is."""

from dataclasses import replace

import numpy as np
import pytest

from golden.front_corners import corner
from studbook_service.engine.bump_sheet import fit_tie_inner
from studbook_service.engine.corner import FrontLinkage
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.wheel import wheel

TRAVELS = np.array([-2.0, -1.0, 0.0, 1.0, 2.0, 3.0])


def raised(name: str, amount: float) -> FrontLinkage:
    return replace(corner(name), tie_inner=corner(name).tie_inner + np.array([0.0, 0.0, amount]))


@pytest.mark.parametrize("amount", [-0.25, -1 / 16, 0.0, 1 / 8, 0.5])
@pytest.mark.parametrize("name", ["dirt rf", "asphalt lf"])
def test_finds_the_height_the_sheet_was_made_with(name: str, amount: float) -> None:
    sheet = wheel(solve_travel(raised(name, amount), travel_in=TRAVELS)).toe_deg
    fit = fit_tie_inner(corner(name), travel_in=TRAVELS, toe_deg=sheet - 0.7)
    assert fit.converged
    assert float(fit.shift_in) == pytest.approx(amount, abs=1e-8)
    assert float(fit.rms_after_deg) < 1e-9
    np.testing.assert_allclose(wheel(solve_travel(fit.corner, travel_in=TRAVELS)).toe_deg, sheet, atol=1e-8)


def test_a_noisy_sheet_keeps_a_residual_no_larger_than_before() -> None:
    noise = np.array([0.01, -0.01, 0.0, 0.015, -0.005, -0.01])
    sheet = wheel(solve_travel(raised("dirt rf", 0.1), travel_in=TRAVELS)).toe_deg + noise
    fit = fit_tie_inner(corner("dirt rf"), travel_in=TRAVELS, toe_deg=sheet)
    assert float(fit.shift_in) == pytest.approx(0.1, abs=0.02)
    assert 0.003 < float(fit.rms_after_deg) < float(fit.rms_before_deg)
    for step in (-1e-3, 1e-3):
        near = wheel(solve_travel(raised("dirt rf", float(fit.shift_in) + step), travel_in=TRAVELS)).toe_deg - sheet
        assert np.std(near) > float(fit.rms_after_deg)


def test_several_sheets_at_once() -> None:
    amounts = (-0.1, 0.05)
    sheets = np.stack([wheel(solve_travel(raised("dirt rf", each), travel_in=TRAVELS)).toe_deg for each in amounts])
    fit = fit_tie_inner(corner("dirt rf"), travel_in=TRAVELS, toe_deg=sheets)
    np.testing.assert_allclose(fit.shift_in, amounts, atol=1e-8)


def test_a_sheet_beyond_reach_is_not_fitted() -> None:
    fit = fit_tie_inner(corner("dirt rf"), travel_in=[-40.0, 0.0, 1.0], toe_deg=[0.0, 0.0, 0.1])
    assert not fit.converged
    assert np.isnan(fit.shift_in)


def test_refuses_readings_that_do_not_pair() -> None:
    with pytest.raises(ValueError, match="toe_deg"):
        fit_tie_inner(corner("dirt rf"), travel_in=TRAVELS, toe_deg=[0.0, 0.1])
