"""What each move of a front corner and of a rear axle does on invented cars: moves.json and where it comes from.

`python -m golden.moves` in tests/ writes the file, by SciPy on distances. tests/engine/test_every_move.py proves it
fresh and holds the engine and Pinocchio against it, tests/translate/test_every_move.py the way from the document.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from golden.independent_axles import AxleDistances, GroundUnder, Refit, roll_of
from golden.independent_solvers import SPINDLE, Distances
from golden.rear_axles import survey as axle_survey

HERE = Path(__file__).parent
FILE = HERE / "moves.json"
SOURCE = (
    "SciPy's Levenberg-Marquardt on distances, tests/golden/independent_solvers.py and independent_axles.py, on the"
    " invented cars of front_corners.json and rear_axles.json; written by tests/golden/moves.py. in and deg."
)

AXES: dict[str, tuple[float, float, float]] = {
    "upper_stud_axis": (0.10, 0.05, 0.97),
    "lower_stud_axis": (0.06, -0.12, -0.95),
    "upper_housing_axis": (-0.04, 0.20, 0.96),
    "lower_housing_axis": (0.05, 0.15, -0.98),
    "outer_axis": (0.08, 0.11, 0.99),
}
"""Measured directions, none the default; y is outboard."""

FRONT: dict[str, Any] = {
    "upper_stud_in": 0.5,
    "lower_stud_in": 0.375,
    "upper_housing_in": 0.25,
    "lower_housing_in": 0.1875,
    "upper_front_in": (0.125, 0.0625, -0.25),
    "upper_rear_in": (-0.0625, 0.125, 0.1875),
    "lower_front_in": (0.0625, -0.125, 0.25),
    "lower_rear_in": (0.125, 0.1875, -0.125),
    "tie_inner_in": (0.0625, 0.03125, 0.125),
    "upper_arm_in": 0.25,
    "tie_rod_in": 0.0625,
    "outer_spacer_in": 0.125,
    "wheel_offset_in": 1.0,
    "loaded_radius_in": 0.25,
}
"""Every move of a corner; y of a pivot's displacement is outboard."""

CORNERS = {"dirt lf": 1, "dirt rf": -1}
TRAVEL_IN = 1.0

REAR: dict[str, dict[str, dict[str, Any]]] = {
    axle: {
        f"{rod} {move}": {"rod": rod, "refit": refit}
        for rod in rods
        for move, refit in (
            ("longer_in", {"longer_in": 0.1875}),
            ("chassis_in", {"chassis_in": (0.25, -0.125, 0.375)}),
            ("carrier_in", {"carrier_in": (-0.125, 0.1875, 0.25)}),
        )
    }
    | {f"{side} wheel_offset_in": {"outboard": {side: 0.75}} for side in ("wheel_left", "wheel_right")}
    | {f"{side} radius_in": {"radius": {side: 0.375}} for side in ("wheel_left", "wheel_right")}
    | {f"{end} of the spring": {"spring": {end: (0.375, 0.5, -0.25)}} for end in ("chassis", "moving")}
    for axle, rods in (
        ("dirt", ("left_upper", "left_lower", "right_upper", "right_lower", "torque_link", "lateral_bar")),
        ("asphalt", ("lower_left", "lower_right", "torque_link", "lateral_bar")),
    )
}
"""Every move of an axle: each rod's length and both ends, the wheels' offsets and radii, both ends of a spring."""

SPRING: dict[str, Any] = {
    "dirt": {"chassis": (-101.0, 20.5, 29.0), "moving": (-100.0, 20.5, 15.0), "on": "birdcage_left"},
    "asphalt": {"chassis": (-104.5, -21.5, 28.0), "moving": (-104.0, -22.0, 14.5), "on": "axle"},
}
BUMP_IN, ROLL_DEG = 1.0, 2.0


def outboard(place: Any, side: int) -> np.ndarray:
    """A displacement whose y is outboard, in car axes."""
    return np.asarray(place, float) * (1, side, 1)


def corner_survey(name: str) -> dict[str, Any]:
    """A corner of front_corners.json with measured axes, as keyword arguments of `corner_from_survey`."""
    given = json.loads((HERE / "front_corners.json").read_text())["corners"][name]
    points = {point: np.asarray(place, float) for point, place in given["points_in"].items()}
    readings = {key: given[key] for key in ("side", "camber_deg", "toe_deg", "loaded_radius_in")}
    return {**points, **readings, **{axis: outboard(way, given["side"]) for axis, way in AXES.items()}}


def front_moves(side: int) -> dict[str, Any]:
    """Every move in car axes, by name."""
    return {name: outboard(amount, side) if isinstance(amount, tuple) else amount for name, amount in FRONT.items()}


def corner_figures(
    survey: dict[str, Any], points: dict[str, np.ndarray], spin: np.ndarray, radius_in: float
) -> dict[str, Any]:
    """Camber, toe, caster and patch of a solved corner, from their definitions."""
    side, (x, _, z) = survey["side"], points["upper_ball"] - points["lower_ball"]
    patch = GroundUnder(0.0, 0.0, 0.0).patch(points["wheel_center"], spin, radius_in)
    return {
        "camber_deg": _rounded(-np.degrees(np.arcsin(spin[2]))),
        "toe_deg": _rounded(np.degrees(np.arctan2(spin[0], side * spin[1]))),
        "caster_deg": _rounded(np.degrees(np.arctan2(-x, z))),
        "patch_in": [_rounded(each) for each in patch],
    }


def corner_expected(name: str, **moves: Any) -> dict[str, Any]:
    """What SciPy says of a corner with moves made, an inch up from its survey."""
    survey = corner_survey(name)
    points, spin = Distances(survey, **moves).solve(TRAVEL_IN, 0.0)
    assert set(points) == set(SPINDLE)
    return corner_figures(survey, points, spin, survey["loaded_radius_in"] + moves.get("loaded_radius_in", 0.0))


def moved_axle(name: str, move: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Refit], dict[str, Any]]:
    """An axle's survey with its wheels as fitted, its rods' moves, and its spring."""
    given = dict(axle_survey(name))
    line = np.asarray(given["wheel_left"], float) - np.asarray(given["wheel_right"], float)
    line /= np.linalg.norm(line)
    for wheel, way in (("wheel_left", 1), ("wheel_right", -1)):
        given[wheel] = np.asarray(given[wheel], float) + way * move.get("outboard", {}).get(wheel, 0.0) * line
        radius = f"{wheel.removeprefix('wheel_')}_radius_in"
        given[radius] = given[radius] + move.get("radius", {}).get(wheel, 0.0)
    refits = {move["rod"]: Refit(**move["refit"])} if "rod" in move else {}
    spring = {**SPRING[name]}
    for end, shift in move.get("spring", {}).items():
        spring[end] = np.asarray(spring[end], float) + shift
    return given, refits, spring


def axle_expected(name: str, move: dict[str, Any]) -> dict[str, Any]:
    """What SciPy says of an axle with a move made, in bump and roll; the ratio by central differences."""
    given, refits, spring = moved_axle(name, move)
    other = AxleDistances(given, refits)

    def length(bump: float) -> float:
        other.solve(bump, np.radians(ROLL_DEG))
        return float(np.linalg.norm(other.carried(spring["moving"], spring["on"], other.start) - spring["chassis"]))

    step = 1e-3
    ahead = [length(BUMP_IN + each * step) for each in (-2, -1, 1, 2)]
    ratio = -(ahead[0] - 8 * ahead[1] + 8 * ahead[2] - ahead[3]) / (12 * step)
    now = length(BUMP_IN)
    _, left, right = other.place(other.start)
    nose = other.carried(other.left + np.eye(3)[0], "axle", other.start) - left
    line, was = left - right, other.left - other.right
    under = GroundUnder(0.0, 0.0, 0.0)
    assert abs(roll_of(left, right) - roll_of(other.left, other.right) - np.radians(ROLL_DEG)) < 1e-9
    return {
        "lead_change_in": [_rounded(left[0] - other.left[0]), _rounded(right[0] - other.right[0])],
        "travel_in": [_rounded(left[2] - other.left[2]), _rounded(right[2] - other.right[2])],
        "lateral_shift_in": _rounded((left[1] + right[1] - other.left[1] - other.right[1]) / 2),
        "steer_deg": _rounded(np.degrees(np.arctan2(-line[0], line[1]) - np.arctan2(-was[0], was[1]))),
        "pinion_deg": _rounded(np.degrees(np.arctan2(nose[2], nose[0]))),
        "birdcage_indexing_deg": [_rounded(-np.degrees(turned)) for turned in other.start[6:]],
        "spring_length_in": _rounded(now),
        "spring_bump_ratio": _rounded(ratio),
        "patch_in": [
            [_rounded(each) for each in under.patch(center, line, radius)]
            for center, radius in zip((left, right), other.radii, strict=True)
        ],
    }


def _rounded(value: float) -> float:
    return round(float(value), 9) + 0.0


def expected() -> dict[str, Any]:
    """Everything in moves.json."""
    return {
        "source": SOURCE,
        "front": {
            name: {
                "surveyed": corner_expected(name),
                **{move: corner_expected(name, **{move: amount}) for move, amount in front_moves(side).items()},
                "all": corner_expected(name, **front_moves(side)),
            }
            for name, side in CORNERS.items()
        },
        "rear": {
            name: {"surveyed": axle_expected(name, {})}
            | {each: axle_expected(name, move) for each, move in moves.items()}
            for name, moves in REAR.items()
        },
    }


def written(tree: dict[str, Any]) -> str:
    """The file: a move to a line."""
    parts = ['"source": ' + json.dumps(tree["source"])]
    for axle in ("front", "rear"):
        cars = []
        for name, moves in tree[axle].items():
            lines = ",\n".join(f"   {json.dumps(move)}: {json.dumps(figures)}" for move, figures in moves.items())
            cars.append(f"  {json.dumps(name)}: {{\n{lines}\n  }}")
        parts.append(f'"{axle}": {{\n' + ",\n".join(cars) + "\n }")
    return "{\n " + ",\n ".join(parts) + "\n}\n"


if __name__ == "__main__":
    FILE.write_text(written(expected()))
