"""A ball stud under load: stress at its seat and along it, and what bends or shears it.

Comparisons under stated forces, no more: contact, a loose nut and fatigue are outside them.
"""

from __future__ import annotations

from math import pi, sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded, shaped
from studbook_service.engine.vectors import Array, dot, lift, numbers, root, unit

SHEAR_YIELD = 1 / sqrt(3)
"""Shear yield over tensile yield by distortion energy, 0.577."""

LEAST_YIELD_PSI, MOST_YIELD_PSI = 10e3, 500e3
"""Outside these a yield strength is in another unit: ksi, MPa."""


class StudLoad(NamedTuple):
    """A force on a ball, across and along its stud, lb, (*batch).

    Attributes:
        across_lb: part square to the stud, which bends it.
        axial_lb: part along it, + pressing the ball toward the seat, − pulling it away (tension).
    """

    across_lb: Array
    axial_lb: Array


def stud_load(*, force_lb: npt.ArrayLike, axis: npt.ArrayLike) -> StudLoad:
    """The force of an arm on its ball, across and along the stud.

    The usual lower joint, arm below the boss and spring on the arm, is in tension: its sign is −.

    Args:
        force_lb: force of the arm on the ball, (3, *batch).
        axis: from seat to ball, (3, *batch), any length.

    Raises:
        ValueError: not (3, *batch).

    Source: statics.

    >>> load = stud_load(force_lb=(30, 40, -450), axis=(0, 0, -1))
    >>> float(load.across_lb), float(load.axial_lb)
    (50.0, -450.0)
    """
    force, line = shaped("force_lb", numbers(force_lb), 3), shaped("axis", numbers(axis), 3)
    rank = max(force.ndim, line.ndim) - 1
    with np.errstate(invalid="ignore", divide="ignore"):
        force, line = lift(force, rank), unit(lift(line, rank))
        along = dot(force, line)
        across = force - along * line
        return StudLoad(root(dot(across, across)), -along)


def worst_section(*, moment_in_lb: npt.ArrayLike, modulus_in3: npt.ArrayLike) -> tuple[Array, Array]:
    """Greatest bending stress over sections, max M_k / S_k.

    Args:
        moment_in_lb: at each section, (K, *batch).
        modulus_in3: section modulus of each, (K, *batch).

    Returns:
        Stress, psi, and the index of the section, both (*batch).

    Raises:
        ValueError: a modulus not above 0.

    Source: bending of beams, any text on strength of materials.

    >>> [float(x) for x in worst_section(moment_in_lb=[100, 200], modulus_in3=[0.1, 0.4])]
    [1000.0, 0.0]
    """
    moment, modulus = np.broadcast_arrays(
        numbers(moment_in_lb), bounded("modulus_in3", modulus_in3, unit="in³", above=0)
    )
    stress = moment / modulus
    worst = np.argmax(stress, axis=0)
    return np.take_along_axis(stress, worst[None], axis=0)[0], worst


class SectionStress(NamedTuple):
    """Stresses in a stud, psi; (*batch).

    Attributes:
        bending_psi: the greatest 32 M / (π d³) over the sections.
        section: index of that section; 0 is the seat, then the sections in the order given.
        axial_psi: axial stress at that section, apart from bending; + compression.
        shear_psi: greatest transverse shear there, 16 V / (3 π d²); at the neutral fiber, so never added to bending.
        moment_in_lb: bending moment at the seat.
        title: "seat section only" or "seat and given sections".
    """

    bending_psi: Array
    section: Array
    axial_psi: Array
    shear_psi: Array
    moment_in_lb: Array
    title: str


def stud_stress(
    *,
    across_lb: npt.ArrayLike,
    axial_lb: npt.ArrayLike,
    lever_in: npt.ArrayLike,
    seat_diameter_in: npt.ArrayLike,
    extra_in: npt.ArrayLike = 0.0,
    sections_in: npt.ArrayLike | None = None,
) -> SectionStress:
    """Stresses in a stud with a force on its ball.

    Args:
        across_lb: force square to the stud, (*batch).
        axial_lb: force along it, + compression, (*batch).
        lever_in: from the ball's center to the large end of the boss, as surveyed; not a catalog's stud length.
        seat_diameter_in: there.
        extra_in: how much longer the stud is than that: it is added to every section's distance from the ball.
        sections_in: other round sections, (K, 2): diameter, and distance from the ball of the surveyed stud. A neck, a
            thread's undercut or a ring's groove can be worse than the seat; the title says whether they were given.

    Raises:
        ValueError: a force across, lever, diameter or distance that is not what it must be.

    Source: M = F e, σ = 32 M / (π d³); shear of a round section 4V / 3A: any text on strength of materials.

    >>> stress = stud_stress(across_lb=1500, axial_lb=0, lever_in=1.6, seat_diameter_in=0.75)
    >>> round(float(stress.bending_psi), 1), stress.title
    (57946.5, 'seat section only')
    """
    across = bounded("across_lb", across_lb, unit="lb", least=0, holes=True)
    axial = numbers(axial_lb)
    loaded = np.broadcast_shapes(across.shape, axial.shape)
    diameter, distance = _sections(lever_in, seat_diameter_in, extra_in, sections_in, loaded)
    moment = across * distance
    bending, worst = worst_section(moment_in_lb=moment, modulus_in3=pi * diameter**3 / 32)
    at = np.take_along_axis(diameter, worst[None], axis=0)[0]
    area = pi * at**2 / 4
    return SectionStress(
        bending_psi=bending,
        section=worst,
        axial_psi=axial / area,
        shear_psi=4 / 3 * across / area,
        moment_in_lb=moment[0],
        title="seat section only" if sections_in is None else "seat and given sections",
    )


class StudLimits(NamedTuple):
    """Forces square to a stud at its ball, lb, that bend or shear it; (*batch). Axial force is left out of them.

    Attributes:
        first_yield_lb: the worst section's outer fiber yields, S_y π d³ / (32 x).
        hinge_lb: it bends right through (plastic hinge), S_y d³ / (6 x).
        shear_lb: the thinnest section yields in shear, 0.577 S_y π d² / 4.
        bends_first: whether the hinge comes before shear, as in a round section whose lever is above 0.368 diameters.
    """

    first_yield_lb: Array
    hinge_lb: Array
    shear_lb: Array
    bends_first: Array


def stud_limits(
    *,
    lever_in: npt.ArrayLike,
    seat_diameter_in: npt.ArrayLike,
    yield_psi: npt.ArrayLike,
    extra_in: npt.ArrayLike = 0.0,
    sections_in: npt.ArrayLike | None = None,
) -> StudLimits:
    """What bends or shears a stud of stated yield strength. A longer stud never carries more.

    Args:
        lever_in: from the ball's center to the large end of the boss, as surveyed.
        seat_diameter_in: at the large end of the boss.
        yield_psi: S_y as its maker or a test states; tables for one alloy differ by a quarter, so none is assumed.
        extra_in: how much longer the stud is.
        sections_in: other round sections, as in `stud_stress`.

    Raises:
        ValueError: a length or diameter not above 0, or a strength outside 10,000 to 500,000 psi (it is in ksi or MPa).

    Source: section moduli πd³/32 and d³/6 of a round bar; shear yield by distortion energy (Shigley, from memory).

    >>> limits = stud_limits(lever_in=1.6, seat_diameter_in=0.75, yield_psi=151e3)
    >>> round(float(limits.first_yield_lb)), round(float(limits.hinge_lb)), bool(limits.bends_first)
    (3909, 6636, True)
    """
    strength = bounded("yield_psi", yield_psi, unit="psi", least=LEAST_YIELD_PSI, most=MOST_YIELD_PSI)
    diameter, distance = _sections(lever_in, seat_diameter_in, extra_in, sections_in, strength.shape)
    weakest = np.min(diameter**3 / distance, axis=0)
    hinge = strength * weakest / 6
    shear = SHEAR_YIELD * strength * pi / 4 * np.min(diameter, axis=0) ** 2
    return StudLimits(
        first_yield_lb=strength * pi / 32 * weakest,
        hinge_lb=hinge,
        shear_lb=shear,
        bends_first=hinge < shear,
    )


def _sections(
    lever: npt.ArrayLike,
    seat: npt.ArrayLike,
    extra: npt.ArrayLike,
    sections: npt.ArrayLike | None,
    batch: tuple[int, ...],
) -> tuple[Array, Array]:
    """Diameters and distances from the ball, (K, *batch), the seat first."""
    surveyed = bounded("lever_in", lever, unit="in", above=0)
    longer = bounded("extra_in", extra, unit="in")
    width = bounded("seat_diameter_in", seat, unit="in", above=0)
    others = numbers(np.empty((0, 2)) if sections is None else sections)
    if others.ndim != 2 or others.shape[1] != 2:
        raise ValueError(f"sections_in must have shape (K, 2), not {others.shape}")
    others = bounded("sections_in", others, unit="in", above=0)
    shape = np.broadcast_shapes(surveyed.shape, longer.shape, width.shape, batch)
    diameters = [np.broadcast_to(width, shape)] + [np.full(shape, diameter) for diameter, _ in others]
    distances = [np.broadcast_to(surveyed + longer, shape)] + [np.broadcast_to(x + longer, shape) for _, x in others]
    return np.stack(diameters), bounded(
        "lever_in or sections_in with extra_in", np.stack(distances), unit="in", above=0
    )
