"""Joint loads: equilibrium of every body written out, virtual work, and an independent solver's static answers."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from golden.front_corners import corner
from golden.joints_and_parts import STATICS
from studbook_service.engine.corner import VECTORS, Body, FrontLinkage, Mount, stack
from studbook_service.engine.examples import CORNER
from studbook_service.engine.linkage import Pose, mount_length, solve_travel
from studbook_service.engine.spindle import Brake, JointLoads, joint_loads
from studbook_service.engine.steering import rack
from studbook_service.engine.studs import stud_load
from studbook_service.engine.swing import stud_axis
from studbook_service.engine.wheel import motion, wheel

NAMES = tuple(STATICS)
BODIES: tuple[Body, ...] = ("lower_arm", "upper_arm", "spindle")
PATCH = np.array([-350.0, 950.0, 1075.0])
CONTACT = np.array([-400.0, 1500.0, 90.0])


@pytest.mark.parametrize("name", NAMES)
def test_static_spring_force_and_lower_stud(name: str) -> None:
    want = STATICS[name]
    pose = solve_travel(corner(name), travel_in=0)
    loads = joint_loads(pose, patch_lb=(0, 0, want["patch_lb"]))
    assert float(loads.spring_lb) == pytest.approx(want["spring_lb"], abs=0.6)
    stud = stud_load(force_lb=loads.lower_ball_lb, axis=stud_axis(pose, joint="lower"))
    assert float(stud.axial_lb) == pytest.approx(want["axial_lb"], abs=0.6)  # tension


def test_mid_corner_the_lower_stud_carries_the_car_in_tension() -> None:
    # 1,075 lb up less the unsprung weight, 950 to the left, 350 braking, in bump: an independent solver gave 1,450 to
    # 1,700 lb through the lower ball and 1,230 lb of tension in its stud.
    pose = solve_travel(corner("dirt rf"), travel_in=2.0)
    loads = joint_loads(pose, patch_lb=(-350, 950, 1075 - 73))
    assert 1450 < float(np.linalg.norm(loads.lower_ball_lb)) < 1700
    stud = stud_load(force_lb=loads.lower_ball_lb, axis=stud_axis(pose, joint="lower"))
    assert float(stud.axial_lb) == pytest.approx(-1230, rel=0.01)


def loaded(pose: Pose, brake: Brake, torque: float = 0.0) -> tuple[JointLoads, Any]:
    at = pose.wheel_center + np.array([7.0, 0.0, 2.0])[:, None]
    loads = joint_loads(
        pose, patch_lb=PATCH, contact_lb=CONTACT, contact_at_in=at, brake=brake, brake_torque_in_lb=torque
    )
    return loads, at


def wheel_wrench(pose: Pose, loads: JointLoads, at: Any) -> tuple[Any, Any]:
    """Force, and moment about the wheel center, that the wheel hands to the spindle."""
    patch = wheel(pose).patch
    force = (PATCH + CONTACT)[:, None] + 0 * pose.spin
    moment = np.cross(patch - pose.wheel_center, PATCH[:, None], axis=0)
    moment = moment + np.cross(at - pose.wheel_center, CONTACT[:, None], axis=0)
    forward = pose.corner.side * pose.spin
    return force, moment + (loads.brake_torque_in_lb - np.sum(moment * forward, axis=0)) * forward


@pytest.mark.parametrize("brake", ["free", "locked", "given"])
@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("name", ["dirt rf", "asphalt lf"])
def test_spring_does_the_work_of_the_forces_at_the_wheel(name: str, body: Body, brake: Brake) -> None:
    pose = solve_travel(corner(name, body), travel_in=[-2, 0, 3], steer_in=rack(shift_in=[-1.0, 0, 1.5]))
    loads, at = loaded(pose, brake, 5000.0 if brake == "given" else 0.0)
    force, moment = wheel_wrench(pose, loads, at)
    work = np.sum(force * pose.velocity(pose.wheel_center), axis=0) + np.sum(moment * pose.turn, axis=0)
    np.testing.assert_allclose(loads.spring_lb * motion(pose).ratio, work, rtol=1e-9)
    if brake == "locked":
        velocity = wheel(pose).patch_velocity
        by_points = PATCH @ velocity + CONTACT @ pose.velocity(at)
        np.testing.assert_allclose(work, by_points, rtol=1e-9)


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("brake", ["free", "locked"])
def test_every_body_is_in_equilibrium(body: Body, brake: Brake) -> None:
    corners = corner("dirt rf", body)
    pose = solve_travel(corners, travel_in=[-2, 0, 3])
    loads, at = loaded(pose, brake)
    force, moment = wheel_wrench(pose, loads, at)
    pull = pose.corner.tie_inner[:, None] - pose.tie_outer
    pull = loads.tie_rod_lb * pull / np.linalg.norm(pull, axis=0)
    end = spring_end(pose, body)
    line = end - corners.spring.chassis[:, None]
    assert np.linalg.norm(line, axis=0) == pytest.approx(mount_length(pose))
    push = loads.spring_lb * line / np.linalg.norm(line, axis=0)
    held = [(loads.upper_ball_lb, pose.upper_ball), (loads.lower_ball_lb, pose.lower_ball), (pull, pose.tie_outer)]
    if body == "spindle":
        held.append((push, end))
    np.testing.assert_allclose(force + sum(each for each, _ in held), 0, atol=1e-8)
    about = sum(np.cross(point - pose.wheel_center, each, axis=0) for each, point in held)
    np.testing.assert_allclose(moment + about, 0, atol=1e-7)
    for arm, ball, reaction in (
        ("upper", pose.upper_ball, loads.upper_ball_lb),
        ("lower", pose.lower_ball, loads.lower_ball_lb),
    ):
        pivot = getattr(corners, f"{arm}_front")[:, None]
        axis = getattr(corners, f"{arm}_rear") - getattr(corners, f"{arm}_front")
        turning = np.cross(ball - pivot, -reaction, axis=0)
        if body == f"{arm}_arm":
            turning = turning + np.cross(end - pivot, push, axis=0)
        np.testing.assert_allclose(axis / np.linalg.norm(axis) @ turning, 0, atol=1e-7)


def spring_end(pose: Pose, body: Body) -> Any:
    """The spring's moving end, carried by three points of its body: a rigid motion fitted to them (Kabsch)."""
    at = pose.corner
    fixed = {
        "lower_arm": (at.lower_front, at.lower_rear, at.lower_ball),
        "upper_arm": (at.upper_front, at.upper_rear, at.upper_ball),
        "spindle": (at.lower_ball, at.upper_ball, at.tie_outer),
    }[body]
    ends = []
    for lane in range(pose.travel_in.size):
        now = {
            "lower_arm": (at.lower_front, at.lower_rear, pose.lower_ball[:, lane]),
            "upper_arm": (at.upper_front, at.upper_rear, pose.upper_ball[:, lane]),
            "spindle": (pose.lower_ball[:, lane], pose.upper_ball[:, lane], pose.tie_outer[:, lane]),
        }[body]
        before, after = np.array(fixed), np.array(now)
        u, _, vt = np.linalg.svd((before - before.mean(0)).T @ (after - after.mean(0)))
        turn = vt.T @ np.diag([1, 1, np.linalg.det(vt.T @ u.T)]) @ u.T
        ends.append(after.mean(0) + turn @ (at.spring.moving - before.mean(0)))
    return np.stack(ends, axis=1)


def test_brakes() -> None:
    pose = solve_travel(corner("dirt rf"), travel_in=0)
    locked = joint_loads(pose, patch_lb=(-350, 0, 900), brake="locked")
    assert float(locked.brake_torque_in_lb) == pytest.approx(350 * 13.55, rel=0.02)  # force × radius, + braking
    given = joint_loads(
        pose, patch_lb=(-350, 0, 900), brake="given", brake_torque_in_lb=float(locked.brake_torque_in_lb)
    )
    for one, other in zip(locked, given, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-12)
    free = joint_loads(pose, patch_lb=(-350, 0, 900))
    assert float(free.brake_torque_in_lb) == 0
    assert not np.allclose(free.upper_ball_lb, locked.upper_ball_lb)


def mirrored(base: FrontLinkage) -> FrontLinkage:
    flip = np.array([1.0, -1.0, 1.0])
    spring = Mount(base.spring.chassis * flip, base.spring.moving * flip, base.spring.body)
    return replace(base, side=-base.side, spring=spring, **{name: getattr(base, name) * flip for name in VECTORS})


def test_a_mirrored_corner_has_mirrored_loads() -> None:
    flip = np.array([1.0, -1.0, 1.0])
    right = joint_loads(solve_travel(CORNER, travel_in=1.0), patch_lb=PATCH, brake="locked")
    left = joint_loads(solve_travel(mirrored(CORNER), travel_in=1.0), patch_lb=PATCH * flip, brake="locked")
    np.testing.assert_allclose(left.upper_ball_lb, right.upper_ball_lb * flip, rtol=1e-9)
    np.testing.assert_allclose(left.lower_ball_lb, right.lower_ball_lb * flip, rtol=1e-9)
    np.testing.assert_allclose([left.tie_rod_lb, left.spring_lb], [right.tie_rod_lb, right.spring_lb], rtol=1e-9)
    np.testing.assert_allclose(left.brake_torque_in_lb, right.brake_torque_in_lb, rtol=1e-9)


def test_springs_on_different_bodies_in_one_batch() -> None:
    corners = [corner("dirt rf", body) for body in BODIES]
    together = joint_loads(solve_travel(stack(corners), travel_in=1.0), patch_lb=PATCH)
    for index, each in enumerate(corners):
        alone = joint_loads(solve_travel(each, travel_in=1.0), patch_lb=PATCH)
        for one, other in zip(together, alone, strict=True):
            np.testing.assert_allclose(one[..., index], other, rtol=1e-9)


def test_many_load_cases_on_one_pose_and_on_many() -> None:
    cases = np.stack([PATCH, 2 * PATCH, -PATCH], axis=1)
    pose = solve_travel(corner("dirt rf"), travel_in=1.0)
    one = joint_loads(pose, patch_lb=PATCH)
    many = joint_loads(pose, patch_lb=cases)
    np.testing.assert_allclose(many.upper_ball_lb, one.upper_ball_lb[:, None] * [1, 2, -1], atol=1e-9)
    grid = joint_loads(solve_travel(corner("dirt rf"), travel_in=[0.0, 1.0]), patch_lb=cases[:, :, None])
    assert grid.spring_lb.shape == (3, 2)
    np.testing.assert_allclose(grid.lower_ball_lb[:, :, 1], many.lower_ball_lb)


def test_what_does_not_close_or_cannot_hold_is_nan() -> None:
    loads = joint_loads(solve_travel(corner("dirt rf"), travel_in=[0, 40]), patch_lb=PATCH)
    assert np.isfinite(loads.spring_lb).tolist() == [True, False]
    without = replace(CORNER, spring=Mount())
    assert np.isnan(joint_loads(solve_travel(without, travel_in=0), patch_lb=PATCH).spring_lb)


def test_bad_arguments_are_refused() -> None:
    pose = solve_travel(corner("dirt rf"), travel_in=0)
    with pytest.raises(ValueError, match="patch_lb"):
        joint_loads(pose, patch_lb=(0, 900))
    with pytest.raises(ValueError, match="patch_lb is inf lb; it must be finite"):
        joint_loads(pose, patch_lb=(0, 0, np.inf))
    with pytest.raises(ValueError, match="given together"):
        joint_loads(pose, patch_lb=PATCH, contact_lb=CONTACT)
    with pytest.raises(ValueError, match="brake_torque_in_lb"):
        joint_loads(pose, patch_lb=PATCH, brake_torque_in_lb=100)
    with pytest.raises(ValueError, match="'dragging'"):
        joint_loads(pose, patch_lb=PATCH, brake="dragging")  # type: ignore[arg-type] # the wrong word is the point
