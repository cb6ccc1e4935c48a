"""Solving a corner: published tables, limits of the linkage, batches."""

import warnings

import numpy as np
import pytest

from golden.front_corners import CORNER_TABLES, corner
from golden.independent_solvers import random_points
from studbook_service.engine.changes import Moves, apply, shims
from studbook_service.engine.corner import FrontLinkage, corner_from_survey, mount, stack
from studbook_service.engine.linkage import (
    mount_length,
    reach,
    solve_angle,
    solve_spring_length,
    solve_travel,
)
from studbook_service.engine.reach import FAILED
from studbook_service.engine.steering import rack
from studbook_service.engine.wheel import wheel


def table_corner() -> FrontLinkage:
    given = CORNER_TABLES
    return corner_from_survey(
        side=1,
        **given["points_in"],
        camber_deg=given["camber_deg"],
        toe_deg=given["toe_deg"],
        loaded_radius_in=given["loaded_radius_in"],
        # The tables lengthen the studs along z.
        upper_stud_axis=(0, 0, 1),
        lower_stud_axis=(0, 0, -1),
    )


STUDS = {
    "surveyed": Moves(),
    "lower stud +0.25 in": Moves(lower_stud_in=0.25),
    "upper stud +0.25 in": Moves(upper_stud_in=0.25),
}


@pytest.mark.parametrize("name", STUDS)
def test_agrees_with_tables_of_five_solvers(name: str) -> None:
    table = CORNER_TABLES["tables"][name]
    pose = solve_travel(apply(table_corner(), STUDS[name]), travel_in=[float(travel) for travel in table])
    at = wheel(pose)
    projected = np.degrees(np.arctan2(-pose.spin[2], pose.spin[1]))  # the tables give camber projected about x
    ours = {
        "camber": projected, "toe": at.toe_deg, "caster": at.caster_deg, "kpi": at.kingpin_deg,
        "scrub": at.scrub_in, "trail": at.trail_in, "cp_y": at.patch[1],
        "wc_x": pose.wheel_center[0], "wc_y": pose.wheel_center[1], "wc_z": pose.wheel_center[2],
    }  # fmt: skip
    for key, values in ours.items():
        np.testing.assert_allclose(values, [row[key] for row in table.values()], rtol=0, atol=2e-9, err_msg=key)


def test_reads_back_its_survey() -> None:
    at = wheel(solve_travel(corner("asphalt lf"), travel_in=0.0))
    assert float(at.camber_deg) == pytest.approx(4.5, abs=1e-12)
    assert float(at.toe_deg) == pytest.approx(-0.06, abs=1e-12)


def test_out_of_reach_is_nan_with_the_rod_that_ran_out() -> None:
    pose = solve_travel(corner("dirt rf"), travel_in=[-30.0, 0.0, 30.0])
    assert pose.closed.tolist() == [False, True, False]
    assert FAILED[int(pose.failed[1])] == ""
    assert all(FAILED[int(code)] for code in pose.failed[[0, 2]])
    at = wheel(pose)
    for values in vars(at).values():
        array = np.asarray(values)
        if array.ndim:
            assert np.isfinite(array[..., 1]).all()
            assert np.isnan(array[..., [0, 2]]).all()


def test_reaches_just_up_to_its_reach() -> None:
    ends = reach(corner("dirt rf"))
    inside = solve_travel(corner("dirt rf"), travel_in=[ends.lowest_in + 1e-6, ends.highest_in - 1e-6])
    outside = solve_travel(corner("dirt rf"), travel_in=[ends.lowest_in - 1e-6, ends.highest_in + 1e-6])
    assert inside.closed.all()
    assert not outside.closed.any()
    assert outside.failed.tolist() == [int(ends.lowest_failed), int(ends.highest_failed)]


def test_pivots_surveyed_front_for_rear_run_out_in_the_same_places() -> None:
    """A positive angle then lowers the ball; which member runs out in droop and in bump stays what it is."""
    rng = np.random.default_rng(41)
    differ = 0
    for number in range(12):
        survey = random_points(rng, side=1 if number % 2 else -1)
        swapped = dict(survey)
        for arm in ("upper", "lower"):
            swapped[f"{arm}_front"], swapped[f"{arm}_rear"] = survey[f"{arm}_rear"], survey[f"{arm}_front"]
        one, other = (reach(corner_from_survey(**each)) for each in (survey, swapped))
        np.testing.assert_allclose(other.lowest_in, one.lowest_in, atol=1e-6)
        np.testing.assert_allclose(other.highest_in, one.highest_in, atol=1e-6)
        assert (int(other.lowest_failed), int(other.highest_failed)) == (
            int(one.lowest_failed),
            int(one.highest_failed),
        )
        differ += int(one.lowest_failed != one.highest_failed)
    assert differ


def test_the_tie_rod_is_named_when_it_runs_out() -> None:
    short = apply(corner("dirt rf"), Moves(tie_rod_in=-9.0))
    pose = solve_travel(short, travel_in=0.0)
    assert not pose.closed
    assert FAILED[int(pose.failed)] == "tie rod"
    steered = solve_travel(corner("dirt rf"), travel_in=0.0, steer_in=rack(shift_in=12.0))
    assert FAILED[int(steered.failed)] == "tie rod"


def test_the_upper_arm_is_named_when_it_cannot_reach() -> None:
    pose = solve_angle(apply(corner("dirt rf"), Moves(upper_stud_in=40.0)), angle_rad=0.0)
    assert FAILED[int(pose.failed)] == "upper arm"
    apart = shims(side=-1, front_in=0.0, rear_in=40.0)
    assert FAILED[int(solve_travel(apply(corner("dirt rf"), apart), travel_in=0.0).failed)] == "upper arm"


def test_the_lower_arm_is_named_when_it_cannot_form_its_triangle() -> None:
    apart = Moves(lower_front_in=(60.0, 0.0, 0.0))
    pose = solve_travel(apply(corner("dirt rf"), apart), travel_in=[0.0, 1.0])
    assert not pose.closed.any()
    assert [FAILED[int(code)] for code in pose.failed] == ["lower arm", "lower arm"]


def test_upper_arm_toggles_where_it_lines_up_with_the_spindle() -> None:
    """Planar by hand: a short steep upper arm runs out in droop where arm and spindle are in one line."""
    planar = corner_from_survey(
        side=1,
        upper_front=(5, 18, 17.5), upper_rear=(-5, 18, 17.5), upper_ball=(0, 22, 18),
        lower_front=(5, 10, 7), lower_rear=(-5, 10, 7), lower_ball=(0, 25, 7),
        tie_inner=(6, 10, 7), tie_outer=(6, 25, 7), wheel_center=(0, 26, 12),
        camber_deg=0, toe_deg=0, loaded_radius_in=12,
    )  # fmt: skip
    angles = np.linspace(-1.0, 1.0, 20_001)
    pose = solve_angle(planar, angle_rad=angles)
    pivot, lower_pivot, lower_radius = np.array([18, 17.5]), np.array([10, 7]), 15.0
    spindle, arm = np.hypot(3.0, 11.0), np.hypot(4.0, 0.5)
    ball = lower_pivot + lower_radius * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    gap = np.linalg.norm(ball - pivot, axis=-1)
    assert (pose.closed == ((gap < spindle + arm) & (gap > spindle - arm))).all()
    assert {FAILED[int(code)] for code in pose.failed[~pose.closed]} == {"upper arm"}


def test_a_lower_arm_that_goes_over_center_ends_the_travel() -> None:
    """By hand: parallel arms and rod of 15 in at 40 deg stand upright 15 (1 - sin 40) in higher, still closed."""
    way = 15 * np.array([0.0, np.cos(np.radians(40)), np.sin(np.radians(40))])
    pivots = {"lower": np.array([0.0, 10.0, 7.0]), "upper": np.array([0.0, 7.0, 18.0])}
    along, rod = np.array([5.0, 0.0, 0.0]), np.array([6.0, 9.5, 9.0])
    ends = {
        f"{arm}_{end}": at + sign * along for arm, at in pivots.items() for end, sign in (("front", 1), ("rear", -1))
    }
    over = corner_from_survey(
        side=1,
        **ends,
        upper_ball=pivots["upper"] + way,
        lower_ball=pivots["lower"] + way,
        tie_inner=rod,
        tie_outer=rod + way,
        wheel_center=pivots["lower"] + way + (0, 3, 5),
        camber_deg=0, toe_deg=0, loaded_radius_in=12,
    )  # fmt: skip
    ends_at = reach(over)
    assert float(ends_at.highest_in) == pytest.approx(15 * (1 - np.sin(np.radians(40))), abs=1e-9)
    assert FAILED[int(ends_at.highest_failed)] == "lower arm"
    beyond = solve_travel(over, travel_in=float(ends_at.highest_in) + 0.1)
    assert FAILED[int(beyond.failed)] == "lower arm"


def test_finds_the_survey_branch_next_to_a_toggle() -> None:
    """Prescribed travels up to the limit never jump to the other assembly."""
    ends = reach(corner("asphalt rf"))
    travels = np.linspace(float(ends.lowest_in) + 1e-3, float(ends.highest_in) - 1e-3, 400)
    pose = solve_travel(corner("asphalt rf"), travel_in=travels)
    assert pose.closed.all()
    assert (np.diff(pose.angle_rad) > 0).all()


def test_closes_inside_its_reach_and_nowhere_else() -> None:
    rng = np.random.default_rng(7)
    travels = np.linspace(-20.0, 20.0, 81)
    for number in range(20):
        wild = Moves(upper_stud_in=rng.uniform(-1, 3), lower_stud_in=rng.uniform(-1, 3), tie_rod_in=rng.uniform(-2, 2))
        odd = apply(corner_from_survey(**random_points(rng, side=1 if number % 2 else -1)), wild)
        ends = reach(odd)
        inside = (travels > ends.lowest_in) & (travels < ends.highest_in)
        assert (solve_travel(odd, travel_in=travels).closed == inside).all()


def test_pivots_named_front_for_rear_give_the_same_wheel() -> None:
    given = CORNER_TABLES["points_in"]
    swapped = dict(given, lower_front=given["lower_rear"], lower_rear=given["lower_front"])
    other = corner_from_survey(side=1, **swapped, camber_deg=-3.0, toe_deg=-0.1, loaded_radius_in=13.0)
    travels = np.array([-3.0, 0.0, 3.0])
    np.testing.assert_allclose(
        wheel(solve_travel(other, travel_in=travels)).camber_deg,
        wheel(solve_travel(table_corner(), travel_in=travels)).camber_deg,
        atol=1e-9,
    )
    np.testing.assert_allclose(reach(other)[:2], reach(table_corner())[:2], atol=1e-9)


def test_large_batches_equal_single_solves() -> None:
    rng = np.random.default_rng(5)
    designs = apply(
        corner("dirt lf"), Moves(upper_stud_in=rng.uniform(0, 1, 700), tie_rod_in=rng.uniform(-0.1, 0.1, 700))
    )
    travels = np.array([-3.0, -1.0, 0.5, 2.0, 20.0])
    whole = solve_travel(designs.expand(1), travel_in=travels)
    assert whole.closed.shape == (700, 5)
    assert whole.closed[:, :4].all()
    assert not whole.closed[:, 4].any()
    for index in (0, 17, 699):
        one = apply(
            corner("dirt lf"),
            Moves(upper_stud_in=designs.moves.upper_stud_in[index], tie_rod_in=designs.moves.tie_rod_in[index]),
        )
        alone = solve_travel(one, travel_in=travels)
        np.testing.assert_allclose(whole.upper_ball[:, index], alone.upper_ball, atol=1e-9)
        assert whole.failed[index].tolist() == alone.failed.tolist()


def test_spring_length_follows_whichever_body_carries_it() -> None:
    pair = stack([corner("dirt rf"), corner("dirt rf", "upper_arm"), corner("dirt rf", "spindle")])
    travels = np.array([-2.0, 0.0, 1.5])
    length = mount_length(solve_travel(pair.expand(1), travel_in=travels))
    again = solve_spring_length(pair.expand(1), length_in=length)
    np.testing.assert_allclose(again.travel_in, np.broadcast_to(travels, (3, 3)), atol=1e-8)
    for index, body in enumerate(("lower_arm", "upper_arm", "spindle")):
        alone = mount_length(solve_travel(corner("dirt rf", body), travel_in=travels))
        np.testing.assert_allclose(length[index], alone, atol=1e-9)


def test_no_spring_is_nowhere_closed() -> None:
    bare = table_corner()
    assert np.isnan(mount_length(solve_travel(bare, travel_in=0.0)))
    assert not solve_spring_length(bare, length_in=15.0).closed


def test_nan_goes_in_and_comes_out_without_a_warning() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        pose = solve_travel(corner("dirt rf"), travel_in=[np.nan, 0.0])
    assert pose.closed.tolist() == [False, True]


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"lower_rear": (7.0, 11.0, 6.5)}, "lower_front and lower_rear"),
        ({"tie_outer": (5.0, 10.75, 7.25)}, "tie_inner and tie_outer"),
        ({"upper_ball": (0.0, 28.0, 6.0)}, "upper_ball and lower_ball"),
        ({"upper_ball": (0.0, 17.125, 15.25)}, "upper_ball"),
        ({"tie_outer": (-0.5, 27.0, 12.0)}, "tie_outer"),
        ({"wheel_center": (0.0, 31.0)}, "wheel_center"),
        ({"wheel_center": (0.0, np.nan, 13.0)}, "wheel_center"),
        ({"side": 0}, "side"),
        ({"loaded_radius_in": 0.0}, "loaded_radius_in"),
        ({"upper_stud_axis": (0, 0, 0)}, "upper_stud_axis"),
        ({"upper_ball_is": "between"}, "ball_is"),
    ],
)
def test_malformed_surveys_are_refused_by_name(change: dict[str, object], named: str) -> None:
    whole = {"side": 1, **CORNER_TABLES["points_in"], "camber_deg": -3.0, "toe_deg": -0.1, "loaded_radius_in": 13.0}
    with pytest.raises(ValueError, match=named):
        corner_from_survey(**{**whole, **change})


def test_malformed_arguments_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match="steer_in"):
        solve_travel(table_corner(), travel_in=0.0, steer_in=1.0)
    with pytest.raises(ValueError, match="body"):
        mount(chassis=(0, 0, 1), moving=(0, 0, 0), body="frame")  # type: ignore[arg-type]  # wrong on purpose
    with pytest.raises(ValueError, match="upper_front_in"):
        Moves(upper_front_in=0.1)


def test_a_ball_inside_turns_the_default_axis_round() -> None:
    whole = {"side": 1, **CORNER_TABLES["points_in"], "camber_deg": -3.0, "toe_deg": -0.1, "loaded_radius_in": 13.0}
    inside = corner_from_survey(**whole, upper_ball_is="inside", lower_ball_is="inside")
    outside = corner_from_survey(**whole)
    np.testing.assert_allclose(inside.upper_stud_axis, -outside.upper_stud_axis)
    np.testing.assert_allclose(inside.lower_stud_axis, -outside.lower_stud_axis)
    np.testing.assert_allclose(outside.lower_stud_axis, -outside.upper_stud_axis)
