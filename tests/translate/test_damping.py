"""Shocks, springs, bars, tires and gears of a document, against hand-worked and published values."""

import math
from typing import Any

import pytest
from msgspec import UNSET

from present import present
from studbook.history.canonical import Tree
from studbook.wire.damping import DampingAnswer, DampingQuery
from studbook.wire.figures import compare, numbers
from studbook_service.translate.damping import damping_answer
from studbook_service.translate.errors import FieldsMissing
from translate.documents import car, with_edits

MOUNTS = {"chassis_in": [-0.6, -17.4, 23.6], "moving_in": [0.2, -22.9, 8.6], "sits_on": "lower_arm"}
IN = [[1, 95], [3, 165], [5, 205], [10, 270]]
OUT = [[1, 95], [3, 198], [5, 220], [10, 295]]
SHOCK = "setup__front__rf__shock"
FITTED = {
    "survey__front__rf__shock": MOUNTS,
    "setup__front__rf__unsprung_lb": 73,
    "setup__front__rf__spring__free_length_in": 12,
    "setup__front__rf__spring__installed_length_in": 10.4,
    "setup__front__rf__tire__rate_lb_per_in": 900,
    f"{SHOCK}__compression__curve_in_per_s_lb": IN,
    f"{SHOCK}__rebound__curve_in_per_s_lb": OUT,
    f"{SHOCK}__gas_force_in_curve": False,
    f"{SHOCK}__gas_psi": 75,
    f"{SHOCK}__rod_diameter_in": 0.625,
}
GRAVITY = 386.089  # in/s², NIST SP 811, rounded


def fitted(**edits: Any) -> Tree:
    return with_edits(car(), **(FITTED | edits))


def answer(tree: Tree, **asked: float) -> DampingAnswer:
    return damping_answer(tree, origins={}, request=DampingQuery(**asked))


def test_a_shock_at_its_measured_speeds() -> None:
    shock = present(present(answer(fitted()).rf).shock)
    assert shock.at.keys() == {"1", "3", "5", "10"}
    three = shock.at["3"]
    assert (three.compression_lb, three.rebound_lb, three.rebound_over_compression_ratio) == (165, 198, 1.2)
    assert shock.gas_lb == pytest.approx(75 * math.pi / 4 * 0.625**2)
    assert present(shock.cycle).peak_in_per_s == pytest.approx(2 * math.pi)


def test_nothing_is_told_beyond_the_curve() -> None:
    short = {f"{SHOCK}__compression__curve_in_per_s_lb": IN[1:3], f"{SHOCK}__rebound__curve_in_per_s_lb": OUT[1:3]}
    shock = present(present(answer(fitted(**short)).rf).shock)
    assert shock.at.keys() == {"3", "5"}
    assert shock.cycle is UNSET
    assert (shock.measured_from_in_per_s, shock.measured_to_in_per_s) == (3, 5)


def test_damping_and_frequency_at_the_wheel() -> None:
    found = present(answer(fitted()).rf)
    at, ratio, sprung = present(found.shock).at["5"], found.shock_motion_ratio, 503 - 73
    assert ratio == pytest.approx(0.6457, abs=1e-4)  # by an independent constraint solver
    assert at.wheel_rebound_lb_s_per_in == pytest.approx(
        present(at.rebound_slope_lb_s_per_in) * present(ratio) ** 2, rel=1e-5
    )
    # ζ = c / 2√(k m), f = √(k m⁻¹) / 2π with the tire in series: any text on vibrations.
    rate, mass = present(found.wheel_rate_lb_per_in), sprung / GRAVITY
    assert at.rebound_damping_ratio == pytest.approx(
        present(at.wheel_rebound_lb_s_per_in) / (2 * math.sqrt(rate * mass)), rel=1e-5
    )
    series = 1 / (1 / rate + 1 / 900)
    assert found.ride_hz == pytest.approx(math.sqrt(series / mass) / (2 * math.pi), rel=1e-5)
    assert found.hop_hz == pytest.approx(math.sqrt((rate + 900) * GRAVITY / 73) / (2 * math.pi), rel=1e-5)


def test_gas_is_taken_out_of_a_curve_that_holds_it() -> None:
    with_gas = fitted(**{f"{SHOCK}__gas_force_in_curve": True})
    out, held = (present(present(answer(each).rf).shock) for each in (fitted(), with_gas))
    push = out.gas_lb
    assert out.at["3"].compression_lb - held.at["3"].compression_lb == pytest.approx(push)
    assert held.at["3"].rebound_lb - out.at["3"].rebound_lb == pytest.approx(push)
    assert present(held.cycle).work_in_lb == pytest.approx(present(out.cycle).work_in_lb, rel=1e-3)


def test_a_curve_that_is_none_is_said_and_the_rest_goes_on() -> None:
    found = answer(fitted(**{f"{SHOCK}__rebound__curve_in_per_s_lb": [[3, 100], [3, 120]]}))
    bad = next(each for each in found.missing if each.subject == "RF shock")
    assert "not single-valued" in present(bad.why)
    assert present(present(found.rf).shock).at == {}
    assert present(present(found.rf).wheel_rate_lb_per_in) > 0


def test_curves_read_at_other_speeds_are_told_where_both_were() -> None:
    found = answer(fitted(**{f"{SHOCK}__rebound__curve_in_per_s_lb": [[2, 150], [3, 198], [6, 230]]}))
    assert present(present(found.rf).shock).at.keys() == {"3", "5"}
    assert any("different speeds" in each for each in found.assumptions)


def test_rubbers_and_a_second_spring() -> None:
    spring = "setup__front__rf__spring"
    rubbered = present(answer(fitted(**{f"{spring}__rubber_count": 2, f"{spring}__rubber_rate_lb_per_in": 25})).rf)
    assert rubbered.spring_rate_lb_per_in == 475
    second = {f"{spring}__second__rate_lb_per_in": 425, f"{spring}__second__stop_gap_in": 4}
    open_ = present(answer(fitted(**second)).rf)
    assert (open_.spring_rate_lb_per_in, open_.second_stopped) == (212.5, False)  # two alike in series
    shut = present(answer(fitted(**(second | {f"{spring}__second__stop_gap_in": 0.5}))).rf)
    assert (shut.spring_rate_lb_per_in, shut.second_stopped) == (425, True)


def test_stacks_of_one_diameter_compare() -> None:
    stack = {f"{SHOCK}__rebound__stack_in": [[1.1, 0.006], [1.1, 0.008], [1.1, 0.010]]}
    found = answer(fitted(**stack))
    assert present(present(found.rf).shock).rebound_stack_in == pytest.approx(
        (0.006**3 + 0.008**3 + 0.010**3) ** (1 / 3), abs=1e-6
    )
    mixed = answer(fitted(**{f"{SHOCK}__rebound__stack_in": [[1.1, 0.006], [0.9, 0.008]]}))
    assert present(present(mixed.rf).shock).rebound_stack_in is UNSET
    assert any("several diameters are not compared" in each for each in mixed.assumptions)


def test_a_bar_by_its_dimensions_and_as_entered() -> None:
    sizes = {"outer_diameter_in": 1.25, "inner_diameter_in": 0.75, "active_length_in": 34}
    bar = sizes | {"arm_left_in": 14, "arm_right_in": 14, "rate_lb_per_in": 150}
    found = present(answer(fitted(setup__front__bar=bar)).front_bar)
    # π G (D⁴ − d⁴) / 32 L over the arm squared, G of steel 11.5e6 psi: any text on strength of materials.
    twist = math.pi * 11.5e6 * (1.25**4 - 0.75**4) / (32 * 34)
    assert found.left_end_lb_per_in == pytest.approx(twist / 14**2, rel=1e-6)
    assert found.rate_lb_per_in == 150
    hollow = answer(fitted(setup__front__bar=bar | {"inner_diameter_in": 1.3}))
    assert any("inner_diameter_in" in (each.why or "") for each in hollow.missing)
    thin = answer(fitted(setup__front__bar={"rate_lb_per_in": 150}))
    assert present(thin.front_bar).twist_in_lb_per_rad is UNSET


def test_stagger_and_gears() -> None:
    rollouts = {"setup__rear__lr__tire__rollout_in": 86.0, "setup__rear__rr__tire__rollout_in": 88.5}
    gears = {"setup__drivetrain": {"ring_pinion_ratio": 4.86, "spur_ratio": 1.25, "rpm_limit": 7800}}
    tree = fitted(survey__track__rear_in=65, **rollouts, **gears)
    found = answer(tree, radius_ft=250, bank_deg=14, speed_mph=100)
    assert present(found.rear_stagger).stagger_in == 2.5
    assert present(found.rear_stagger).rolls_round_ft == pytest.approx(2268.5 / 12)  # t (C_r + C_l) / 2 (C_r − C_l)
    # A cone rolled out: C_i t / (R / cos β − t / 2).
    along = 250 * 12 / math.cos(math.radians(14))
    assert present(found.rear_stagger).needed_in == pytest.approx(86 * 65 / (along - 32.5), rel=1e-5)
    assert present(found.gears).final_drive_ratio == pytest.approx(6.075)
    # 63,360 in to the mile.
    assert present(found.gears).engine_rpm == pytest.approx(100 * 63360 / 60 / 87.25 * 6.075, rel=1e-6)
    assert found.front_stagger is UNSET
    told = with_edits(tree, setup__drivetrain__final_drive_ratio=5.9)
    assert any("final_drive_ratio is 5.9" in each for each in answer(told).assumptions)


def test_a_front_that_does_not_close_leaves_the_rest() -> None:
    found = answer(fitted(survey__front__rf__tie_rod__length_in=15, setup__front__rf__tie_rod__length_in=24))
    assert any(each.subject == "damping at the front wheels" and each.why for each in found.missing)
    assert present(present(found.rf).shock).at["3"].compression_lb == 165
    assert present(found.rf).wheel_rate_lb_per_in is UNSET


def test_nothing_at_all() -> None:
    with pytest.raises(FieldsMissing):
        answer({"notes": "thin"})


def test_every_figure_is_finite_and_compares() -> None:
    before, after = answer(fitted()), answer(fitted(setup__front__rf__spring__rate_lb_per_in=450))
    figures = {each.name: each for each in compare("damping", before, after).figures}
    assert figures["rf.spring_rate_lb_per_in"].difference == 25
    assert present(figures["rf.ride_hz"].difference) > 0
    assert all(math.isfinite(value) for value, _ in numbers(after).values())
