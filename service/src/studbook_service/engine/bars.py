"""Anti-roll bars: a bar twisted by the difference of two wheels' travels."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.vectors import Array

STEEL_SHEAR_MODULUS_PSI = 11.5e6
"""Shear modulus of steel, as usual in machine-design texts; unlike strength it hardly differs between steels."""


def torsion_rate(
    *,
    outer_diameter_in: npt.ArrayLike,
    length_in: npt.ArrayLike,
    inner_diameter_in: npt.ArrayLike = 0.0,
    shear_modulus_psi: npt.ArrayLike = STEEL_SHEAR_MODULUS_PSI,
) -> Array:
    """Torque per twist of a round bar or tube: π G (D⁴ − d⁴) / (32 L), in·lb per rad, (*batch).

    Args:
        outer_diameter_in: D.
        length_in: L, the part that twists.
        inner_diameter_in: d, 0 for a solid bar.
        shear_modulus_psi: G.

    Raises:
        ValueError: a diameter, length or modulus not above 0, or a bore not below the outer diameter.

    Source: torsion of round shafts, any text on strength of materials.

    >>> round(float(torsion_rate(outer_diameter_in=1.0, length_in=10.0)))
    112901
    """
    outer = bounded("outer_diameter_in", outer_diameter_in, unit="in", above=0)
    inner = bounded("inner_diameter_in", inner_diameter_in, unit="in", least=0)
    length = bounded("length_in", length_in, unit="in", above=0)
    modulus = bounded("shear_modulus_psi", shear_modulus_psi, unit="psi", above=0)
    if not np.all(inner < outer):
        raise ValueError(
            f"inner_diameter_in is {np.max(inner):g} in; it must be below outer_diameter_in, {np.min(outer):g} in"
        )
    result: Array = np.pi * modulus * (outer**4 - inner**4) / (32 * length)
    return result


class BarRate(NamedTuple):
    """An anti-roll bar at the wheels, (*batch).

    Attributes:
        left_lb_per_in, right_lb_per_in: force at each wheel per inch of *difference* of their travels, in opposite
            motion; equal unless arms or ratios differ.
        twist_in_lb_per_rad: torque per relative turn of the arms' ends, flex of the arms included.
    """

    left_lb_per_in: Array
    right_lb_per_in: Array
    twist_in_lb_per_rad: Array


def bar_rate(
    *,
    torsion_in_lb_per_rad: npt.ArrayLike,
    arm_left_in: npt.ArrayLike,
    arm_right_in: npt.ArrayLike,
    ratio_left: npt.ArrayLike = 1.0,
    ratio_right: npt.ArrayLike = 1.0,
    arm_flex_lb_per_in: npt.ArrayLike = np.inf,
) -> BarRate:
    """Rate of an anti-roll bar at the wheels, for opposite motion of +z and −z (a difference of 2z).

    With g = ratio / arm, twist θ = g_l z_l − g_r z_r and torque T = κ θ; the force at a wheel is T g. Per inch of
    difference: κ g (g_l + g_r) / 2, which is κ g² when the sides are alike.

    Args:
        torsion_in_lb_per_rad: of the bar itself.
        arm_left_in: from the bar's axis to the link, square to the link.
        arm_right_in: the same at the right.
        ratio_left: travel of the arm's end over that of the wheel.
        ratio_right: the same at the right.
        arm_flex_lb_per_in: rate of each arm at its end with the bar held; stiff by default. In series with the bar.

    Raises:
        ValueError: a rate, arm or ratio not above 0.

    Source: end rate G J / (L a²) as in any text; the unequal arms by virtual work.

    >>> bar = bar_rate(torsion_in_lb_per_rad=76565.88, arm_left_in=10, arm_right_in=10, ratio_left=0.8, ratio_right=0.8)
    >>> round(float(bar.left_lb_per_in), 2)
    490.02
    """
    torsion = bounded("torsion_in_lb_per_rad", torsion_in_lb_per_rad, unit="in lb per rad", above=0)
    arms = [
        bounded(name, value, unit="in", above=0)
        for name, value in (("arm_left_in", arm_left_in), ("arm_right_in", arm_right_in))
    ]
    ratios = [
        bounded(name, value, unit="in per in", above=0)
        for name, value in (("ratio_left", ratio_left), ("ratio_right", ratio_right))
    ]
    flex = np.asarray(arm_flex_lb_per_in, float)
    if not np.all(flex > 0):
        raise ValueError(f"arm_flex_lb_per_in is {np.min(flex):g} lb per in; it must be above 0 lb per in")
    twist = 1 / (1 / torsion + sum(1 / (flex * arm**2) for arm in arms))
    left, right = (ratio / arm for ratio, arm in zip(ratios, arms, strict=True))
    mean = (left + right) / 2
    return BarRate(twist * left * mean, twist * right * mean, twist)


def preload_travel(*, turns: npt.ArrayLike, pitch_in: npt.ArrayLike, ratio: npt.ArrayLike = 1.0) -> Array:
    """Preload by turns of one link's thread, as an equivalent difference of the wheels' travels, in, (*batch).

    Args:
        turns: of the link's adjuster, + as the link grows longer.
        pitch_in: how much longer the link grows in a turn; twice the pitch of a left-and-right threaded one.
        ratio: travel of the arm's end over that of the wheel, on that side.

    Raises:
        ValueError: turns that are not finite, a pitch or ratio not above 0.

    Source: kinematics.

    >>> float(preload_travel(turns=2, pitch_in=0.05, ratio=0.5))
    0.2
    """
    turned = bounded("turns", turns, unit="turns")
    pitch = bounded("pitch_in", pitch_in, unit="in per turn", above=0)
    result: Array = turned * pitch / bounded("ratio", ratio, unit="in per in", above=0)
    return result
