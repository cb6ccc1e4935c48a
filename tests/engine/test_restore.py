"""Restoring readings, inferring moves nobody wrote down, and saying so when it cannot be done."""

import numpy as np
import pytest
from scipy.optimize import fsolve

from golden.front_corners import corner
from studbook_service.engine.changes import Moves, apply, shims
from studbook_service.engine.corner import stack
from studbook_service.engine.linkage import mount_length, solve_travel
from studbook_service.engine.restore import FREE, Targets, restore
from studbook_service.engine.steering import rack
from studbook_service.engine.wheel import wheel

KIT = [
    shims(side=-1, front_in=1, rear_in=1),
    shims(side=-1, front_in=1, rear_in=-1),
    Moves(tie_rod_in=1),
    Moves(outer_spacer_in=1),
]


def all_readings(name: str) -> Targets:
    was = wheel(solve_travel(corner(name), travel_in=0.0))
    return Targets(
        camber_deg=was.camber_deg,
        caster_deg=was.caster_deg,
        toe_deg=was.toe_deg,
        bump_steer_deg_per_in=was.bump_steer_deg_per_in,
    )


def test_shims_at_one_pivot_leave_the_other() -> None:
    assert shims(side=1, rear_in=0.125).upper_front_in.tolist() == [0, 0, 0]
    assert shims(side=-1, front_in=0.125).upper_rear_in.tolist() == [0, 0, 0]
    assert shims(side=-1, rear_in=0.125, arm="lower").lower_rear_in.tolist() == [0, -0.125, 0]


def test_agrees_with_a_general_root_finder() -> None:
    longer = apply(corner("asphalt rf"), Moves(upper_stud_in=0.5))
    targets = all_readings("asphalt rf")
    wanted = [float(np.asarray(getattr(targets, name))) for name in targets.names]

    def off(amounts: np.ndarray) -> list[float]:
        moves = sum((float(amount) * unit for amount, unit in zip(amounts, KIT, strict=True)), Moves())
        at = wheel(solve_travel(apply(longer, moves), travel_in=0.0))
        return [float(getattr(at, name)) - want for name, want in zip(targets.names, wanted, strict=True)]

    found = restore(longer, targets=targets, adjustments=KIT)
    assert found.converged
    np.testing.assert_allclose(found.amounts, fsolve(off, np.zeros(4), xtol=1e-12), atol=1e-8)
    assert np.abs(found.residual).max() < 1e-9


def test_other_adjustments_do_it_too() -> None:
    """Lower slots, a threaded arm, and the height of the rod's inner end."""
    kit = [
        Moves(upper_arm_in=1),
        shims(side=-1, front_in=1, rear_in=-1, arm="lower"),
        Moves(tie_rod_in=1),
        Moves(tie_inner_in=(0, 0, 1)),
    ]
    found = restore(
        apply(corner("dirt rf"), Moves(upper_stud_in=0.5)), targets=all_readings("dirt rf"), adjustments=kit
    )
    assert found.converged
    at = wheel(found.pose)
    for name in all_readings("dirt rf").names:
        want = float(np.asarray(getattr(all_readings("dirt rf"), name)))
        assert float(getattr(at, name)) == pytest.approx(want, abs=1e-9)
    assert float(found.amounts[0]) > 0  # the longer stud leant the top inboard: a longer arm pushes it out again
    assert float(found.pose.travel_in) == pytest.approx(0.0, abs=1e-9)


def test_infers_a_shim_nobody_wrote_down() -> None:
    done = 0.09375 * KIT[0] + 0.03125 * KIT[1] + -0.02 * KIT[2]
    measured = wheel(solve_travel(apply(corner("dirt rf"), done), travel_in=0.0))
    found = restore(
        corner("dirt rf"),
        targets=Targets(camber_deg=measured.camber_deg, caster_deg=measured.caster_deg, toe_deg=measured.toe_deg),
        adjustments=KIT[:3],
    )
    np.testing.assert_allclose(found.amounts, [0.09375, 0.03125, -0.02], atol=1e-9)


def test_free_targets_leave_their_adjustment_alone() -> None:
    longer, targets = apply(corner("dirt rf"), Moves(upper_stud_in=0.5)), all_readings("dirt rf")
    alone = restore(
        longer,
        targets=Targets(camber_deg=targets.camber_deg, caster_deg=targets.caster_deg, toe_deg=targets.toe_deg),
        adjustments=KIT[:3],
    )
    both = restore(
        longer,
        targets=Targets(
            camber_deg=targets.camber_deg,
            caster_deg=targets.caster_deg,
            toe_deg=targets.toe_deg,
            bump_steer_deg_per_in=np.array([FREE, float(np.asarray(targets.bump_steer_deg_per_in))]),
        ),
        adjustments=KIT,
    )
    assert both.converged.all()
    np.testing.assert_allclose(both.amounts[:3, 0], alone.amounts, atol=1e-9)
    assert float(both.amounts[3, 0]) == 0.0
    assert np.isnan(both.residual[3, 0])
    np.testing.assert_allclose(both.amounts[:, 1], restore(longer, targets=targets, adjustments=KIT).amounts, atol=1e-9)


def test_spring_keeps_its_length() -> None:
    before = solve_travel(corner("dirt rf", "spindle"), travel_in=0.0)
    found = restore(
        apply(corner("dirt rf", "spindle"), Moves(lower_stud_in=0.5)),
        targets=Targets(camber_deg=-4.0, toe_deg=-0.12),
        adjustments=[KIT[0], KIT[2]],
        spring_length_in=mount_length(before),
    )
    assert found.converged
    assert float(mount_length(found.pose)) == pytest.approx(float(mount_length(before)), abs=1e-9)
    assert float(wheel(found.pose).camber_deg) == pytest.approx(-4.0, abs=1e-9)


def test_both_sides_at_once_and_away_from_straight_ahead() -> None:
    pair = stack([corner("dirt lf"), corner("dirt rf")])
    steer = rack(shift_in=np.array(0.25))
    was = wheel(solve_travel(pair, travel_in=1.0, steer_in=steer))
    side = np.array([1, -1])
    found = restore(
        apply(pair, Moves(lower_stud_in=np.array([0.1, 0.5]))),
        targets=Targets(camber_deg=was.camber_deg, toe_deg=was.toe_deg),
        adjustments=[shims(side=side, front_in=1, rear_in=1), Moves(tie_rod_in=1)],
        travel_in=1.0,
        steer_in=steer,
    )
    assert found.converged.all()
    np.testing.assert_allclose(wheel(found.pose).toe_deg, was.toe_deg, atol=1e-9)


def test_what_cannot_be_restored_is_nan() -> None:
    far = restore(corner("dirt rf"), targets=Targets(camber_deg=[-4.0, 80.0]), adjustments=KIT[:1])
    assert far.converged.tolist() == [True, False]
    assert np.isnan(far.amounts[0, 1])
    assert not far.pose.closed[1]
    # Two adjustments that are one and the same.
    twice = restore(
        corner("dirt rf"), targets=Targets(camber_deg=-5.0, toe_deg=0.0), adjustments=[KIT[2], 2.0 * KIT[2]]
    )
    assert not twice.converged
    assert np.isnan(twice.amounts).all()
    unknown = restore(corner("dirt rf"), targets=Targets(camber_deg=np.nan), adjustments=KIT[:1])
    assert not unknown.converged


def test_refuses_targets_and_adjustments_that_do_not_pair() -> None:
    with pytest.raises(ValueError, match="adjustments"):
        restore(corner("dirt rf"), targets=Targets(camber_deg=-4.0), adjustments=KIT)
    with pytest.raises(ValueError, match="targets"):
        restore(corner("dirt rf"), targets=Targets(), adjustments=[])
