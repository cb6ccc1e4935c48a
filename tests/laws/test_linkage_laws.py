"""Laws of the front corner that hold for every corner, change and travel."""

from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from golden.independent_solvers import TYPICAL
from studbook_service.engine.changes import Moves, apply, shims
from studbook_service.engine.corner import FrontLinkage, corner_from_survey, mount
from studbook_service.engine.linkage import mount_length, solve_angle, solve_spring_length, solve_travel
from studbook_service.engine.restore import Targets, restore
from studbook_service.engine.steering import rack
from studbook_service.engine.wheel import motion, wheel

TRAVELS = np.linspace(-2.5, 3.0, 12)
EXACT = 1e-9

offsets = st.lists(st.floats(-0.8, 0.8), min_size=3 * len(TYPICAL), max_size=3 * len(TYPICAL))
sides = st.sampled_from([1, -1])
lengths = st.floats(-0.3, 1.0)


@st.composite
def surveys(draw: st.DrawFn) -> dict[str, Any]:
    """An invented corner near the typical one, left or right."""
    side = draw(sides)
    shift = np.reshape(draw(offsets), (len(TYPICAL), 3))
    points = {
        name: (np.array(place) + move) * (1, side, 1)
        for (name, place), move in zip(TYPICAL.items(), shift, strict=True)
    }
    return {
        "side": side,
        **points,
        "camber_deg": draw(st.floats(-5, 5)),
        "toe_deg": draw(st.floats(-0.5, 0.5)),
        "loaded_radius_in": draw(st.floats(12, 14)),
        "spring": mount(chassis=(0, side * 17, 23.5), moving=(0.2, side * 22.5, 8.5), body="lower_arm"),
    }


@st.composite
def changes(draw: st.DrawFn) -> Moves:
    """A crew's evening: studs, housings, shims, rods, spacers."""
    small = st.floats(-0.25, 0.25)
    return Moves(
        upper_stud_in=draw(lengths),
        lower_stud_in=draw(lengths),
        upper_housing_in=draw(small),
        upper_front_in=[draw(small), draw(small), draw(small)],
        lower_rear_in=[draw(small), draw(small), draw(small)],
        tie_inner_in=[0.0, 0.0, draw(small)],
        upper_arm_in=draw(small),
        tie_rod_in=draw(small),
        outer_spacer_in=draw(small),
        wheel_offset_in=draw(small),
        loaded_radius_in=draw(small),
    )


def apart(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    first, second = (each if each.ndim == 2 else each[:, None] for each in (a, b))
    return np.asarray(np.linalg.norm(first - second, axis=0))


@given(surveys(), lengths, lengths, st.floats(-2, 2))
@settings(max_examples=60)
def test_rigid_lengths_are_conserved(survey: dict[str, Any], upper: float, lower: float, shift: float) -> None:
    corner = apply(corner_from_survey(**survey), Moves(upper_stud_in=upper, lower_stud_in=lower))
    pose = solve_travel(corner, travel_in=TRAVELS, steer_in=rack(shift_in=shift))
    closed = pose.closed
    assert closed.any()
    high = corner.upper_ball + upper * corner.upper_stud_axis
    low = corner.lower_ball + lower * corner.lower_stud_axis
    spindle = {
        "upper_ball": high,
        "lower_ball": low,
        "tie_outer": corner.tie_outer,
        "wheel_center": corner.wheel_center,
    }
    names = list(spindle)
    for index, one in enumerate(names):
        for two in names[index + 1 :]:
            length = apart(getattr(pose, one), getattr(pose, two))[closed]
            np.testing.assert_allclose(length, np.linalg.norm(spindle[one] - spindle[two]), atol=EXACT)
    for arm, ball in (("upper", pose.upper_ball), ("lower", pose.lower_ball)):
        for end in ("front", "rear"):
            pivot = getattr(corner, f"{arm}_{end}")
            leg = np.linalg.norm(getattr(corner, f"{arm}_ball") - pivot)
            np.testing.assert_allclose(apart(ball, pivot)[closed], leg, atol=EXACT)
    rod = np.linalg.norm(corner.tie_outer - corner.tie_inner)
    np.testing.assert_allclose(apart(pose.tie_outer, pose.tie_inner)[closed], rod, atol=EXACT)
    np.testing.assert_allclose(pose.travel_in[closed], TRAVELS[closed], atol=EXACT)
    np.testing.assert_allclose(np.linalg.norm(pose.spin, axis=0)[closed], 1.0, atol=EXACT)
    assert np.isnan(pose.upper_ball[:, ~closed]).all()
    assert (pose.failed[~closed] > 0).all()


@given(surveys(), changes(), st.floats(-2, 2))
@settings(max_examples=60)
def test_the_mirrored_car_gives_mirrored_answers(survey: dict[str, Any], moves: Moves, shift: float) -> None:
    mirror = np.array([1.0, -1.0, 1.0])
    other = {name: value * mirror if name in TYPICAL else value for name, value in survey.items()}
    other["side"] = -survey["side"]
    spring = survey["spring"]
    other["spring"] = mount(chassis=spring.chassis * mirror, moving=spring.moving * mirror, body="lower_arm")
    reflected = Moves(
        **{name: getattr(moves, name) * (mirror if getattr(moves, name).ndim else 1.0) for name in moves.made}
    )
    poses = [
        solve_travel(apply(corner_from_survey(**given), made), travel_in=TRAVELS, steer_in=rack(shift_in=steer))
        for given, made, steer in ((survey, moves, shift), (other, reflected, -shift))
    ]
    one, two = map(wheel, poses)
    for name in vars(one):
        if name != "side":
            flip = mirror[:, None] if getattr(one, name).ndim == 2 else 1.0
            np.testing.assert_allclose(getattr(two, name) * flip, getattr(one, name), atol=1e-7, err_msg=name)
    np.testing.assert_allclose(motion(poses[1]).ratio, motion(poses[0]).ratio, atol=EXACT)


@given(surveys(), changes())
@settings(max_examples=40)
def test_no_change_has_no_effect_and_changes_add_up(survey: dict[str, Any], moves: Moves) -> None:
    corner = corner_from_survey(**survey)

    def camber(which: FrontLinkage) -> np.ndarray:
        return np.asarray(wheel(solve_travel(which, travel_in=TRAVELS)).camber_deg)

    base = camber(corner)
    np.testing.assert_array_equal(camber(apply(corner, Moves())), base)
    np.testing.assert_allclose(camber(apply(apply(corner, moves), -1.0 * moves)), base, atol=EXACT)
    np.testing.assert_allclose(
        camber(apply(apply(corner, 0.5 * moves), 0.5 * moves)), camber(apply(corner, moves)), atol=1e-8
    )
    at = wheel(solve_travel(corner, travel_in=0.0))
    np.testing.assert_allclose([at.camber_deg, at.toe_deg], [survey["camber_deg"], survey["toe_deg"]], atol=EXACT)


@given(surveys(), lengths, lengths)
@settings(max_examples=40)
def test_restoring_restores(survey: dict[str, Any], upper: float, lower: float) -> None:
    corner = corner_from_survey(**survey)
    was = wheel(solve_travel(corner, travel_in=0.0))
    changed = apply(corner, Moves(upper_stud_in=upper, lower_stud_in=lower))
    names = ("camber_deg", "caster_deg", "toe_deg", "bump_steer_deg_per_in")
    found = restore(
        changed,
        targets=Targets(**{name: getattr(was, name) for name in names}),
        adjustments=[
            shims(side=survey["side"], front_in=1, rear_in=1),
            shims(side=survey["side"], front_in=1, rear_in=-1),
            Moves(tie_rod_in=1),
            Moves(outer_spacer_in=1),
        ],
    )
    assert found.converged
    again = wheel(solve_travel(found.corner, travel_in=0.0))
    for name in names:
        np.testing.assert_allclose(getattr(again, name), getattr(was, name), atol=1e-8, err_msg=name)


@given(surveys(), changes(), st.floats(-2, 2))
@settings(max_examples=40)
def test_travel_angle_and_spring_length_lead_to_one_pose(survey: dict[str, Any], moves: Moves, travel: float) -> None:
    corner = apply(corner_from_survey(**survey), moves)
    pose = solve_travel(corner, travel_in=travel)
    assume(bool(pose.closed))
    by_angle = solve_angle(corner, angle_rad=pose.angle_rad)
    by_spring = solve_spring_length(corner, length_in=mount_length(pose))
    np.testing.assert_allclose(by_angle.upper_ball, pose.upper_ball, atol=EXACT)
    np.testing.assert_allclose(by_spring.upper_ball, pose.upper_ball, atol=1e-8)
