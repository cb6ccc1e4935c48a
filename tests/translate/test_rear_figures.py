"""Every figure of a rear answer, its sign and size, by SciPy's own solution of the same axle and the definitions."""

import math
from typing import Any

import numpy as np
import pytest

from golden.independent_axles import AxleDistances, GroundUnder, roll_of
from golden.rear_axles import survey
from studbook.wire.rear import BumpRolls
from studbook_service.translate.rear import rear_answer
from translate.documents import HEIGHTS, REAR, whole_car, with_edits

STEP = 1e-3
LEVEL = GroundUnder(0.0, 0.0, 0.0)
SPRINGS = {
    "lr": {"chassis_in": [-103, 18.2, 28.4], "moving_in": [-105.6, 20.5, 11.2], "sits_on": "birdcage"},
    "rr": {"chassis_in": [-101.5, -20.0, 27.8], "moving_in": [-104.8, -23.5, 12.0], "sits_on": "axle"},
}
CAGES = {"lr": "birdcage_left", "rr": "axle"}
LOW = 1.0
CAGE_LEVER_IN = 5.0


def answer(over: BumpRolls | None = None, *, low: bool = False) -> Any:
    """The dirt axle with a spring on each side, where it was surveyed, or an inch into bump; every figure expected."""
    edits: dict[str, Any] = {
        f"survey__rear__{name}__spring__{leaf}": value
        for name, mounts in SPRINGS.items()
        for leaf, value in mounts.items()
    }
    if low:
        edits |= {f"measured__ride_height__{name}__height_in": height - LOW for name, (height, _) in HEIGHTS.items()}
    return rear_answer(with_edits(whole_car("dirt"), **edits), origins={}, over=over)


class At:
    """The axle at a bump and roll, by SciPy, with what tape and gauge read of it."""

    def __init__(self, bump: float, roll_deg: float) -> None:
        self.other = other = AxleDistances(survey("dirt"))
        self.ends, self.left, self.right = other.solve(bump, math.radians(roll_deg))
        line, was = self.left - self.right, other.left - other.right
        nose = other.carried(other.left + np.eye(3)[0], "axle", other.start) - self.left
        self.steer = np.degrees(np.arctan2(-line[0], line[1]) - np.arctan2(-was[0], was[1]))
        self.pinion = np.degrees(np.arctan2(nose[2], nose[0]))
        self.line = line
        self.cages = -np.degrees(other.start[6:])

    def spring(self, name: str) -> float:
        end = self.other.carried(SPRINGS[name]["moving_in"], CAGES[name], self.other.start)
        return float(np.linalg.norm(end - SPRINGS[name]["chassis_in"]))


def slope(bump: float, roll: float, figure: Any, *, by_roll: bool) -> float:
    """Change of a figure per inch of bump, or per degree of roll, by central differences."""
    over = [(bump, roll + each) if by_roll else (bump + each, roll) for each in (STEP, -STEP)]
    high, low = (figure(At(*place)) for place in over)
    return float((high - low) / (2 * STEP))


@pytest.mark.parametrize("bump", [0.0, LOW])
def test_the_axle_as_it_stands(bump: float) -> None:
    now, at = answer(low=bool(bump)).now, At(bump, 0.0)
    assert now.bump_in == pytest.approx(bump, abs=1e-6)
    assert now.roll_deg == pytest.approx(0, abs=1e-6)
    assert now.axle_steer_deg == pytest.approx(at.steer, abs=1e-5)
    assert now.pinion_change_deg == pytest.approx(at.pinion, abs=1e-5)
    middle = (at.left + at.right - at.other.left - at.other.right) / 2
    assert now.lateral_shift_in == pytest.approx(middle[1], abs=1e-5)
    for figure, of, by_roll in (
        (now.axle_steer_deg_per_deg, "steer", True),
        (now.axle_steer_deg_per_in, "steer", False),
        (now.pinion_deg_per_deg, "pinion", True),
        (now.pinion_deg_per_in, "pinion", False),
    ):
        assert figure == pytest.approx(slope(bump, 0, lambda each, of=of: getattr(each, of), by_roll=by_roll), abs=2e-5)
    for rod, end, (name, given) in zip(now.rods.values(), at.ends, REAR["dirt"]["rods"].items(), strict=True):
        along = np.array(given["chassis"]) - end
        assert rod.length_in == pytest.approx(math.dist(given["chassis"], given["carrier"]), abs=1e-6), name
        assert rod.angle_deg == pytest.approx(math.degrees(math.asin(along[2] / rod.length_in)), abs=1e-5), name


@pytest.mark.parametrize("bump", [0.0, LOW])
@pytest.mark.parametrize(("name", "place"), [("lr", 0), ("rr", 1)])
def test_a_wheel_of_the_axle(name: str, place: int, bump: float) -> None:
    now, at = getattr(answer(low=bool(bump)).now, name), At(bump, 0.0)
    center, was = (at.left, at.right)[place], (at.other.left, at.other.right)[place]
    side = 1 if name == "lr" else -1
    outward = side * at.line / np.linalg.norm(at.line)
    assert now.travel_in == pytest.approx(center[2] - was[2], abs=1e-5)
    assert now.lead_change_in == pytest.approx(center[0] - was[0], abs=1e-5)
    assert now.wheelbase_in == pytest.approx(-center[0], abs=1e-5)
    assert now.camber_deg == pytest.approx(-math.degrees(math.asin(outward[2])), abs=1e-5)
    assert now.toe_deg == pytest.approx(math.degrees(math.atan2(outward[0], side * outward[1])), abs=1e-5)
    assert now.birdcage_indexing_deg == pytest.approx(at.cages[place], abs=1e-5)


@pytest.mark.parametrize("bump", [0.0, LOW])
@pytest.mark.parametrize(("name", "own"), [("lr", 0), ("rr", 1)])
def test_a_spring_of_the_axle(name: str, own: int, bump: float) -> None:
    spring = getattr(answer(low=bool(bump)).now, name).spring
    by_bump, by_roll = (slope(bump, 0, lambda at: at.spring(name), by_roll=each) for each in (False, True))
    # Both wheels' travels per inch of bump and per degree of roll turn those two slopes into one of each wheel alone.
    travels = np.array(
        [
            [slope(bump, 0, lambda at, wheel=wheel: getattr(at, wheel)[2], by_roll=each) for wheel in ("left", "right")]
            for each in (False, True)
        ]
    )
    per_wheel = np.linalg.solve(travels, [by_bump, by_roll])
    assert spring.length_in == pytest.approx(At(bump, 0.0).spring(name), abs=1e-5)
    assert spring.bump_ratio == pytest.approx(-by_bump, abs=2e-5)
    assert spring.roll_in_per_deg == pytest.approx(-by_roll, abs=2e-5)
    assert spring.one_wheel_ratio == pytest.approx(-per_wheel[own], abs=2e-5)
    assert spring.other_wheel_ratio == pytest.approx(-per_wheel[1 - own], abs=2e-5)


def test_rolling_right_wheel_up_shortens_the_right_spring() -> None:
    now = answer().now
    assert now.rr.spring.roll_in_per_deg > 0 > now.lr.spring.roll_in_per_deg


def test_a_lateral_bar_crosses_the_middle_between_the_wheels() -> None:
    bar, now = REAR["dirt"]["rods"]["lateral_bar"], answer().now.lateral_bars["lateral_bar"]
    (_, y0, z0), (_, y1, z1) = bar["chassis"], bar["carrier"]
    at = At(0.0, 0.0)
    patches = [
        LEVEL.patch(center, at.line, radius) for center, radius in zip((at.left, at.right), at.other.radii, strict=True)
    ]
    across, up = (patches[0] - patches[1])[1:]
    for y, figure in ((0.0, now.center_plane_in), ((at.left[1] + at.right[1]) / 2, now.axle_middle_in)):
        crossing = np.array([y, z0 + (z1 - z0) * (y - y0) / (y1 - y0)])
        # Square to the line that joins the patches.
        over = crossing - patches[1][1:]
        height = (across * over[1] - up * over[0]) / math.hypot(across, up)
        assert figure == pytest.approx(height, abs=1e-4)


def test_every_column_of_the_table_is_the_axle_in_that_place() -> None:
    over = BumpRolls(low_in=-1, high_in=1, step_in=1, roll_low_deg=-2, roll_high_deg=2, roll_step_deg=2)
    table = answer(over).table
    assert len(table.bump_in) == 9
    for row, (bump, roll) in enumerate(zip(table.bump_in, table.roll_deg, strict=True)):
        at = At(bump, roll)
        middle = (at.left + at.right - at.other.left - at.other.right) / 2
        wanted = {
            "axle_steer_deg": at.steer,
            "pinion_change_deg": at.pinion,
            "lateral_shift_in": middle[1],
            "left_travel_in": at.left[2] - at.other.left[2],
            "right_travel_in": at.right[2] - at.other.right[2],
            "left_lead_change_in": at.left[0] - at.other.left[0],
            "right_lead_change_in": at.right[0] - at.other.right[0],
            "left_wheelbase_in": -at.left[0],
            "right_wheelbase_in": -at.right[0],
            "left_squat_ratio": squat(bump, roll, "left"),
            "right_squat_ratio": squat(bump, roll, "right"),
        }
        for column, value in wanted.items():
            assert getattr(table, column)[row] == pytest.approx(value, abs=2e-5), (column, bump, roll)


def squat(bump: float, roll: float, wheel: str) -> float:
    """Rise over run of the line normal to the patch's velocity in bump: the patch as a point of the axle.

    The brakes are off and the drive turns the wheel against the axle, so that the patch moves with the axle itself.
    """
    low, here, high = (At(bump + each, roll) for each in (-STEP, 0.0, STEP))
    center = getattr(here, wheel)
    radius = here.other.radii[0 if wheel == "left" else 1]
    patch = LEVEL.patch(center, here.line, radius)
    fixed = Body(here).surveyed(patch)
    x, _, z = (Body(high).now(fixed) - Body(low).now(fixed)) / (2 * STEP)
    return float(-x / z)


class Body:
    """The axle as a rigid body between its survey and a place."""

    def __init__(self, at: At) -> None:
        turn = [at.other.carried(at.other.left + axis, "axle", at.other.start) - at.left for axis in np.eye(3)]
        self.turn, self.here, self.was = np.array(turn).T, at.left, at.other.left

    def surveyed(self, point: np.ndarray) -> np.ndarray:
        return np.asarray(self.turn.T @ (point - self.here) + self.was)

    def now(self, point: np.ndarray) -> np.ndarray:
        return np.asarray(self.turn @ (point - self.was) + self.here)


def test_the_grip_is_the_least_stretch_of_the_rods_that_any_motion_makes() -> None:
    """A unit of motion: an inch of the middle, or a turn that moves a wheel, or a birdcage's ear 5 in off, by one."""
    other = AxleDistances(survey("dirt"))
    half = np.linalg.norm(other.left - other.right) / 2
    left = (other.left - other.right) / (2 * half)
    forward = np.cross(left, [0, 0, 1]) / np.linalg.norm(np.cross(left, [0, 0, 1]))
    frame = np.stack([forward, left, np.cross(forward, left)])

    def stretched(motion: np.ndarray) -> np.ndarray:
        turn = frame.T @ motion[3:6] / half
        shift = motion[:3] + np.cross(turn, half * left)
        on_axle = motion[6:] / CAGE_LEVER_IN - motion[4] / half
        ends, one, two = other.place(np.array([*turn, *shift, *on_axle]))
        rods = np.linalg.norm(ends - other.chassis, axis=1) - other.length
        middle = (one + two - other.left - other.right)[2] / 2
        roll = roll_of(one, two) - roll_of(other.left, other.right)
        return np.array([*rods, middle, half * roll])

    step = 1e-5
    columns = [(stretched(step * each) - stretched(-step * each)) / (2 * step) for each in np.eye(8)]
    least = np.linalg.svd(np.array(columns).T)[1][-1]
    assert answer().grip_ratio == pytest.approx(least, abs=2e-5)
