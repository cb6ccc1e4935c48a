"""Every figure of a front answer, its sign and size, by SciPy's own solution of the same corner and the definitions."""

import math
from typing import Any

import numpy as np
import pytest

from golden.front_by_scipy import STEP, body_velocity, readings, swung
from studbook.wire.answers import Travels
from studbook_service.translate.front import front_answer
from studbook_service.translate.origins import origins
from translate.documents import GOLDEN, car, with_edits


def answer(**edits: Any) -> Any:
    """An answer whose every figure is expected: one that is left out fails where it is compared."""
    tree = with_edits(car("dirt"), **edits)
    return front_answer(tree, origins=origins([tree]), travels=Travels(low_in=-1.25, high_in=1.25, step_in=1.25))


def expected(name: str, travel: float) -> dict[str, Any]:
    at = readings(f"dirt {name}", travel)
    low, high = (readings(f"dirt {name}", travel + each) for each in (-STEP, STEP))
    rate = {each: (high[each] - low[each]) / (2 * STEP) for each in ("camber_deg", "toe_deg")}
    middle, velocity, turn = body_velocity(f"dirt {name}", travel)
    at_patch = velocity + np.cross(turn, at["patch_in"] - middle)
    return {
        **{each: at[each] for each in ("camber_deg", "toe_deg", "caster_deg", "kingpin_deg", "scrub_in", "trail_in")},
        "patch_in": at["patch_in"],
        "camber_gain_deg_per_in": rate["camber_deg"],
        "bump_steer_deg_per_in": rate["toe_deg"],
        "toe_in": 26 * math.tan(math.radians(at["toe_deg"])),
        "bump_steer_in_per_in": 26 * math.tan(math.radians(rate["toe_deg"])),
        # The line normal to the patch's velocity, from the patch to y = 0.
        "line_at_center_in": -at_patch[1] / at_patch[2] * (0 - at["patch_in"][1]),
    }


@pytest.mark.parametrize("name", ["lf", "rf"])
def test_a_corner_as_it_stands(name: str) -> None:
    now, wanted = getattr(answer(), name).now, expected(name, 0.0)
    for figure, value in wanted.items():
        np.testing.assert_allclose(getattr(now, figure), value, atol=2e-5, rtol=0, err_msg=figure)
    assert now.travel_in == 0


@pytest.mark.parametrize("name", ["lf", "rf"])
@pytest.mark.parametrize("travel", [-1.25, 1.25])
def test_a_corner_along_its_curve(name: str, travel: float) -> None:
    curve, wanted = getattr(answer(), name).curve, expected(name, travel)
    row = curve.travel_in.index(travel)
    for figure in set(curve.__struct_fields__) - {"travel_in"}:
        assert getattr(curve, figure)[row] == pytest.approx(wanted[figure], abs=2e-5), figure


def meeting(name: str, cut: int, across: int) -> np.ndarray:
    """Where both arms' planes and the plane through the wheel center meet, as three planes in one point."""
    points = {each: np.asarray(at, float) for each, at in GOLDEN["corners"][f"dirt {name}"]["points_in"].items()}
    rows, right = [np.eye(3)[cut]], [points["wheel_center"][cut]]
    for arm in ("upper", "lower"):
        ball = points[f"{arm}_ball"]
        normal = np.cross(points[f"{arm}_front"] - ball, points[f"{arm}_rear"] - ball)
        rows.append(normal)
        right.append(normal @ ball)
    found = np.linalg.solve(np.array(rows), np.array(right))
    return np.array([found[across], found[2]])


@pytest.mark.parametrize(("name", "side"), [("lf", 1), ("rf", -1)])
def test_instant_centers_and_swing_arm(name: str, side: int) -> None:
    now = getattr(answer(), name).now
    front, from_side = meeting(name, 0, 1), meeting(name, 1, 0)
    assert now.instant_center_in == pytest.approx(front, abs=1e-5)
    assert now.side_center_in == pytest.approx(from_side, rel=1e-6)
    assert now.swing_arm_in == pytest.approx(side * (now.patch_in[1] - front[0]), abs=1e-5)
    assert now.swing_arm_in > 0  # both instant centers of the dirt car lie inboard of their wheel


def test_axle_lines_and_shares_from_the_scales() -> None:
    found = answer().axle
    assert found.left_line_at_center_in == pytest.approx(expected("lf", 0)["line_at_center_in"], abs=1e-5)
    assert found.right_line_at_center_in == pytest.approx(expected("rf", 0)["line_at_center_in"], abs=1e-5)
    assert found.force_roll_center.left_share_percent == pytest.approx(100 * 590 / (590 + 503), abs=1e-6)
    share = 590 / 1093
    height = share * found.left_line_at_center_in + (1 - share) * found.right_line_at_center_in
    assert found.force_roll_center.height_in == pytest.approx(height, abs=1e-5)
    slopes = [
        line / (0 - now.patch_in[1])
        for line, now in (
            (found.left_line_at_center_in, answer().lf.now),
            (found.right_line_at_center_in, answer().rf.now),
        )
    ]
    assert found.roll_center.determinant == pytest.approx(slopes[0] - slopes[1], abs=1e-6)


def test_steer_curve_and_toe_out_in_turns() -> None:
    found = answer()
    steer = found.steer
    straight = {name: readings(f"dirt {name}", 0.0) for name in ("lf", "rf")}
    for rack in (-1.5, 1.5):
        row = steer.rack_in.index(rack)
        there = {name: readings(f"dirt {name}", 0.0, rack) for name in ("lf", "rf")}
        # To the left is + : a left wheel toed out, a right wheel toed in.
        left = straight["lf"]["toe_deg"] - there["lf"]["toe_deg"]
        right = there["rf"]["toe_deg"] - straight["rf"]["toe_deg"]
        assert steer.left_turn_deg[row] == pytest.approx(left, abs=1e-5)
        assert steer.right_turn_deg[row] == pytest.approx(right, abs=1e-5)
        assert steer.left_camber_deg[row] == pytest.approx(there["lf"]["camber_deg"], abs=1e-5)
        assert steer.right_camber_deg[row] == pytest.approx(there["rf"]["camber_deg"], abs=1e-5)
        inner_less_outer = left - right if left + right > 0 else (-right) - (-left)
        assert steer.ackermann_deg[row] == pytest.approx(inner_less_outer, abs=1e-5)
    mean = (np.array(steer.left_turn_deg) + np.array(steer.right_turn_deg)) / 2
    order = np.argsort(mean)
    for turn in found.turn_toe:
        out = np.interp(turn.turn_deg, mean[order], np.array(steer.ackermann_deg)[order])
        assert turn.toe_out_deg == pytest.approx(out, abs=1e-5)
        assert turn.toe_out_in == pytest.approx(26 * math.tan(math.radians(out)), abs=1e-5)
    assert [turn.turn_deg for turn in found.turn_toe] == [-20, -10, 10, 20]


@pytest.mark.parametrize("name", ["lf", "rf"])
def test_the_spring_of_a_corner(name: str) -> None:
    """Its lower end goes round the lower pivots with the ball; the ratio is the shortening per inch of travel."""
    spring = GOLDEN["corners"][f"dirt {name}"]["spring"]

    def length(travel: float) -> float:
        moving, _ = swung(f"dirt {name}", "lower", np.asarray(spring["moving"], float), travel)
        return float(np.linalg.norm(moving - spring["chassis"]))

    now = getattr(answer(), name).now
    assert now.spring_length_in == pytest.approx(length(0.0), abs=1e-6)
    assert now.motion_ratio == pytest.approx((length(-STEP) - length(STEP)) / (2 * STEP), abs=1e-6)
    mounts = {"chassis_in": spring["chassis"], "moving_in": spring["moving"], "sits_on": "lower_arm"}
    shocked = getattr(answer(**{f"survey__front__{name}__shock": mounts}), name).now
    assert shocked.shock_motion_ratio == pytest.approx(now.motion_ratio, abs=1e-9)
