"""Where studs point, and their swing against the limit."""

import numpy as np
import pytest

from golden.front_corners import corner
from golden.moves import corner_survey
from studbook_service.engine.corner import corner_from_survey, stack
from studbook_service.engine.joints import joint_rates
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.steering import rack
from studbook_service.engine.swing import Joint, housing_axis, spindle_direction, stud_angle, stud_axis, swing_margin

NAMES = ("dirt lf", "dirt rf", "asphalt lf", "asphalt rf")


@pytest.mark.parametrize("name", NAMES)
def test_the_default_stud_stays_on_the_line_of_the_balls(name: str) -> None:
    pose = solve_travel(corner(name), travel_in=[-3, 0, 4], steer_in=rack(shift_in=[-1.5, 0, 1.5]))
    line = pose.upper_ball - pose.lower_ball
    line = line / np.linalg.norm(line, axis=0)
    np.testing.assert_allclose(stud_axis(pose, joint="upper"), line, atol=1e-12)
    np.testing.assert_allclose(stud_axis(pose, joint="lower"), -line, atol=1e-12)
    np.testing.assert_allclose(spindle_direction(pose, corner(name).spin), pose.spin, atol=1e-12)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("joint", ["upper", "lower"])
def test_small_travel_swings_by_the_tilt_rate(name: str, joint: Joint) -> None:
    step = 1e-4
    angle = stud_angle(solve_travel(corner(name), travel_in=step), joint=joint)
    tilt = joint_rates(solve_travel(corner(name), travel_in=step / 2))[f"{joint}_ball"].tilt
    assert float(stud_angle(solve_travel(corner(name), travel_in=0), joint=joint)) == pytest.approx(0, abs=1e-6)
    assert float(np.radians(angle)) == pytest.approx(step * float(tilt), rel=1e-5)


def test_a_surveyed_housing_axis_is_where_the_angle_starts() -> None:
    base = corner("dirt rf")
    leaning = np.array([0.0, np.sin(np.radians(12)), np.cos(np.radians(12))])
    tilted = base.remade((), upper_housing_axis=leaning)
    pose = solve_travel(tilted, travel_in=0)
    np.testing.assert_allclose(housing_axis(pose, joint="upper"), leaning, atol=1e-12)
    expected = np.degrees(np.arccos(base.upper_stud_axis @ leaning))
    assert float(stud_angle(pose, joint="upper")) == pytest.approx(expected)


def test_binding_is_negative_and_its_place_is_found() -> None:
    pair = stack([corner("dirt lf"), corner("dirt rf")])
    travel, shift = np.linspace(-5, 4, 10), np.linspace(-2, 2, 9)
    over = swing_margin(pair, joint="upper", limit_deg=[27, 12], travel_in=travel, steer_in=rack(shift_in=shift))
    assert over.margin_deg.shape == (2, 10, 9)
    for side in range(2):
        place = (side, int(over.worst_travel[side]), int(over.worst_steer[side]))
        assert over.worst_deg[side] == over.margin_deg[place] == np.nanmin(over.margin_deg[side])
    assert over.worst_deg[0] > 0 > over.worst_deg[1]
    alone = solve_travel(
        corner("dirt rf"),
        travel_in=travel[over.worst_travel[1]],
        steer_in=rack(shift_in=shift[over.worst_steer[1]]),
    )
    assert float(stud_angle(alone, joint="upper")) == pytest.approx(12 - over.worst_deg[1])


def test_where_nothing_closes_the_worst_is_unknown() -> None:
    over = swing_margin(
        corner("dirt rf"), joint="lower", limit_deg=25, travel_in=[40, 41], steer_in=rack(shift_in=[0.0])
    )
    assert np.isnan(over.worst_deg)
    assert not over.closed.any()


def test_bad_arguments_are_refused() -> None:
    base, straight = corner("dirt rf"), rack(shift_in=[0.0])
    with pytest.raises(ValueError, match="limit_deg is 95 deg; it must be at most 90 deg"):
        swing_margin(base, joint="upper", limit_deg=95, travel_in=[0], steer_in=straight)
    with pytest.raises(ValueError, match="travel_in"):
        swing_margin(base, joint="upper", limit_deg=25, travel_in=0, steer_in=straight)
    with pytest.raises(ValueError, match="steer_in"):
        swing_margin(base, joint="upper", limit_deg=25, travel_in=[0], steer_in=(0, 1, 0))
    for function in (stud_axis, housing_axis, stud_angle):
        with pytest.raises(ValueError, match="joint"):
            function(solve_travel(base, travel_in=0), joint="middle")  # type: ignore[arg-type] # the wrong word is the point


@pytest.mark.parametrize("joint", ["upper", "lower"])
def test_a_housings_axis_is_a_line_whichever_way_it_was_measured(joint: Joint) -> None:
    """A rod laid through the housing has no ends: told the other way round, the stud stands at the same angle."""
    survey = corner_survey("dirt rf")
    turned = survey | {f"{joint}_housing_axis": -np.asarray(survey[f"{joint}_housing_axis"])}
    one, other = (
        stud_angle(solve_travel(corner_from_survey(**each), travel_in=[-2.0, 0.0, 2.0]), joint=joint)
        for each in (survey, turned)
    )
    np.testing.assert_allclose(other, one, atol=1e-9)
    assert (one < 45).all()
