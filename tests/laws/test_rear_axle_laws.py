"""Laws of beam axles and of cars on the ground that hold for every survey, change and place."""

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from golden.front_corners import corner
from golden.independent_solvers import TYPICAL, random_points
from golden.rear_axles import rear_axle, survey
from studbook_service.engine.attitude import car_stance
from studbook_service.engine.axle_pose import solve_axle
from studbook_service.engine.axle_readings import axle_readings
from studbook_service.engine.corner import corner_from_survey
from studbook_service.engine.rear_axle import AxleLinkage, LinkRod, rear_axle_from_survey
from studbook_service.engine.rear_springs import rear_motion

EXACT = 1e-9
MIRROR = np.array([1.0, -1.0, 1.0])
BUMPS, ROLLS = np.array([-2.5, -1.0, 0.0, 1.5, 2.5]), np.array([-2.0, 4.0, 1.0, -3.0, 2.0])
OTHER = {"axle": "axle", "birdcage_left": "birdcage_right", "birdcage_right": "birdcage_left"}

small = st.floats(-0.8, 0.8)


@st.composite
def surveys(draw: st.DrawFn) -> dict[str, Any]:
    """A demo axle with every point moved."""

    def moved(point: Any) -> np.ndarray:
        place: np.ndarray = np.asarray(point, float) + np.array([draw(small), draw(small), draw(small)])
        return place

    demo = survey(draw(st.sampled_from(["dirt", "asphalt"])))
    rods = {name: LinkRod(moved(rod.chassis), moved(rod.carrier), rod.on) for name, rod in demo["rods"].items()}
    return {**demo, "rods": rods, "wheel_left": moved(demo["wheel_left"]), "wheel_right": moved(demo["wheel_right"])}


def changed(axle: AxleLinkage, amounts: list[float]) -> AxleLinkage:
    """A crew's evening: every rod in another hole, or longer."""
    for index, (rod, amount) in enumerate(zip(axle.names, amounts, strict=False)):
        hole = np.eye(3)[index % 3] * amount
        axle = axle.refit(rod, chassis_in=hole, carrier_in=-0.5 * hole[::-1], longer_in=0.2 * amount)
    return axle


amounts = st.lists(st.floats(-0.4, 0.4), min_size=6, max_size=6)


@given(surveys(), amounts)
@settings(max_examples=40)
def test_rods_and_axle_keep_their_lengths(given_survey: dict[str, Any], moves: list[float]) -> None:
    axle = changed(rear_axle_from_survey(**given_survey), moves)
    pose = solve_axle(axle, bump_in=BUMPS, roll_deg=ROLLS)
    assert pose.closed.any()
    for index, rod in enumerate(axle.names):
        chassis, carrier = pose.rod_ends(rod)
        length = np.linalg.norm(carrier - chassis[:, None], axis=0)[pose.closed]
        np.testing.assert_allclose(length, axle.beam.length[index], atol=EXACT)
    width = np.linalg.norm(pose.wheels[:, 0] - pose.wheels[:, 1], axis=0)[pose.closed]
    np.testing.assert_allclose(width, np.linalg.norm(axle.wheel_left - axle.wheel_right), atol=EXACT)
    at = axle_readings(pose)
    np.testing.assert_allclose(at.bump_in[pose.closed], BUMPS[pose.closed], atol=EXACT)
    np.testing.assert_allclose(at.roll_deg[pose.closed], ROLLS[pose.closed], atol=1e-8)
    assert np.isnan(pose.wheels[..., ~pose.closed]).all()
    assert (pose.failed[~pose.closed] > 0).all()


def mirrored_axle(given_survey: dict[str, Any]) -> dict[str, Any]:
    return {
        "rods": {
            name: LinkRod(rod.chassis * MIRROR, rod.carrier * MIRROR, OTHER[rod.on])  # type: ignore[arg-type]  # one of them
            for name, rod in given_survey["rods"].items()
        },
        "wheel_left": given_survey["wheel_right"] * MIRROR,
        "wheel_right": given_survey["wheel_left"] * MIRROR,
        "left_radius_in": given_survey["right_radius_in"],
        "right_radius_in": given_survey["left_radius_in"],
    }


@given(surveys())
@settings(max_examples=30)
def test_the_mirrored_axle_gives_mirrored_answers(given_survey: dict[str, Any]) -> None:
    mirrored = mirrored_axle(given_survey)
    one = axle_readings(solve_axle(rear_axle_from_survey(**given_survey), bump_in=BUMPS, roll_deg=ROLLS))
    two = axle_readings(solve_axle(rear_axle_from_survey(**mirrored), bump_in=BUMPS, roll_deg=-ROLLS))
    np.testing.assert_allclose(two.lead_change_in, one.lead_change_in[::-1], atol=1e-8)
    np.testing.assert_allclose(two.steer_deg, -one.steer_deg, atol=1e-8)
    np.testing.assert_allclose(two.pinion_deg, one.pinion_deg, atol=1e-8)
    np.testing.assert_allclose(two.lateral_shift_in, -one.lateral_shift_in, atol=1e-8)
    np.testing.assert_allclose(two.birdcage_indexing_deg, one.birdcage_indexing_deg[::-1], atol=1e-8)
    np.testing.assert_allclose(two.steer_per_roll_deg_per_deg, one.steer_per_roll_deg_per_deg, atol=1e-8)
    np.testing.assert_allclose(two.steer_per_bump_deg_per_in, -one.steer_per_bump_deg_per_in, atol=1e-8)


@given(surveys(), amounts)
@settings(max_examples=30)
def test_no_change_is_none_and_changes_go_back(given_survey: dict[str, Any], moves: list[float]) -> None:
    axle = rear_axle_from_survey(**given_survey)
    back = changed(changed(axle, moves), [-amount for amount in moves])
    ours = solve_axle(axle, bump_in=BUMPS, roll_deg=ROLLS)
    np.testing.assert_allclose(solve_axle(back, bump_in=BUMPS, roll_deg=ROLLS).wheels, ours.wheels, atol=1e-8)
    at_survey = axle_readings(solve_axle(axle, bump_in=0, roll_deg=0))
    for reading in ("steer_deg", "pinion_deg", "lateral_shift_in", "lead_change_in", "travel_in"):
        np.testing.assert_allclose(getattr(at_survey, reading), 0, atol=EXACT)


@given(surveys(), st.floats(-2, 2), st.floats(-4, 4))
@settings(max_examples=30)
def test_rates_are_what_small_motions_do(given_survey: dict[str, Any], bump: float, roll: float) -> None:
    axle, h = rear_axle_from_survey(**given_survey), 1e-4
    at = axle_readings(solve_axle(axle, bump_in=bump, roll_deg=roll))
    bumped = axle_readings(solve_axle(axle, bump_in=[bump - h, bump + h], roll_deg=roll))
    rolled = axle_readings(solve_axle(axle, bump_in=bump, roll_deg=[roll - h, roll + h]))
    for reading, per_bump, per_roll in (
        ("steer_deg", at.steer_per_bump_deg_per_in, at.steer_per_roll_deg_per_deg),
        ("pinion_deg", at.pinion_per_bump_deg_per_in, at.pinion_per_roll_deg_per_deg),
    ):
        np.testing.assert_allclose(np.diff(getattr(bumped, reading)) / (2 * h), per_bump, atol=1e-5)
        np.testing.assert_allclose(np.diff(getattr(rolled, reading)) / (2 * h), per_roll, atol=1e-5)


@given(surveys(), st.floats(-2, 2), st.floats(-4, 4), st.floats(-1, 1))
@settings(max_examples=30)
def test_a_spring_follows_both_wheels(given_survey: dict[str, Any], bump: float, roll: float, lean: float) -> None:
    axle, h = rear_axle_from_survey(**given_survey), 1e-4
    mounts: dict[str, Any] = {"chassis": (-103, 20 + lean, 30), "moving": (-102, 20, 15), "on": axle.on[0]}
    moving = rear_motion(solve_axle(axle, bump_in=bump, roll_deg=roll), **mounts)
    for d_bump, d_roll in ((h, 0.0), (0.0, h)):
        ends = solve_axle(axle, bump_in=bump + d_bump * np.array([-1, 1]), roll_deg=roll + d_roll * np.array([-1, 1]))
        travel = np.diff(axle_readings(ends).travel_in)[:, 0]
        longer = np.diff(rear_motion(ends, **mounts).length_in).item()
        np.testing.assert_allclose(moving.per_wheel @ travel, longer, atol=1e-9)
        np.testing.assert_allclose(
            2 * (d_bump * moving.per_bump + d_roll * moving.per_roll_in_per_deg), longer, atol=1e-9
        )


heaves, rolls, pitches = st.floats(-1.5, 0.8), st.floats(-3, 4), st.floats(-1, 1)


@given(
    st.sampled_from(["dirt", "asphalt"]), heaves, rolls, pitches, st.lists(st.floats(-0.3, 0.3), min_size=4, max_size=4)
)
@settings(max_examples=40)
def test_every_patch_is_on_the_ground(name: str, heave: float, roll: float, pitch: float, radii: list[float]) -> None:
    left, right, axle = corner(f"{name} lf"), corner(f"{name} rf"), rear_axle(name)
    at = car_stance(
        left=left, right=right, axle=axle, heave_in=heave, roll_deg=roll, pitch_deg=pitch, radius_change_in=radii
    )
    assert at.closed
    np.testing.assert_allclose(at.patch[2], 0, atol=EXACT)
    for center in (at.front_center, at.rear_center):
        assert center.exists
    again = solve_axle(axle, bump_in=np.mean(at.travel_in[2:]), roll_deg=axle_readings(at.axle).roll_deg)
    np.testing.assert_allclose(again.wheels, at.axle.wheels, atol=1e-8)


@given(surveys(), st.integers(0, 1000), heaves, rolls, pitches)
@settings(max_examples=30)
def test_the_mirrored_car_has_the_mirrored_stance(
    rear: dict[str, Any], seed: int, heave: float, roll: float, pitch: float
) -> None:
    fronts = [random_points(np.random.default_rng(seed + 1 + side), side) for side in (1, -1)]
    across = [
        {name: value * MIRROR if name in TYPICAL else value for name, value in front.items()} | {"side": -front["side"]}
        for front in fronts[::-1]
    ]
    one, two = (
        car_stance(
            left=corner_from_survey(**left),
            right=corner_from_survey(**right),
            axle=rear_axle_from_survey(**behind),
            heave_in=heave,
            roll_deg=lean,
            pitch_deg=pitch,
        )
        for (left, right), behind, lean in ((fronts, rear, roll), (across, mirrored_axle(rear), -roll))
    )
    swapped = [1, 0, 3, 2]
    for reading in ("travel_in", "camber_deg", "toe_deg"):
        np.testing.assert_allclose(getattr(two, reading)[swapped], getattr(one, reading), atol=1e-7, err_msg=reading)
    for center in ("front_center", "rear_center"):
        np.testing.assert_allclose(getattr(two, center).y_in, -getattr(one, center).y_in, atol=1e-4)
        np.testing.assert_allclose(getattr(two, center).height_in, getattr(one, center).height_in, atol=1e-4)
