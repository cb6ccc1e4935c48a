"""Springs, bars and ride against worked examples in print."""

import numpy as np
import pytest

from golden.joints_and_parts import (
    BAR,
    KG_PER_LB,
    LEVER,
    M_PER_IN,
    N_M_PER_IN_LB,
    N_PER_M_PER_LB_PER_IN,
    NCERT,
    OPENSTAX,
    RAO,
    RIDE,
    TORSION_BROWN,
    TORSION_PRINTED,
    TORSION_WIRE,
    TUBE,
)
from studbook_service.engine.bars import bar_rate, preload_travel, torsion_rate
from studbook_service.engine.ride import damping_ratio, natural_frequency, series_rate, wheel_damping
from studbook_service.engine.springs import rubbered_rate, stacked_springs
from studbook_service.engine.wheel import Motion, wheel_rate

PA_PER_PSI = 6894.757293168361  # NIST SP 811


def test_frequency_and_damping_in_print() -> None:
    got = natural_frequency(
        rate_lb_per_in=OPENSTAX["rate_n_per_m"] / N_PER_M_PER_LB_PER_IN, weight_lb=OPENSTAX["mass_kg"] / KG_PER_LB
    )
    assert float(got) == pytest.approx(OPENSTAX["frequency_hz"], rel=4e-3)
    rao = damping_ratio(
        coefficient_lb_s_per_in=RAO["coefficient_n_s_per_m"] / N_PER_M_PER_LB_PER_IN,
        rate_lb_per_in=RAO["rate_n_per_m"] / N_PER_M_PER_LB_PER_IN,
        weight_lb=RAO["mass_kg"] / KG_PER_LB,
    )
    assert float(rao) == pytest.approx(RAO["zeta"], rel=2e-4)
    rate, weight = NCERT["rate_n_per_m"] / N_PER_M_PER_LB_PER_IN, NCERT["mass_kg"] / KG_PER_LB
    frequency = float(natural_frequency(rate_lb_per_in=rate, weight_lb=weight))
    assert 1 / frequency == pytest.approx(NCERT["period_s"], rel=1e-3)
    coefficient = NCERT["coefficient_n_s_per_m"] / N_PER_M_PER_LB_PER_IN
    zeta = float(damping_ratio(coefficient_lb_s_per_in=coefficient, rate_lb_per_in=rate, weight_lb=weight))
    assert np.exp(-2 * np.pi * zeta) == pytest.approx(NCERT["left"], rel=1e-3)


def test_ride() -> None:
    ride = series_rate(spring_lb_per_in=RIDE["wheel"], tire_lb_per_in=RIDE["tire"])
    assert float(ride) == pytest.approx(RIDE["ride"], rel=1e-12)
    for rate, hertz in ((RIDE["wheel"], RIDE["wheel_hz"]), (ride, RIDE["ride_hz"])):
        assert float(natural_frequency(rate_lb_per_in=rate, weight_lb=RIDE["weight_lb"])) == pytest.approx(
            hertz, rel=1e-9
        )
    zeta = damping_ratio(
        coefficient_lb_s_per_in=RIDE["coefficient"], rate_lb_per_in=RIDE["wheel"], weight_lb=RIDE["weight_lb"]
    )
    assert float(zeta) == pytest.approx(RIDE["zeta"], rel=1e-9)


@pytest.mark.parametrize(("lean", "rate"), [(0.0, LEVER["spindle"]), (LEVER["lean_deg"], LEVER["leaned"])])
def test_the_lean_of_a_spring_is_inside_the_square(lean: float, rate: float) -> None:
    ratio = LEVER["spring_arm"] / LEVER["wheel_arm"] * np.cos(np.radians(lean))
    moving = Motion(length_in=np.array(12.0), ratio=np.array(ratio), ratio_rate_per_in=np.array(0.0))
    assert float(wheel_rate(moving, rate_lb_per_in=LEVER["rate"], force_lb=0)) == pytest.approx(rate, rel=1e-12)
    assert float(wheel_damping(coefficient_lb_s_per_in=LEVER["rate"], motion_ratio=ratio)) == pytest.approx(rate)


def test_torsion_in_print() -> None:
    printed = torsion_rate(
        outer_diameter_in=TORSION_PRINTED["outer"],
        length_in=TORSION_PRINTED["length"],
        shear_modulus_psi=TORSION_PRINTED["modulus"],
    )
    assert float(printed) == pytest.approx(TORSION_PRINTED["rate"], rel=2e-3)
    metric = {
        name: float(
            torsion_rate(
                outer_diameter_in=given["outer_m"] / M_PER_IN,
                length_in=given["length_m"] / M_PER_IN,
                shear_modulus_psi=given["modulus_pa"] / PA_PER_PSI,
            )
        )
        * N_M_PER_IN_LB
        for name, given in (("brown", TORSION_BROWN), ("wire", TORSION_WIRE))
    }
    assert TORSION_BROWN["torque_n_m"] / metric["brown"] == pytest.approx(TORSION_BROWN["turn_rad"], rel=1e-5)
    assert metric["wire"] * 2 * np.pi * TORSION_WIRE["turns"] == pytest.approx(TORSION_WIRE["torque_n_m"], rel=1e-9)


def test_bar() -> None:
    twist = torsion_rate(outer_diameter_in=BAR["outer"], length_in=BAR["length"], shear_modulus_psi=BAR["modulus"])
    assert float(twist) == pytest.approx(BAR["twist"], rel=1e-9)
    ends = bar_rate(torsion_in_lb_per_rad=twist, arm_left_in=BAR["arm"], arm_right_in=BAR["arm"])
    assert float(ends.left_lb_per_in) == pytest.approx(BAR["end"], rel=1e-9)
    wheels = bar_rate(
        torsion_in_lb_per_rad=twist,
        arm_left_in=BAR["arm"],
        arm_right_in=BAR["arm"],
        ratio_left=BAR["ratio"],
        ratio_right=BAR["ratio"],
    )
    rate = float(wheels.right_lb_per_in)
    assert 2 * rate == pytest.approx(BAR["per_wheel_travel"], rel=1e-9)
    assert np.radians(rate * BAR["track"] ** 2) == pytest.approx(BAR["roll_in_lb_per_deg"], rel=1e-9)


def test_a_tube_and_flexing_arms() -> None:
    twist = torsion_rate(outer_diameter_in=TUBE["outer"], inner_diameter_in=TUBE["inner"], length_in=TUBE["length"])
    stiff = bar_rate(torsion_in_lb_per_rad=twist, arm_left_in=TUBE["arm"], arm_right_in=TUBE["arm"])
    assert float(stiff.left_lb_per_in) == pytest.approx(TUBE["end"], abs=0.5)
    soft = bar_rate(
        torsion_in_lb_per_rad=twist, arm_left_in=TUBE["arm"], arm_right_in=TUBE["arm"], arm_flex_lb_per_in=2000
    )
    # The force is one, the deflections add: bar, left arm, right arm.
    assert 1 / float(soft.left_lb_per_in) == pytest.approx(1 / float(stiff.left_lb_per_in) + 2 / 2000)


def test_unequal_arms_do_the_work_that_twists_the_bar() -> None:
    bar = bar_rate(torsion_in_lb_per_rad=70_000, arm_left_in=12, arm_right_in=15, ratio_left=0.7, ratio_right=0.8)
    twist = 0.7 / 12 + 0.8 / 15  # of +1 in left, −1 in right
    energy = 0.5 * 70_000 * twist**2
    assert 0.5 * 2 * float(bar.left_lb_per_in + bar.right_lb_per_in) == pytest.approx(energy)
    assert float(bar.left_lb_per_in / bar.right_lb_per_in) == pytest.approx(0.7 / 12 / (0.8 / 15))
    assert float(preload_travel(turns=-2, pitch_in=0.0625, ratio=0.8)) == pytest.approx(-0.15625)


def test_a_second_spring_closes_on_its_stop() -> None:
    compression = np.linspace(0, 5, 501)
    pair = stacked_springs(main_lb_per_in=350, second_lb_per_in=90, stop_gap_in=2, compression_in=compression)
    # Brute force: the second spring's share of the compression is what carries the main's force, or its stop.
    second = np.minimum(compression * 350 / (350 + 90), 2)
    np.testing.assert_allclose(pair.force_lb, 350 * (compression - second), atol=1e-9)
    np.testing.assert_array_equal(pair.stopped, second >= 2)
    np.testing.assert_allclose(np.diff(pair.force_lb)[pair.stopped[:-1]] / 0.01, 350)
    slack = stacked_springs(main_lb_per_in=350, second_lb_per_in=90, stop_gap_in=2, compression_in=-1)
    assert (float(slack.force_lb), float(slack.rate_lb_per_in)) == (0, 0)
    assert float(rubbered_rate(rate_lb_per_in=350, rubber_count=1, rubber_rate_lb_per_in=25)) == 375


def test_bad_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="spring_lb_per_in is -1 lb per in; it must be above 0 lb per in"):
        series_rate(spring_lb_per_in=-1, tire_lb_per_in=900)
    with pytest.raises(ValueError, match="weight_lb"):
        natural_frequency(rate_lb_per_in=200, weight_lb=0)
    with pytest.raises(ValueError, match="coefficient_lb_s_per_in"):
        damping_ratio(coefficient_lb_s_per_in=-2, rate_lb_per_in=200, weight_lb=500)
    with pytest.raises(ValueError, match="motion_ratio"):
        wheel_damping(coefficient_lb_s_per_in=2, motion_ratio=np.inf)
    with pytest.raises(ValueError, match=r"inner_diameter_in is 1\.3 in; it must be below outer_diameter_in, 1\.25 in"):
        torsion_rate(outer_diameter_in=1.25, inner_diameter_in=1.3, length_in=30)
    with pytest.raises(ValueError, match="arm_right_in"):
        bar_rate(torsion_in_lb_per_rad=1, arm_left_in=1, arm_right_in=0)
    with pytest.raises(ValueError, match="arm_flex_lb_per_in"):
        bar_rate(torsion_in_lb_per_rad=1, arm_left_in=1, arm_right_in=1, arm_flex_lb_per_in=-1)
    with pytest.raises(ValueError, match="stop_gap_in"):
        stacked_springs(main_lb_per_in=1, second_lb_per_in=1, stop_gap_in=-1, compression_in=1)
    with pytest.raises(ValueError, match="rubber_count"):
        rubbered_rate(rate_lb_per_in=1, rubber_count=-1, rubber_rate_lb_per_in=1)
