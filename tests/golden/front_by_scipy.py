"""Readings and motions of the corners of front_corners.json, by SciPy's solution and the definitions."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.spatial.transform import Rotation

from golden.independent_axles import GroundUnder
from golden.independent_solvers import Distances
from golden.moves import corner_survey

STEP = 1e-3
LEVEL = GroundUnder(0.0, 0.0, 0.0)


def readings(name: str, travel: float, rack: float = 0.0) -> dict[str, Any]:
    """Points, spin and patch of a corner, and what a gauge reads, by SciPy."""
    survey = corner_survey(name)
    points, spin = Distances(survey).solve(travel, rack)
    side, patch = survey["side"], LEVEL.patch(points["wheel_center"], spin, survey["loaded_radius_in"])
    steer = points["upper_ball"] - points["lower_ball"]
    ground = points["lower_ball"] + (patch[2] - points["lower_ball"][2]) / steer[2] * steer
    return {
        "points": points,
        "spin": spin,
        "patch_in": patch,
        "camber_deg": np.degrees(-np.arcsin(spin[2])),
        "toe_deg": np.degrees(np.arctan2(spin[0], side * spin[1])),
        "caster_deg": np.degrees(np.arctan2(-steer[0], steer[2])),
        "kingpin_deg": np.degrees(np.arctan2(-side * steer[1], steer[2])),
        "scrub_in": side * (patch[1] - ground[1]),
        "trail_in": ground[0] - patch[0],
    }


def body_velocity(name: str, travel: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A point of the spindle, its velocity and the spindle's turning, per inch of travel, by central differences."""
    low, here, high = (readings(name, travel + each)["points"] for each in (-STEP, 0.0, STEP))
    names = list(here)
    middle = np.mean([here[each] for each in names], axis=0)
    arms = np.array([here[each] - middle for each in names])
    rates = np.array([(high[each] - low[each]) / (2 * STEP) for each in names])
    # v = v0 + w x r, by least squares over the four points.
    rows = np.vstack([np.hstack([np.eye(3), np.array([np.cross(axis, arm) for axis in np.eye(3)]).T]) for arm in arms])
    found = np.linalg.lstsq(rows, rates.ravel(), rcond=None)[0]
    return middle, found[:3], found[3:]


def swung(name: str, arm: str, point: np.ndarray, travel: float, rack: float = 0.0) -> tuple[np.ndarray, Rotation]:
    """Where a point of an arm is at a travel, and how the arm turned from its survey: with its ball round its shaft."""
    at = corner_survey(name)
    front, rear, ball = (at[f"{arm}_{end}"] for end in ("front", "rear", "ball"))
    axis = (rear - front) / np.linalg.norm(rear - front)
    out = [each - front for each in (ball, readings(name, travel, rack)["points"][f"{arm}_ball"])]
    flat = [each - (each @ axis) * axis for each in out]
    turn = Rotation.from_rotvec(axis * math.atan2(axis @ np.cross(flat[0], flat[1]), flat[0] @ flat[1]))
    return np.asarray(front + turn.apply(point - front)), turn


def spindle_turn(name: str, travel: float, rack: float = 0.0) -> Rotation:
    """How the spindle turned from its survey, by its four points."""
    at, now = corner_survey(name), readings(name, travel, rack)["points"]
    first, *others = now
    before, after = (np.array([each[other] - each[first] for other in others]) for each in (at, now))
    return Rotation.align_vectors(after, before)[0]


def spring_length(name: str, spring: dict[str, Any], travel: float) -> float:
    """Length of a spring on the lower arm at a travel."""
    moving, _ = swung(name, "lower", np.asarray(spring["moving"], float), travel)
    return float(np.linalg.norm(moving - np.asarray(spring["chassis"], float)))
