"""A car on the ground: hand answers, the invented cars, and refusals; other solvers are in the file beside this one."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from golden.front_corners import corner
from golden.rear_axles import REAR_AXLES, rear_axle
from studbook_service.engine.attitude import car_stance, survey_patches
from studbook_service.engine.changes import Moves, apply
from studbook_service.engine.ground import OverGround, ground
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.mechanism import close
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.wheel import wheel


def car(name: str) -> dict[str, Any]:
    return {"left": corner(f"{name} lf"), "right": corner(f"{name} rf"), "axle": rear_axle(name)}


# Roll centers (y, height) at the survey by an independent constraint solver, see golden/front_corners.json.
FRONT_CENTERS = {"dirt": (-7.24, 3.87), "asphalt": (-6.09, 2.95)}


@pytest.mark.parametrize("name", ["dirt", "asphalt"])
def test_at_the_surveyed_height_nothing_moves(name: str) -> None:
    at = car_stance(**car(name), heave_in=0, roll_deg=0, pitch_deg=0)
    patches = survey_patches(**car(name))
    assert not patches.off.any()
    np.testing.assert_allclose(at.travel_in, -patches.height_in, atol=1e-5)
    front, rear = at.front_center, at.rear_center
    assert (float(front.y_in), float(front.height_in)) == pytest.approx(FRONT_CENTERS[name], abs=6e-3)
    answers = REAR_AXLES[name]["answers"]
    assert float(rear.y_in) == pytest.approx(answers["roll_center_y_in"], abs=1e-3)
    assert float(rear.height_in) == pytest.approx(answers["roll_center_height_in"], abs=1.2e-3)


def test_signs_of_heave_roll_and_pitch() -> None:
    def travels(heave: float, roll: float, pitch: float) -> list[str]:
        at = car_stance(**car("asphalt"), heave_in=heave, roll_deg=roll, pitch_deg=pitch)
        return [name for name, travel in zip(WHEELS, at.travel_in, strict=True) if travel > 0.1]

    assert travels(-1, 0, 0) == ["lf", "rf", "lr", "rr"]
    assert travels(0, 2, 0) == ["rf", "rr"]
    assert travels(2, 0, 0) == []
    assert travels(0, 0, -1) == ["lr", "rr"]  # nose up about the origin between the front wheels: the tail comes down


def test_the_chassis_turns_about_its_origin_roll_first() -> None:
    under = ground(heave_in=1.0, roll_deg=30.0, pitch_deg=20.0)
    cr, sr, cp, sp = np.cos(np.pi / 6), 0.5, np.cos(np.pi / 9), np.sin(np.pi / 9)
    np.testing.assert_allclose(under.point(np.array([0.0, 0.0, 10.0])), [10 * cr * sp, -10 * sr, 1 + 10 * cr * cp])
    np.testing.assert_allclose(under.point(np.array([0.0, 10.0, 0.0])), [10 * sr * sp, 10 * cr, 1 + 10 * sr * cp])


def test_a_rigid_axle_leans_by_its_tires_alone() -> None:
    """Both patches on the ground: tan(lean) = difference of the radii over the width, whatever the body does."""
    axle = rear_axle("dirt")
    change = np.array([0.0, 0.0, -0.2, 0.1])
    at = car_stance(**car("dirt"), heave_in=[-1.0, 0.5], roll_deg=[4.0, -1.0], pitch_deg=[1.0, 0.0],
               radius_change_in=change[:, None])  # fmt: skip
    width = np.linalg.norm(axle.wheel_left - axle.wheel_right)
    lean = np.degrees(np.arctan((14.15 + 0.1 - 13.55 + 0.2) / width))
    np.testing.assert_allclose(at.camber_deg[2], lean, atol=1e-9)
    np.testing.assert_allclose(at.camber_deg[3], -lean, atol=1e-9)


def test_without_roll_the_front_is_the_plain_linkage() -> None:
    at = car_stance(**car("dirt"), heave_in=-1.2, roll_deg=0, pitch_deg=0)
    for index, (name, on_ground) in enumerate((("lf", at.left_wheel), ("rf", at.right_wheel))):
        plain = wheel(solve_travel(corner(f"dirt {name}"), travel_in=at.travel_in[index]))
        assert float(plain.patch[2]) == pytest.approx(1.2, abs=1e-9)
        for reading in ("camber_deg", "toe_deg", "caster_deg", "camber_gain_deg_per_in", "scrub_in"):
            assert float(getattr(on_ground, reading)) == pytest.approx(float(getattr(plain, reading)), abs=1e-9)


def test_camber_to_ground_is_camber_to_the_chassis_and_roll() -> None:
    """For a wheel that points straight ahead, roll adds its own angle: right side down, the right top goes out."""
    at = car_stance(**car("dirt"), heave_in=0, roll_deg=3, pitch_deg=0)
    for index, (pose, side) in enumerate(((at.left_front, -1), (at.right_front, 1))):
        against_chassis = float(wheel(pose).camber_deg)
        assert float(at.camber_deg[index]) == pytest.approx(against_chassis + 3 * side, abs=2e-3)


def test_a_softer_tire_lets_the_car_down_on_the_wheel() -> None:
    stiff = car_stance(**car("asphalt"), heave_in=0, roll_deg=0, pitch_deg=0)
    soft = car_stance(**car("asphalt"), heave_in=0, roll_deg=0, pitch_deg=0, radius_change_in=(-0.25, 0, 0, 0))
    assert float(soft.travel_in[0] - stiff.travel_in[0]) == pytest.approx(-0.25, abs=5e-3)
    np.testing.assert_allclose(soft.travel_in[1:], stiff.travel_in[1:], atol=1e-12)


def test_a_wheel_that_cannot_follow_is_not_closed() -> None:
    at = car_stance(**car("dirt"), heave_in=[0.0, 12.0], roll_deg=0, pitch_deg=0)
    assert at.closed.tolist() == [True, False]
    assert np.isnan(at.camber_deg[:, 1]).any()
    failed = [at.left_front.failed[1], at.right_front.failed[1], at.axle.failed[1]]
    assert any(code > 0 for code in failed)


def test_changes_reach_the_ground() -> None:
    cars = car("dirt") | {"right": apply(corner("dirt rf"), Moves(upper_stud_in=0.5))}
    before, after = (car_stance(**each, heave_in=-0.5, roll_deg=2, pitch_deg=0) for each in (car("dirt"), cars))
    assert float(after.camber_deg[1] - before.camber_deg[1]) < -0.3
    assert float(after.camber_deg[0]) == pytest.approx(float(before.camber_deg[0]), abs=1e-12)


def test_an_axle_on_the_ground_moves_per_inch_that_its_middle_rises_and_per_radian_that_it_rolls() -> None:
    """Bump with the roll to the ground held, and roll with the middle's height held."""
    axle = car_stance(**car("dirt"), heave_in=-0.5, roll_deg=5, pitch_deg=3).axle
    line, turn = axle.state.left, axle.motions[3:6]
    np.testing.assert_allclose(axle.motions[2], [1, 0], atol=1e-12)
    for column, wanted in ((0, 0.0), (1, 1.0)):
        rate = np.cross(turn[:, column], line)
        rolling = (line[2] * rate[1] - line[1] * rate[2]) / (line[1] ** 2 + line[2] ** 2)
        assert rolling == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("name", ["dirt lf", "dirt rf"])
def test_a_patch_nears_the_ground_by_its_rate(name: str) -> None:
    """The rate that Newton's method goes by, against a complex step through the closure itself."""
    made = OverGround(np.array([0.05, -0.12, np.sqrt(1 - 0.05**2 - 0.12**2)]), np.array(13.5))
    parts = corner(name).mechanism
    for angle in (-0.2, 0.0, 0.25):
        step = 1e-30
        height, rate = made(parts, close(parts, np.array(angle)))
        ahead = made(parts, close(parts, np.array(angle + 1j * step)))[0]
        assert float(rate) == pytest.approx(float(ahead.imag) / step, rel=1e-9)
        assert float(height) == pytest.approx(float(ahead.real), abs=1e-12)


def test_designs_meet_attitudes() -> None:
    studs = np.array([0.0, 0.1, 0.5])
    cars = car("dirt") | {"right": apply(corner("dirt rf"), Moves(upper_stud_in=studs))}
    at = car_stance(**cars, heave_in=[[0.0], [-1.0]], roll_deg=1.5, pitch_deg=0)
    assert at.camber_deg.shape == (4, 2, 3)
    assert at.patch.shape == (3, 4, 2, 3)
    np.testing.assert_allclose(at.patch[2], 0, atol=1e-9)


def test_patches_off_the_ground_are_flagged() -> None:
    left = corner("dirt lf")
    lifted = replace(left, wheel_center=left.wheel_center + np.array([0.0, 0.0, 0.03]))
    found = survey_patches(**car("dirt") | {"left": lifted})
    assert found.off.tolist() == [True, False, False, False]
    assert float(found.height_in[0]) == pytest.approx(0.03, abs=1e-4)
    larger = apply(corner("dirt lf"), Moves(loaded_radius_in=1.0))
    assert not survey_patches(**car("dirt") | {"left": larger}).off.any()  # a change since is no fault of the survey


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"roll_deg": 60.0}, "roll_deg is 60 deg; it must be at most 45 deg"),
        ({"heave_in": np.inf}, "heave_in is inf in; it must be finite"),
        ({"radius_change_in": (0.0, 0.0)}, "radius_change_in must have shape"),
        ({"steer_in": (0.0, 1.0)}, "steer_in must have shape"),
    ],
)
def test_malformed_attitudes_are_refused(given: dict[str, Any], message: str) -> None:
    level = {"heave_in": 0.0, "roll_deg": 0.0, "pitch_deg": 0.0}
    with pytest.raises(ValueError, match=message):
        car_stance(**car("dirt"), **(level | given))
