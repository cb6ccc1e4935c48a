"""The center of gravity, against published forms, hand statics and the scatter of repeated weighings."""

import numpy as np
import pytest

from golden.wheel_loads import (
    CG_EQUAL_RADII,
    CG_FORGOTTEN_RADII_IN,
    CG_UNEQUAL_RADII,
    CORNER_WEIGHTS,
)
from studbook_service.engine.cg import cg_from_scales, cg_height, tilt_angle

SIGMAS = {"scale_sigma_lb": 1.0, "tilt_sigma_deg": 0.1, "length_sigma_in": 0.06}


def test_location_by_moments() -> None:
    front, rear = np.array(CORNER_WEIGHTS["tracks_in"]) / 2
    base = CORNER_WEIGHTS["wheelbase_in"]
    at = cg_from_scales(
        loads_lb=CORNER_WEIGHTS["loads_lb"], x_in=[0, 0, -base, -base], y_in=[front, -front, rear, -rear]
    )
    assert float(at.x_in) == pytest.approx(-CORNER_WEIGHTS["behind_front_in"], rel=1e-14)
    assert float(at.y_in) == pytest.approx(CORNER_WEIGHTS["left_of_middle_in"], rel=1e-13)


@pytest.mark.parametrize("case", [CG_EQUAL_RADII, CG_UNEQUAL_RADII])
def test_height_is_the_inverse_of_the_statics(case: dict[str, float]) -> None:
    assert float(cg_height(**case, **SIGMAS).height_in) == pytest.approx(15.0, abs=1e-9)


def test_forgetting_that_the_radii_differ() -> None:
    forgetful = {**CG_UNEQUAL_RADII, "raised_radius_in": 13.4}
    assert float(cg_height(**forgetful, **SIGMAS).height_in) == pytest.approx(CG_FORGOTTEN_RADII_IN, abs=1e-9)


def test_either_axle_may_be_raised() -> None:
    # free body: weight 2800 at (x, h), wheelbase 108, the rear lifted by 8 deg about the front axle line
    weight, base, height, ahead = 2800.0, 108.0, 15.0, 57.24
    raised_radius, ground_radius, tilt = 13.4, 12.6, np.radians(8)
    level = weight * ahead / base
    along = ahead * np.cos(tilt) + (height - ground_radius) * -np.sin(tilt)
    reach = base * np.cos(tilt) - (raised_radius - ground_radius) * np.sin(tilt)
    tilted = weight * along / reach
    found = cg_height(
        raised_level_lb=level, ground_level_lb=weight - level, raised_tilted_lb=tilted, wheelbase_in=base, tilt_deg=8.0,
        raised_radius_in=raised_radius, ground_radius_in=ground_radius, **SIGMAS,
    )  # fmt: skip
    assert float(found.height_in) == pytest.approx(height, abs=1e-9)


def test_a_pound_of_one_scale_is_a_quarter_inch() -> None:
    # dh = L dF / (W tan theta): 0.27 in for 1 lb at 2800 lb, 108 in, 8 deg
    with_more = {**CG_EQUAL_RADII, "raised_tilted_lb": CG_EQUAL_RADII["raised_tilted_lb"] - 1}
    assert float(cg_height(**with_more, **SIGMAS).height_in) - 15 == pytest.approx(0.27, abs=0.005)


def test_the_uncertainty_is_the_scatter_of_repeated_weighings() -> None:
    rng = np.random.default_rng(7)
    sure = cg_height(**CG_UNEQUAL_RADII, **SIGMAS)
    errors = {"lb": SIGMAS["scale_sigma_lb"], "deg": SIGMAS["tilt_sigma_deg"], "in": SIGMAS["length_sigma_in"]}
    scatter = {
        name: value + rng.standard_normal(200_000) * errors[name.rpartition("_")[2]]
        for name, value in CG_UNEQUAL_RADII.items()
    }
    repeated = cg_height(**scatter, **SIGMAS).height_in
    assert float(sure.sigma_in) == pytest.approx(float(repeated.std()), rel=0.02)
    parts = (sure.scale_sigma_in, sure.tilt_sigma_in, sure.length_sigma_in)
    assert float(np.sqrt(sum(part**2 for part in parts))) == pytest.approx(float(sure.sigma_in), rel=1e-12)


def test_tilt_from_the_height_an_axle_is_raised() -> None:
    # sin(theta) = H / L for equal radii: openbooks.link/?p=9580
    same = tilt_angle(rise_in=108 * np.sin(np.radians(8)), wheelbase_in=108, raised_radius_in=13, ground_radius_in=13)
    assert float(same) == pytest.approx(8, abs=1e-12)
    other = np.radians(float(tilt_angle(rise_in=15, wheelbase_in=108, raised_radius_in=12.6, ground_radius_in=13.4)))
    risen = 108 * np.sin(other) + (12.6 - 13.4) * np.cos(other) - (12.6 - 13.4)
    assert risen == pytest.approx(15, abs=1e-12)


@pytest.mark.parametrize(
    ("given", "names"),
    [
        ({"tilt_deg": 0}, "tilt_deg is 0 deg"),
        ({"wheelbase_in": -108}, "wheelbase_in is -108 in"),
        ({"scale_sigma_lb": -1}, "scale_sigma_lb is -1 lb"),
    ],
)
def test_bad_arguments_are_refused_by_name(given: dict[str, float], names: str) -> None:
    with pytest.raises(ValueError, match=names):
        cg_height(**{**CG_EQUAL_RADII, **SIGMAS, **given})
