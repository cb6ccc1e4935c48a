"""A shock by its measured curve: force, slopes, work round a cycle, gas, and the speed at which joints resist more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.curves import MonotoneCurve, curve

if TYPE_CHECKING:
    from studbook_service.engine.vectors import Array

NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)
"""Gauss's rule on −1..1; between two measured points the curve is one cubic, so few nodes are exact to rounding."""


@dataclass(frozen=True, eq=False)
class ShockCurves:
    """A shock's two curves over shaft speed, in per s; forces in lb, both positive. Made by `shock`.

    Attributes:
        compression, rebound: force against the shaft going in, and coming out.
    """

    compression: MonotoneCurve
    rebound: MonotoneCurve

    @property
    def first_in_per_s(self) -> float:
        """The lowest speed measured."""
        return float(self.compression.x[0])


def shock(*, speed_in_per_s: npt.ArrayLike, compression_lb: npt.ArrayLike, rebound_lb: npt.ArrayLike) -> ShockCurves:
    """A shock from the points of its curve, gas force taken out of them.

    Args:
        speed_in_per_s: shaft speeds, strictly rising, (n,).
        compression_lb: force at each against compression, at least 0, (n,).
        rebound_lb: force at each against rebound, also written positive, (n,).

    Raises:
        ValueError: a negative speed or force, or a curve that is not single-valued.

    Source: definition.

    >>> made = shock(speed_in_per_s=[1, 3, 5, 10], compression_lb=[95, 165, 205, 270], rebound_lb=[95, 175, 220, 295])
    >>> made.first_in_per_s
    1.0
    """
    speed = bounded("speed_in_per_s", speed_in_per_s, unit="in per s", least=0)
    given = {"compression_lb": compression_lb, "rebound_lb": rebound_lb}
    return ShockCurves(
        *(
            curve(x=speed, y=bounded(name, forces, unit="lb", least=0), x_name="speed_in_per_s", y_name=name)
            for name, forces in given.items()
        )
    )


class AtSpeed(NamedTuple):
    """A shock at a shaft speed, (*batch); NaN where it was not measured.

    Attributes:
        compression_lb, rebound_lb: force against the shaft going in, and coming out.
        rebound_over_compression: their ratio.
        compression_slope_lb_s_per_in, rebound_slope_lb_s_per_in: change of each force with speed.
    """

    compression_lb: Array
    rebound_lb: Array
    rebound_over_compression: Array
    compression_slope_lb_s_per_in: Array
    rebound_slope_lb_s_per_in: Array


def at_speed(damper: ShockCurves, *, speed_in_per_s: npt.ArrayLike) -> AtSpeed:
    """Forces, ratio and slopes of a shock at shaft speeds.

    Args:
        damper: the shock.
        speed_in_per_s: (*batch).

    Raises:
        ValueError: a negative speed.

    Source: definitions.

    >>> made = shock(speed_in_per_s=[1, 3, 5], compression_lb=[95, 165, 205], rebound_lb=[95, 198, 220])
    >>> at = at_speed(made, speed_in_per_s=3)
    >>> float(at.rebound_lb), float(at.rebound_over_compression)
    (198.0, 1.2)
    """
    speed = bounded("speed_in_per_s", speed_in_per_s, unit="in per s", least=0)
    inward, outward = damper.compression(speed), damper.rebound(speed)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = outward / inward
    return AtSpeed(
        compression_lb=inward,
        rebound_lb=outward,
        rebound_over_compression=ratio,
        compression_slope_lb_s_per_in=damper.compression.derivative(speed),
        rebound_slope_lb_s_per_in=damper.rebound.derivative(speed),
    )


class Cycle(NamedTuple):
    """What a shock takes out of one sinusoidal cycle, (*batch); NaN where the peak speed is beyond the curve.

    Attributes:
        work_in_lb: area of the force–travel loop, with a straight line from 0 to the first measured speed.
        least_in_lb: the same with no force below the first measured speed.
        most_in_lb: the same with the first measured force held below it.
        peak_in_per_s: peak shaft speed, π × stroke × frequency.
        coefficient_lb_s_per_in: of the linear shock that would take out as much work.
    """

    work_in_lb: Array
    least_in_lb: Array
    most_in_lb: Array
    peak_in_per_s: Array
    coefficient_lb_s_per_in: Array


def cycle(damper: ShockCurves, *, stroke_in: npt.ArrayLike, frequency_hz: npt.ArrayLike) -> Cycle:
    """Work lost in one sinusoidal cycle, E = X ∫ (C + R)(V sin φ) sin φ dφ over 0..π.

    C and R are the compression and rebound forces, X is half the stroke and V the peak speed.
    The same peak speed from another stroke is another loop: keep stroke and frequency with the answer.

    Args:
        damper: the shock.
        stroke_in: from end to end, (*batch).
        frequency_hz: cycles per second, (*batch).

    Raises:
        ValueError: a stroke or frequency not above 0.

    Source: area of the loop; E = π c ω X² for a linear shock, A. K. Chopra, Dynamics of Structures, 3.8.

    >>> line = shock(speed_in_per_s=[0, 20], compression_lb=[0, 200], rebound_lb=[0, 200])
    >>> round(float(cycle(line, stroke_in=2.0, frequency_hz=1.6).work_in_lb), 4)
    315.8273
    """
    stroke = bounded("stroke_in", stroke_in, unit="in", above=0)
    frequency = bounded("frequency_hz", frequency_hz, unit="Hz", above=0)
    peak = np.pi * frequency * stroke
    speeds = damper.compression.x
    ends = np.arcsin(np.minimum(1.0, speeds.reshape(-1, *(1,) * peak.ndim) / peak))  # angles where a point is passed
    half_width = np.diff(ends, axis=0) / 2
    middle = ends[:-1] + half_width
    nodes = NODES.reshape(-1, *(1,) * middle.ndim)
    angle = middle + nodes * half_width
    speed = np.clip(peak * np.sin(angle), speeds[0], speeds[-1])
    force = damper.compression(speed) + damper.rebound(speed)
    measured = np.sum(WEIGHTS.reshape(nodes.shape) * force * np.sin(angle) * half_width, axis=(0, 1))
    first_force, first = damper.compression.y[0] + damper.rebound.y[0], ends[0]
    flat = first_force * (1 - np.cos(first))
    line = first_force / speeds[0] if speeds[0] > 0 else 0.0
    straight = line * peak * (first - np.sin(first) * np.cos(first)) / 2
    inside = np.where(peak <= speeds[-1], stroke, np.nan)  # 2 X, for the two quarters that are alike
    work = inside * (measured + straight)
    return Cycle(
        work_in_lb=work,
        least_in_lb=inside * measured,
        most_in_lb=inside * (measured + flat),
        peak_in_per_s=peak,
        coefficient_lb_s_per_in=work / (np.pi * 2 * np.pi * frequency * (stroke / 2) ** 2),
    )


class FrictionCrossover(NamedTuple):
    """The shaft speed below which joints resist more than the shock, (*batch).

    Attributes:
        speed_in_per_s: that speed; NaN where it lies outside the measured points.
        below_first: it lies below the first measured point, not measured.
        above_last: joints resist more than the shock at every measured speed.
    """

    speed_in_per_s: Array
    below_first: Array
    above_last: Array


def friction_crossover(
    damper: ShockCurves, *, friction_lb: npt.ArrayLike, direction: Literal["compression", "rebound"]
) -> FrictionCrossover:
    """The shaft speed below which joint friction is more than the shock's force.

    Args:
        damper: the shock, gas taken out.
        friction_lb: joint friction at the *shaft*: that at the wheel over the shock's motion ratio, (*batch).
        direction: which of its curves.

    Returns:
        The crossing: the lowest speed at which the curve reaches the friction. A curve is never extended to zero.

    Raises:
        ValueError: a negative friction, or another direction.

    Source: comparison of the two forces.

    >>> made = shock(speed_in_per_s=[1, 3, 5], compression_lb=[95, 165, 205], rebound_lb=[95, 175, 220])
    >>> bool(friction_crossover(made, friction_lb=8.0, direction="compression").below_first)
    True
    """
    one_of("direction", direction, ("compression", "rebound"))
    friction = bounded("friction_lb", friction_lb, unit="lb", least=0, holes=True)
    against: MonotoneCurve = getattr(damper, direction)
    reached = against.y.reshape(-1, *(1,) * friction.ndim) >= friction
    after = np.argmax(reached, axis=0)
    below_first, above_last = np.asarray(reached[0]), np.asarray(~reached.any(axis=0) & ~np.isnan(friction))
    outside = below_first | above_last | np.isnan(friction)
    if outside.all():
        return FrictionCrossover(np.full(friction.shape, np.nan), below_first, above_last)
    low, high = against.x[np.maximum(after - 1, 0)], against.x[after]
    for _ in range(60):
        middle = (low + high) / 2
        enough = against(middle) >= friction
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return FrictionCrossover(np.where(outside, np.nan, high), below_first, above_last)


def gas_force(*, pressure_psi: npt.ArrayLike, rod_diameter_in: npt.ArrayLike) -> Array:
    """Force with which gas pushes the shaft out: pressure on the rod's section, lb, (*batch).

    Args:
        pressure_psi: above the atmosphere.
        rod_diameter_in: of the shaft.

    Raises:
        ValueError: a negative pressure, or a diameter not above 0.

    Source: statics; the pressures on both faces of the piston cancel but on the rod's section.

    >>> round(float(gas_force(pressure_psi=75, rod_diameter_in=0.625)), 1)
    23.0
    """
    pressure = bounded("pressure_psi", pressure_psi, unit="psi", least=0)
    diameter = bounded("rod_diameter_in", rod_diameter_in, unit="in", above=0)
    force: Array = pressure * np.pi / 4 * diameter**2
    return force


def equivalent_shim(*, thickness_in: npt.ArrayLike, diameter_in: npt.ArrayLike) -> float:
    """Thickness of the one shim as stiff as a stack of shims of one diameter, (Σt³)^⅓, in.

    A comparison of stacks, never a force: it leaves out diameters, clamp and bleed, so shims of different diameters are
    refused.

    Args:
        thickness_in: of each shim, (n,).
        diameter_in: of each shim, (n,), or of all.

    Raises:
        ValueError: a thickness or diameter not above 0, or diameters that differ.

    Source: a plate's bending stiffness goes with t³ (any text on plates).

    >>> round(equivalent_shim(thickness_in=[0.006, 0.008, 0.010], diameter_in=1.1), 5)
    0.012
    """
    thickness = bounded("thickness_in", thickness_in, unit="in", above=0)
    diameter = bounded("diameter_in", diameter_in, unit="in", above=0)
    if np.ptp(diameter) > 0:
        raise ValueError(
            f"diameter_in runs from {diameter.min():g} to {diameter.max():g} in; only shims of one diameter compare"
        )
    return float(np.cbrt(np.sum(thickness**3)))
