"""Golden answers computed before this engine existed are what SciPy gives from their definitions, to their last figure.

With this the generator of every such value is in the repository: tests/golden/front_by_scipy.py for the corners,
tests/golden/independent_axles.py for the axles.
"""

import math
from typing import Any

import numpy as np
import pytest

from golden.front_by_scipy import LEVEL, STEP, body_velocity, readings, spring_length, swung
from golden.front_corners import CORNER_TABLES, FRONT_CORNERS
from golden.independent_axles import AxleDistances
from golden.independent_solvers import Distances, spin_axis
from golden.joints_and_parts import HYSTERESIS, STATICS
from golden.rear_axles import REAR_AXLES, survey

CORNERS = FRONT_CORNERS["corners"]


def near(value: float, golden: float, decimals: int) -> None:
    """As printed: half of the last figure, and a fifth of it for the rounding of what it was printed from."""
    assert abs(value - golden) <= 0.7 * 10**-decimals, (value, golden)


def line_slope(name: str) -> float:
    middle, velocity, turn = body_velocity(name, 0.0)
    _, y, z = velocity + np.cross(turn, readings(name, 0.0)["patch_in"] - middle)
    return float(-y / z)


@pytest.mark.parametrize("name", CORNERS)
def test_corners(name: str) -> None:
    golden, spring = CORNERS[name]["answers"], CORNERS[name]["spring"]
    at, low, high = (readings(name, each) for each in (0.0, -STEP, STEP))
    for figure, key, decimals in (
        ("caster_deg", "caster_deg", 2),
        ("kingpin_deg", "kpi_deg", 2),
        ("scrub_in", "scrub_in", 2),
        ("trail_in", "trail_in", 2),
    ):
        near(at[figure], golden[key], decimals)
    near((high["camber_deg"] - low["camber_deg"]) / (2 * STEP), golden["camber_gain_deg_per_in"], 3)
    near((high["toe_deg"] - low["toe_deg"]) / (2 * STEP), golden["bump_steer_deg_per_in"], 3 if "lf" in name else 4)
    near(line_slope(name), golden["n_line_slope"], 4)
    ratios = [
        (spring_length(name, spring, z - STEP) - spring_length(name, spring, z + STEP)) / (2 * STEP) for z in (0, 2)
    ]
    near(ratios[0], golden["motion_ratio"], 3 if name == "asphalt lf" else 4)
    near(ratios[1], golden["motion_ratio_at_2in"], 3 if name == "asphalt lf" else 4)
    near(spring["rate_lb_per_in"] * ratios[0] ** 2, golden["spring_rate_at_wheel_lb_per_in"], 1)
    for travel, *row in golden["travel_camber_toe_caster"]:
        there = readings(name, travel)
        for figure, value in zip(("camber_deg", "toe_deg", "caster_deg"), row, strict=True):
            near(there[figure], value, 3)


@pytest.mark.parametrize("car", ["dirt", "asphalt"])
def test_roll_centers(car: str) -> None:
    golden = FRONT_CORNERS["roll_center"][car]
    slopes = [line_slope(f"{car} {side}") for side in ("lf", "rf")]
    (_, y1, z1), (_, y2, z2) = (readings(f"{car} {side}", 0.0)["patch_in"] for side in ("lf", "rf"))
    y = (z2 - z1 + slopes[0] * y1 - slopes[1] * y2) / (slopes[0] - slopes[1])
    near(y, golden["y_in"], 2)
    near(z1 + slopes[0] * (y - y1) - (z1 + z2) / 2, golden["height_in"], 2)
    lines = [-slopes[0] * y1, -slopes[1] * y2]
    near(lines[0], golden["n_line_at_y0_left_in"], 2)
    near(lines[1], golden["n_line_at_y0_right_in"], 2)
    near(0.25 * lines[0] + 0.75 * lines[1], golden["force_based_at_y0_rf75_in"], 2)


@pytest.mark.parametrize(
    "moved",
    [
        ("surveyed", {}),
        ("lower stud +0.25 in", {"lower_stud_in": 0.25}),
        ("upper stud +0.25 in", {"upper_stud_in": 0.25}),
    ],
)
def test_corner_tables(moved: tuple[str, dict[str, float]]) -> None:
    given, (name, moves) = CORNER_TABLES, moved
    axes = {"upper_stud_axis": (0, 0, 1), "lower_stud_axis": (0, 0, -1)}
    readings_ = {key: given[key] for key in ("camber_deg", "toe_deg", "loaded_radius_in")}
    points = {key: np.array(place, float) for key, place in given["points_in"].items()}
    survey_: dict[str, Any] = {"side": 1, **points, **readings_, **axes}
    other = Distances(survey_, **moves)
    for travel, row in given["tables"][name].items():
        at, spin = other.solve(float(travel), 0.0)
        assert math.degrees(math.atan2(-spin[2], spin[1])) == pytest.approx(row["camber"], abs=1e-8)
        assert math.degrees(math.atan2(spin[0], spin[1])) == pytest.approx(row["toe"], abs=1e-8)
        x, y, z = at["upper_ball"] - at["lower_ball"]
        assert math.degrees(math.atan2(-x, z)) == pytest.approx(row["caster"], abs=1e-8)
        assert math.degrees(math.atan2(-y, z)) == pytest.approx(row["kpi"], abs=1e-8)
        patch = LEVEL.patch(at["wheel_center"], spin, survey_["loaded_radius_in"])
        ground = at["lower_ball"] + (patch[2] - at["lower_ball"][2]) / z * np.array([x, y, z])
        found = [patch[1] - ground[1], ground[0] - patch[0], patch[1], *at["wheel_center"]]
        assert found == pytest.approx(
            [row[key] for key in ("scrub", "trail", "cp_y", "wc_x", "wc_y", "wc_z")], abs=1e-8
        )
    assert spin_axis(survey_)[1] > 0


@pytest.mark.parametrize("name", ["dirt", "asphalt"])
def test_axles(name: str) -> None:
    golden = REAR_AXLES[name]["answers"]

    def at(bump: float, roll_deg: float) -> tuple[float, float]:
        other = AxleDistances(survey(name))
        _, left, right = other.solve(bump, math.radians(roll_deg))
        nose = other.carried(other.left + np.eye(3)[0], "axle", other.start) - left
        x, y, _ = left - right
        return math.degrees(math.atan2(-x, y)), math.degrees(math.atan2(nose[2], nose[0]))

    by_bump, by_roll = (
        np.subtract(at(*(STEP * way for way in ways)), at(*(-STEP * way for way in ways))) / (2 * STEP)
        for ways in ((1, 0), (0, 1))
    )
    near(by_roll[0], golden["steer_per_roll_deg_per_deg"], 3)
    near(by_bump[0], golden["steer_per_bump_deg_per_in"], 3)
    near(by_bump[1], golden["pinion_per_bump_deg_per_in"], 3)


def test_friction_rates_and_statics_of_the_balls() -> None:
    for name, golden in STATICS.items():
        for arm in ("upper", "lower"):
            low, high = (swung(name, arm, np.zeros(3), each)[1] for each in (-STEP, STEP))
            rate = (high * low.inv()).as_rotvec() / (2 * STEP) - body_velocity(name, 0.0)[2]
            near(float(np.linalg.norm(rate)), golden[arm], 4)
        # The spring's work over an inch of travel is that of the patch's load, steering locked: virtual work.
        spring = CORNERS[name]["spring"]
        ratio = (spring_length(name, spring, -STEP) - spring_length(name, spring, STEP)) / (2 * STEP)
        middle, velocity, turn = body_velocity(name, 0.0)
        rise = (velocity + np.cross(turn, readings(name, 0.0)["patch_in"] - middle))[2]
        near(golden["patch_lb"] * rise / ratio, golden["spring_lb"], 0)
    work = sum(HYSTERESIS["torque_in_lb"][ball] * HYSTERESIS["rates"][ball] for ball in ("upper_ball", "lower_ball"))
    assert work == pytest.approx(HYSTERESIS["friction_lb"], abs=1e-9)
