"""Beam axles against answers by hand, and the invented cars against a solver that knew nothing of this engine."""

import numpy as np
import pytest

from golden.rear_axles import ANTI_SQUAT, LATERAL_BAR, REAR_AXLES, plain, rear_axle, survey
from studbook_service.engine.axle_pose import solve_axle
from studbook_service.engine.axle_readings import axle_readings
from studbook_service.engine.centers import n_line_height, roll_center
from studbook_service.engine.rear_axle import AxleLinkage, Carrier, LinkRod, rear_axle_from_survey
from studbook_service.engine.rear_centers import anti_squat_percent, bar_crossing, rear_wheels, side_slope
from studbook_service.engine.rear_springs import rear_motion

EXACT = 1e-9
BIRDCAGES: dict[str, Carrier] = {"left": "birdcage_left", "right": "birdcage_right"}


@pytest.mark.parametrize("name", ["dirt", "asphalt"])
def test_invented_cars_at_survey(name: str) -> None:
    answers = REAR_AXLES[name]["answers"]
    pose = solve_axle(rear_axle(name), bump_in=0, roll_deg=0)
    at, wheels = axle_readings(pose), rear_wheels(pose)
    for reading in ("steer_per_roll_deg_per_deg", "steer_per_bump_deg_per_in", "pinion_per_bump_deg_per_in"):
        assert float(getattr(at, reading)) == pytest.approx(answers[reading], abs=6e-4)
    center = roll_center(left=wheels.left, right=wheels.right)
    assert float(center.y_in) == pytest.approx(answers["roll_center_y_in"], abs=6e-4)
    # The printed height takes a patch straight below its wheel center, 0.0006 in lower than a tilted wheel's.
    assert float(center.height_in) == pytest.approx(answers["roll_center_height_in"], abs=1.2e-3)
    crossing = bar_crossing(pose, wheels, rod="lateral_bar", plane="chassis")
    assert float(crossing.height_in) == pytest.approx(answers["bar_crossing_height_in"], abs=6e-3)
    slopes = [float(side_slope(pose, wheel)) for wheel in wheels]
    assert slopes == pytest.approx(answers["anti_squat_slopes"], abs=6e-4)


def test_the_bar_crosses_another_plane_elsewhere() -> None:
    pose = solve_axle(rear_axle("dirt"), bump_in=0, roll_deg=0)
    crossing = bar_crossing(pose, rear_wheels(pose), rod="lateral_bar", plane="axle")
    assert float(crossing.y_in) == -1.25
    assert float(crossing.height_in) == pytest.approx(REAR_AXLES["dirt"]["bar_crossing_in_the_middle_in"], abs=6e-3)


def test_the_hiked_dirt_car() -> None:
    hiked = REAR_AXLES["dirt"]["hiked"]
    at = axle_readings(solve_axle(rear_axle("dirt"), bump_in=hiked["bump_in"], roll_deg=hiked["roll_deg"]))
    assert float(at.travel_in[0]) == pytest.approx(hiked["left_travel_in"], abs=0.05)
    assert float(at.lead_change_in[0]) == pytest.approx(hiked["left_lead_change_in"], abs=0.005)
    assert float(at.steer_deg) == pytest.approx(hiked["steer_deg"], abs=0.05)
    assert float(at.pinion_deg) == pytest.approx(hiked["pinion_deg"], abs=0.05)
    assert float(at.birdcage_indexing_deg[0]) == pytest.approx(hiked["left_birdcage_deg"], abs=0.05)
    assert float(at.wheelbase_in[0]) == pytest.approx(103.4 - float(at.lead_change_in[0]), abs=EXACT)


def test_a_level_bar_is_as_high_as_the_roll_center() -> None:
    pose = solve_axle(plain(), bump_in=0, roll_deg=0)
    wheels = rear_wheels(pose)
    center = roll_center(left=wheels.left, right=wheels.right)
    assert float(center.y_in) == pytest.approx(0, abs=EXACT)
    assert float(center.height_in) == pytest.approx(11.0, abs=EXACT)
    at = axle_readings(pose)
    assert float(at.steer_per_roll_deg_per_deg) == pytest.approx(0, abs=EXACT)
    assert float(at.pinion_per_bump_deg_per_in) == pytest.approx(0, abs=EXACT)


def test_an_inclined_bar_crosses_the_center_plane_at_the_roll_center() -> None:
    chassis, moving = ((-106.0, *LATERAL_BAR[end]) for end in ("chassis", "axle"))
    pose = solve_axle(plain(lateral_bar=LinkRod(chassis, moving)), bump_in=0, roll_deg=0)
    wheels = rear_wheels(pose)
    crossing = bar_crossing(pose, wheels, rod="lateral_bar", plane="chassis")
    assert float(crossing.height_in) == pytest.approx(LATERAL_BAR["crossing_in"], abs=1e-12)
    center = roll_center(left=wheels.left, right=wheels.right)
    assert float(center.height_in) == pytest.approx(LATERAL_BAR["crossing_in"], abs=EXACT)


def test_one_wheel_moved_alone_would_halve_the_height() -> None:
    pose = solve_axle(plain(), bump_in=0, roll_deg=0)
    left, right = rear_wheels(pose)
    alone = pose.velocity(left.patch)
    rise = pose.velocity(pose.wheels[:, 1])[2]
    one_wheel = alone[:, 0] - alone[:, 1] * rise[0] / rise[1]  # the right wheel's center held
    assert -one_wheel[1] / one_wheel[2] * (0 - left.patch[1]) == pytest.approx(5.5, abs=EXACT)
    assert float(n_line_height(left)) == pytest.approx(11.0, abs=EXACT)
    assert float(n_line_height(right)) == pytest.approx(11.0, abs=EXACT)


@pytest.mark.parametrize("incline_deg", [-6.0, 4.0, 11.0])
def test_inclined_links_steer_the_axle(incline_deg: float) -> None:
    """Links that rise forward by a: d steer / d roll = −tan a, by hand from v_x = tan a · v_z at both ends."""
    rise = 20 * np.tan(np.radians(incline_deg))
    links = {
        f"{side}_link": LinkRod((-84.0, y, 9.0 + rise), (-104.0, y, 9.0))
        for side, y in (("left", 22.0), ("right", -22.0))
    }
    at = axle_readings(solve_axle(plain(**links), bump_in=0, roll_deg=0))
    assert float(at.steer_per_roll_deg_per_deg) == pytest.approx(-np.tan(np.radians(incline_deg)), abs=EXACT)


def test_parallel_equal_links_only_shift_the_axle() -> None:
    bumps = np.linspace(-4, 4, 9)
    pose = solve_axle(plain(), bump_in=bumps, roll_deg=0)
    at = axle_readings(pose)
    for reading in (at.steer_deg, at.pinion_deg, at.roll_deg, at.lead_change_in[0] - at.lead_change_in[1]):
        np.testing.assert_allclose(reading, 0, atol=EXACT)
    across = at.lateral_shift_in
    np.testing.assert_allclose((20 - at.lead_change_in[0]) ** 2 + across**2 + bumps**2, 20**2, atol=1e-8)
    np.testing.assert_allclose((38 - across) ** 2 + at.lead_change_in[0] ** 2 + bumps**2, 38**2, atol=1e-8)


def test_links_that_meet_lift_through_their_meeting_point() -> None:
    """Side view: lines z = 9 + d/20 and z = 20 − d/6, d ahead of the axle, meet at d = 11/(1/20 + 1/6)."""
    axle = plain(
        left_link=LinkRod((-84.0, 22.0, 10.0), (-104.0, 22.0, 9.0)),
        right_link=LinkRod((-84.0, -22.0, 10.0), (-104.0, -22.0, 9.0)),
        torque_link=LinkRod((-86.0, 0.0, 17.0), (-104.0, 0.0, 20.0)),
    )
    pose = solve_axle(axle, bump_in=0, roll_deg=0)
    ahead = 11 / (1 / 20 + 1 / 6)
    for wheel in rear_wheels(pose):
        assert float(side_slope(pose, wheel)) == pytest.approx((9 + ahead / 20) / ahead, abs=EXACT)


def test_a_birdcage_with_a_caliper_brakes_along_its_own_links() -> None:
    """Level parallel rods hold the birdcage upright whatever the torque link does: no lift, no squat."""
    rods = {
        f"{side}_{which}": LinkRod((-84.0, y, z), (-104.0, y, z), BIRDCAGES[side])
        for side, y in (("left", 22.0), ("right", -22.0))
        for which, z in (("upper", 19.0), ("lower", 9.0))
    }
    rods |= {
        "torque_link": LinkRod((-74.0, 0.0, 16.0), (-104.0, 0.0, 22.0)),
        "lateral_bar": LinkRod((-106.0, 20.0, 11.0), (-106.0, -18.0, 11.0)),
    }
    given = survey("dirt") | {"wheel_left": (-104, 31, 13.5), "wheel_right": (-104, -31, 13.5)}
    pose = solve_axle(rear_axle_from_survey(**given | {"rods": rods}), bump_in=0, roll_deg=0)
    left = rear_wheels(pose).left
    assert float(side_slope(pose, left, on="birdcage_left")) == pytest.approx(0, abs=EXACT)
    assert float(side_slope(pose, left)) > 0.1


def test_anti_squat_percent() -> None:
    percent = anti_squat_percent(
        ANTI_SQUAT["slope_at_100_percent"],
        wheelbase_in=ANTI_SQUAT["wheelbase_in"],
        cg_height_in=ANTI_SQUAT["cg_height_in"],
    )
    assert float(percent) == pytest.approx(100.0, abs=1e-12)
    with pytest.raises(ValueError, match="cg_height_in is 0 in; it must be above 0"):
        anti_squat_percent(0.2, wheelbase_in=100, cg_height_in=0)


def test_upright_springs_on_a_plain_axle() -> None:
    """By hand: d(length) = −(½ ± s/t) of the wheels; heave rate Σk = 425, roll rate Σ k s² = 3,264 in·lb/deg."""
    pose = solve_axle(plain(), bump_in=0, roll_deg=0)
    stiffness = np.zeros((2, 2))
    for rate, y in ((225.0, 20.5), (200.0, -21.5)):
        moving = rear_motion(pose, chassis=(-104.0, y, 28.0), moving=(-104.0, y, 14.0), on="axle")
        np.testing.assert_allclose(moving.per_wheel, [-(0.5 + y / 62), -(0.5 - y / 62)], atol=EXACT)
        assert float(moving.per_bump) == pytest.approx(-1, abs=EXACT)
        assert float(moving.per_roll_in_per_deg) == pytest.approx(np.radians(y), abs=EXACT)
        stiffness += rate * np.outer(moving.per_wheel, moving.per_wheel)
    heave, roll = np.ones(2), np.array([31.0, -31.0])
    assert heave @ stiffness @ heave == pytest.approx(425, abs=1e-6)
    assert np.radians(roll @ stiffness @ roll) == pytest.approx(3264, abs=0.5)


def test_a_spring_on_a_birdcage_feels_it_turn() -> None:
    axle, h = rear_axle("dirt"), 1e-5
    mounts = {"chassis": (-101.0, 20.5, 29.0), "moving": (-100.0, 20.5, 15.0)}
    pose = solve_axle(axle, bump_in=-1.0, roll_deg=2.0)
    on_cage = rear_motion(pose, **mounts, on="birdcage_left")
    on_axle = rear_motion(pose, **mounts, on="axle")
    assert abs(float(on_cage.per_bump - on_axle.per_bump)) > 0.01
    ends = solve_axle(axle, bump_in=[-1 - h, -1 + h], roll_deg=2.0)
    lengths = rear_motion(ends, **mounts, on="birdcage_left").length_in
    assert float(on_cage.per_bump) == pytest.approx(np.diff(lengths).item() / (2 * h), abs=1e-7)
    ends = solve_axle(axle, bump_in=-1, roll_deg=[2 - h, 2 + h])
    lengths = rear_motion(ends, **mounts, on="birdcage_left").length_in
    assert float(on_cage.per_roll_in_per_deg) == pytest.approx(np.diff(lengths).item() / (2 * h), abs=1e-7)


def test_a_place_out_of_reach_names_the_rod() -> None:
    axle = plain(torque_link=LinkRod((-92.0, 0.0, 20.0), (-104.0, 0.0, 20.0)))
    pose = solve_axle(axle, bump_in=[0.0, 13.0], roll_deg=0)
    assert pose.closed.tolist() == [True, False]
    assert [axle.names[code - 1] for code in pose.failed[1:]] == ["torque_link"]
    assert np.isnan(pose.wheels[..., 1]).all()
    assert np.isnan(axle_readings(pose).steer_deg[1])
    again = solve_axle(axle, bump_in=13 * float(pose.reached[1]), roll_deg=0)
    assert again.closed
    assert 0.8 < pose.reached[1] < 1


def test_a_place_that_is_no_number_fails_alone() -> None:
    pose = solve_axle(plain(), bump_in=[0.0, np.nan], roll_deg=1)
    assert pose.closed.tolist() == [True, False]
    assert pose.failed.tolist() == [0, 0]


def test_a_pose_near_by_starts_the_next() -> None:
    axle = rear_axle("dirt")
    near = solve_axle(axle, bump_in=-4.0, roll_deg=6.0)
    bumps = np.linspace(-4, -3, 5)
    warm = solve_axle(axle, bump_in=bumps, roll_deg=6.0, start=near)
    cold = solve_axle(axle, bump_in=bumps, roll_deg=6.0)
    np.testing.assert_allclose(warm.wheels, cold.wheels, atol=EXACT)


def test_many_bars_are_each_one_bar() -> None:
    heights, longer = np.array([0.0, 0.5, 1.0]), 0.125
    moved = np.stack([np.zeros(3), np.zeros(3), heights])
    many = rear_axle("asphalt").refit("lateral_bar", chassis_in=moved).refit("lateral_bar", longer_in=longer)
    together = solve_axle(many, bump_in=[[0.0], [1.0]], roll_deg=1.5)
    assert together.closed.shape == (2, 3)
    for index, height in enumerate(heights):
        one = rear_axle("asphalt").refit("lateral_bar", chassis_in=(0, 0, height), longer_in=longer)
        single = solve_axle(one, bump_in=[0.0, 1.0], roll_deg=1.5)
        np.testing.assert_allclose(together.wheels[..., index], single.wheels, atol=EXACT)
        np.testing.assert_allclose(together.rod_ends("lateral_bar")[1][..., index], single.rod_ends("lateral_bar")[1])


def test_a_longer_bar_pushes_the_axle_over() -> None:
    axle = plain()
    assert isinstance(axle, AxleLinkage)
    shift = axle_readings(solve_axle(axle.refit("lateral_bar", longer_in=0.25), bump_in=0, roll_deg=0)).lateral_shift_in
    assert float(shift) == pytest.approx(-0.25, abs=2e-3)


GOOD = survey("asphalt")


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"wheel_left": GOOD["wheel_right"], "wheel_right": GOOD["wheel_left"]}, "wheel_left must lie left of"),
        ({"wheel_right": GOOD["wheel_left"]}, "wheel_left must lie left of"),
        ({"wheel_left": (-104.0, 31.0)}, r"wheel_left must have shape \(3"),
        ({"wheel_left": (-104.0, np.nan, 13.0)}, "wheel_left is nan in"),
        ({"left_radius_in": -13.0}, "left_radius_in is -13 in; it must be above 0 in"),
        ({"rods": {}}, "rods must name"),
        ({"rods": {"bar": LinkRod((0, 0, 0), (0, 0, 0))}}, r"rods\['bar'\].chassis and .carrier are in one place"),
        ({"rods": {"bar": LinkRod((0, 0, 0), (1, 0, 0), "frame")}}, "on must be one of axle"),  # type: ignore[arg-type]  # wrong on purpose
        (
            {"rods": {"link": LinkRod((-84, 20, 9), (-104, 20, 9), "birdcage_right")}},
            "lies 21.* past the axle's middle",
        ),
    ],
)
def test_malformed_surveys_are_refused(changed: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        rear_axle_from_survey(**(GOOD | changed))


def test_malformed_questions_are_refused() -> None:
    axle = rear_axle("asphalt")
    pose = solve_axle(axle, bump_in=0, roll_deg=0)
    with pytest.raises(ValueError, match=r"rod must be one of lower_left, .*, not 'watts'"):
        axle.refit("watts")
    with pytest.raises(ValueError, match="no rod is bolted to it"):
        pose.point((-104, 20, 9), on="birdcage_left")
    with pytest.raises(ValueError, match="chassis and moving are in one place"):
        rear_motion(pose, chassis=(0, 0, 1), moving=(0, 0, 1), on="axle")
    with pytest.raises(ValueError, match="plane must be"):
        bar_crossing(pose, rear_wheels(pose), rod="lateral_bar", plane="middle")  # type: ignore[arg-type]  # wrong on purpose


def test_designs_that_fail_alike_fail_each_for_itself() -> None:
    axle = plain(torque_link=LinkRod((-92.0, 0.0, 20.0), (-104.0, 0.0, 20.0))).refit(
        "torque_link", longer_in=[0.0, 4.0, 0.1]
    )
    pose = solve_axle(axle, bump_in=13.0, roll_deg=0)
    assert pose.closed.tolist() == [False, True, False]
    assert pose.failed[0] == pose.failed[2] == 1 + axle.index("torque_link")


def test_a_start_that_is_there_already_serves_many_places() -> None:
    there = solve_axle(plain(), bump_in=1.0, roll_deg=2.0)
    pose = solve_axle(plain(), bump_in=[1.0, 1.0], roll_deg=2.0, start=there)
    np.testing.assert_allclose(pose.wheels, np.stack([there.wheels] * 2, axis=-1), atol=EXACT)


def test_no_places_give_no_poses() -> None:
    assert solve_axle(rear_axle("dirt"), bump_in=[], roll_deg=0).wheels.shape == (3, 2, 0)
