"""Joints of a document: friction, swing, loads and studs, against an independent solver's answers and by hand."""

import math
from typing import Any

import pytest
from msgspec import UNSET

from golden.joints_and_parts import SHAPE_FACTOR_PRINTED, STATICS, STEEL_4140_1000F_YIELD_PSI
from present import present
from studbook.history.canonical import Tree
from studbook.wire.figures import compare, numbers
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.joints import joints_answer
from translate.documents import car, with_edits

CORNERING = WheelForces(vertical_lb=1075 + 73, side_lb=950, braking_lb=350, on="rf")
UNSPRUNG = {"lf": 70, "rf": 73}


def fitted(**edits: Any) -> Tree:
    """A car whose joints were read: 50 in-lb at the right front, 5 at the left."""
    more: dict[str, Any] = {}
    for name, torque in (("lf", 5), ("rf", 50)):
        more[f"setup__front__{name}__unsprung_lb"] = UNSPRUNG[name]
        for arm, seat in (("upper", 0.62), ("lower", 0.75)):
            joint = f"measured__front__{name}__{arm}_joint"
            stud = f"setup__front__{name}__{arm}_stud"
            more |= {f"{joint}__breakaway_in_lb": torque, f"{joint}__running_in_lb": 0.7 * torque}
            more |= {f"{stud}__seat_diameter_in": seat, f"{stud}__swing_limit_deg": 25}
    return with_edits(car(), **{path: value for path, value in (more | edits).items() if value is not None})


def answer(tree: Tree, asked: WheelForces | None = None) -> JointsAnswer:
    return joints_answer(tree, origins={}, forces=asked or WheelForces())


@pytest.mark.parametrize("name", ["lf", "rf"])
def test_rates_and_static_loads_of_an_independent_solver(name: str) -> None:
    golden, corner = STATICS[f"dirt {name}"], getattr(answer(fitted()), name)
    assert corner.joints["upper_ball"].turns_rad_per_in == pytest.approx(golden["upper"], abs=6e-5)
    assert corner.joints["lower_ball"].turns_rad_per_in == pytest.approx(golden["lower"], abs=6e-5)
    assert corner.spring_lb == pytest.approx(golden["spring_lb"], abs=0.6)
    assert corner.joints["lower_ball"].load.axial_lb == pytest.approx(golden["axial_lb"], abs=0.6)
    assert corner.joints["lower_ball"].load.axial_is == "tension"


def test_tight_joints_cost_pounds_and_hundredths() -> None:
    found = answer(fitted())
    # By the independent solver's rates: 50 (0.0758 + 0.0297) lb, and twice that over the wheel rate.
    golden = STATICS["dirt rf"]
    force = 50 * (golden["upper"] + golden["lower"])
    assert present(present(found.rf).breakaway).total_lb == pytest.approx(force, abs=6e-3)
    assert present(found.rf).tight.tight_lb == pytest.approx(force, abs=6e-3)
    assert present(found.rf).tight.free_lb == pytest.approx(present(found.rf).tight.tight_lb / 10)
    assert present(found.rf).dead_band_in == pytest.approx(2 * force / present(found.rf).wheel_rate_lb_per_in, abs=1e-4)
    assert round(present(present(found.rf).dead_band_in), 2) == 0.06
    assert present(present(found.rf).breakaway).title == "preload part only"
    assert "5.3 lb at the wheel against 0.5" in found.tight_joints
    assert present(found.rf).steering_in_lb == pytest.approx(100)


def test_breakaway_and_running_are_kept_apart() -> None:
    found = present(answer(fitted(measured__front__lf__upper_joint__running_in_lb=None)).lf)
    assert present(found.running).by_joint.keys() == {"lower_ball"}
    assert present(found.breakaway).by_joint.keys() == {"upper_ball", "lower_ball"}
    # Over an inch up and down the force hardly changes: there and back over 2 in.
    assert found.cycle_loss_in_lb == pytest.approx(4 * present(found.running).total_lb, rel=0.03)


def test_a_pull_scale_stands_in_for_a_torque_and_an_odd_one_is_said() -> None:
    joint = "measured__front__rf__lower_joint"
    pulled = {f"{joint}__breakaway_in_lb": None, f"{joint}__pull_lb": 12, f"{joint}__lever_in": 6}
    found = answer(fitted(**pulled))
    assert present(found.rf).joints["lower_ball"].breakaway_in_lb == 72
    assert any("72 in-lb is above 60" in each for each in found.assumptions)
    assert any("12 lb at 6 in" in each for each in found.assumptions)


def test_a_swung_reading_is_less_about_the_stud_by_the_factor() -> None:
    swung = {f"measured__front__rf__{arm}_joint__turned_about": "swung" for arm in ("upper", "lower")}
    plain, found = answer(fitted()), answer(fitted(**swung), WheelForces(tilt_over_spin=2))
    # Travel tilts the balls almost alone, so what was read swung holds there; steering spins them, at half of it.
    assert present(present(found.rf).breakaway).total_lb == pytest.approx(
        present(present(plain.rf).breakaway).total_lb, rel=5e-3
    )
    assert present(found.rf).steering_in_lb == pytest.approx(50, abs=0.5)
    assert any("factor 1" in each for each in plain.assumptions)
    assert not any("factor 1" in each for each in found.assumptions)


def test_all_is_told_at_the_travel_asked_about() -> None:
    there, here = (present(answer(fitted(), WheelForces(travel_in=z)).rf).joints["upper_ball"] for z in (2, 0))
    # The angle swung over 2 in is twice the mean of the rates at both ends, the housing lined up at the survey.
    mean = (there.turns_rad_per_in + here.turns_rad_per_in) / 2
    assert math.radians(present(there.swing).angle_deg) == pytest.approx(2 * mean, rel=0.01)
    assert present(there.swing).margin_deg == present(here.swing).margin_deg


def test_pivots_and_tie_rod_ends_count_once_read() -> None:
    found = answer(fitted(measured__front__rf__upper_pivot__breakaway_in_lb=100)).rf
    assert present(present(found).breakaway).total_lb == pytest.approx(
        present(present(answer(fitted()).rf).breakaway).total_lb + 100 * 0.098898, abs=1e-3
    )
    found = answer(fitted(measured__front__rf__tie_outer__breakaway_in_lb=10)).rf
    assert present(present(found).breakaway).tie_rod_lb == pytest.approx(0.3704, abs=1e-3)
    assert present(present(found).breakaway).total_lb == present(present(answer(fitted()).rf).breakaway).total_lb


def test_load_adds_what_friction_times_radius_times_force_does() -> None:
    stud = "setup__front__rf__lower_stud"
    found = answer(fitted(**{f"{stud}__friction_ratio": 0.08, f"{stud}__ball_diameter_in": 1.1}), CORNERING)
    ball = present(found.rf).joints["lower_ball"]
    assert 1450 < present(ball.load).size_lb < 1800
    assert ball.load_in_lb == pytest.approx(4 / math.pi * 0.08 * 0.55 * present(ball.load).size_lb)
    assert present(present(found.rf).breakaway).title == "preload and load parts"
    assert present(present(found.rf).breakaway).load_lb == pytest.approx(
        present(ball.load_in_lb) * present(ball.turns_rad_per_in), rel=1e-4
    )
    assert present(present(found.lf).breakaway).title == "preload part only"
    assert any("load part" in each.subject for each in found.missing)


def test_forces_on_one_wheel_leave_the_other_on_the_scales() -> None:
    found, still = answer(fitted(), CORNERING), answer(fitted())
    assert found.lf == still.lf
    assert present(present(found.rf).load).brake == "locked"
    # Braking torque about the wheel's axis: force times the height of the axle over the patch, toe and camber aside.
    assert present(present(found.rf).load).brake_torque_in_lb == pytest.approx(350 * 13.55, rel=0.01)
    assert any("caliper is on the spindle" in each for each in found.assumptions)


def test_a_wall_at_the_rim_turns_the_spindle_by_its_lever() -> None:
    wall: dict[str, Any] = {"contact_inboard_lb": 500.0, "contact_up_in": 2.0, "on": "rf"}
    ahead, behind = (present(answer(fitted(), WheelForces(contact_ahead_in=x, **wall)).rf) for x in (7.5, -7.5))
    assert present(ahead.load).contact_lb == [0, 500, 0]
    # 500 lb moved 15 in along the rim: that moment is the tie rod's but for what the balls take, 5.8 in from its end.
    assert abs(present(ahead.tie_rod_lb) - present(behind.tie_rod_lb)) == pytest.approx(500 * 15 / 5.8, rel=0.15)
    assert present(ahead.load).brake == "free"


def test_a_stud_bends_at_its_seat_or_at_a_neck_that_is_worse() -> None:
    found = present(answer(fitted()).rf).joints["lower_ball"]
    seat = 32 * present(found.load).across_lb * 1.35 / (math.pi * 0.75**3)  # σ = 32 M / (π d³)
    assert present(found.stud).bending_psi == pytest.approx(seat)
    assert present(found.stud).title == "seat section only"
    assert present(found.stud).longer.bending_psi[2] == pytest.approx(seat * 1.85 / 1.35)
    necked = present(answer(fitted(setup__front__rf__lower_stud__sections_in=[[0.5, 0.9]])).rf).joints["lower_ball"]
    assert present(necked.stud).bending_psi == pytest.approx(
        32 * present(found.load).across_lb * 0.9 / (math.pi * 0.5**3)
    )
    assert present(necked.stud).worst_section == "0.5 in, 0.9 in from the ball"


def test_strength_is_told_only_with_yield_and_its_source() -> None:
    material = "setup__front__rf__lower_stud__material"
    low, high = STEEL_4140_1000F_YIELD_PSI.values()
    unsaid = answer(fitted(**{f"{material}__yield_psi": round(low)}))
    assert present(present(unsaid.rf).joints["lower_ball"].stud).strength is UNSET
    lacking = next(each for each in unsaid.missing if each.subject == "stud strength")
    assert "setup.front.rf.lower_stud.material.source" in lacking.fields
    assert "setup.front.rf.lower_stud.material.yield_psi" not in lacking.fields
    first = []
    for strength in (low, high):
        given = {f"{material}__yield_psi": round(strength), f"{material}__source": "a printed table"}
        stud = present(present(answer(fitted(**given)).rf).joints["lower_ball"].stud)
        assert present(stud.strength).source == "a printed table"
        assert present(stud.strength).hinge_lb / present(stud.strength).first_yield_lb == pytest.approx(
            SHAPE_FACTOR_PRINTED, abs=1e-3
        )
        assert present(stud.strength).bends_first
        assert stud.longer.first_yield_lb == sorted(stud.longer.first_yield_lb, reverse=True)
        first.append(present(stud.strength).first_yield_lb)
    assert first[1] / first[0] == pytest.approx(high / low, rel=1e-4)


def test_a_joint_that_binds_is_named_with_its_place() -> None:
    leaning = fitted(setup__front__rf__upper_stud__swing_limit_deg=10)
    found = answer(leaning)
    swing = present(present(found.rf).joints["upper_ball"].swing)
    assert swing.binds
    assert swing.margin_deg < 0
    assert found.bindings[0] == swing.text
    assert swing.text.startswith("RF upper joint BINDS")
    assert any("taken as the stud's own at the survey" in each for each in found.assumptions)
    free = answer(fitted())
    assert len(free.bindings) == 1
    assert not present(present(free.rf).joints["lower_ball"].swing).binds
    without = answer(fitted(setup__front__rf__upper_stud__swing_limit_deg=None))
    assert present(without.rf).joints["upper_ball"].swing is UNSET
    assert any(each.subject == "swing margin" for each in without.missing)


def test_joints_are_never_held_against_a_shock_below_its_first_point() -> None:
    mounts = {"chassis_in": [-0.6, -17.4, 23.6], "moving_in": [0.2, -22.9, 8.6], "sits_on": "lower_arm"}
    curve = [[1, 95], [3, 165], [5, 205], [10, 270]]
    shock = {f"setup__front__rf__shock__{way}__curve_in_per_s_lb": curve for way in ("compression", "rebound")}
    found = present(present(answer(fitted(survey__front__rf__shock=mounts, **shock)).rf).against_shock)
    assert found.friction_lb == pytest.approx(0.7 * 5.275 / 0.6457, abs=0.01)
    assert found.compression_below_in_per_s is UNSET
    assert "below 1 in/s, where it was not measured" in found.text
    unsound = {"setup__front__rf__shock__rebound__curve_in_per_s_lb": [[3, 165], [1, 95]]}
    bad = answer(fitted(survey__front__rf__shock=mounts, **(shock | unsound)))
    why = present(
        next(each.why for each in bad.missing if "against the shock" in each.subject and each.subject[:2] == "RF")
    )
    assert "not single-valued" in why


def test_cautions_come_first_and_strength_is_never_permission() -> None:
    found = answer(fitted())
    assert list(type(found).__struct_fields__)[:3] == ["engine", "cautions", "assumptions"]
    text = " ".join(found.cautions)
    for wanted in ("never permission", "in tension", "Never back off", "without play", "crack-tested", "lock to lock"):
        assert wanted in text


def test_a_thin_document() -> None:
    thin = with_edits(car(), measured__scales=None)
    found = answer(thin)
    assert present(found.rf).load is UNSET
    assert present(found.rf).joints["upper_ball"].turns_rad_per_in > 0
    lacking = {each.subject: each.fields for each in found.missing}
    assert lacking["joint loads"] == ["measured.scales.lf_lb", "measured.scales.rf_lb"]
    assert "measured.scales.rf_lb" in lacking["dead band"]
    with pytest.raises(FieldsMissing):
        answer({"notes": "thin"})
    apart = {"survey__front__rf__tie_rod__length_in": 15, "setup__front__rf__tie_rod__length_in": 24}
    with pytest.raises(CannotClose):
        answer(fitted(**apart))


def test_a_longer_stud_shows_in_figures() -> None:
    before, after = answer(fitted()), answer(fitted(setup__front__rf__upper_stud__length_in=1.7))
    figures = {each.name: each for each in compare("joints", before, after).figures}
    assert present(figures["rf.joints.upper_ball.stud.bending_psi"].difference) > 0
    assert figures["rf.joints.upper_ball.stud.bending_psi"].unit == "psi"
    assert all(math.isfinite(value) for value, _ in numbers(after).values())
