"""Turning torques of ball joints: as read, as preload leaves them, and as load adds to them."""

from math import pi
from typing import Literal

import numpy.typing as npt

from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.vectors import Array, numbers

SEAT_FACTORS = {
    ("spin", "cosine"): 1.0,
    ("tilt", "cosine"): 4 / pi,
    ("spin", "uniform"): pi / 2,
    ("tilt", "uniform"): pi / 2,
}
"""f in τ = f μ F r of a hemispherical seat: turned about the load ("spin") or square to it ("tilt"), with the pressure
as the cosine of the angle from the load or uniform. Integrals over the hemisphere, done here."""

DOUBTFUL_IN_LB = 60.0
LARGEST_IN_LB = 300.0
"""A turning torque above the first is read again, above the second refused: common practice, no source. Published ones
of new road joints run from 1 to 53 in·lb, mostly 9 to 30 (passenger-car workshop manuals)."""


def turning_torque(name: str, value: npt.ArrayLike) -> Array:
    """A turning torque, in·lb, from 0 to 300; any other is refused by its argument's name.

    >>> float(turning_torque("torque_in_lb", 12))
    12.0
    """
    return bounded(name, value, unit="in lb", least=0, most=LARGEST_IN_LB)


def pull_scale_torque(*, pull_lb: npt.ArrayLike, lever_in: npt.ArrayLike) -> Array:
    """Torque of a pull-scale reading at a lever, τ = P L, in·lb, (*batch).

    Args:
        pull_lb: the reading, square to the lever.
        lever_in: from the ball's center to the hook.

    Raises:
        ValueError: a reading below 0, or a lever not above 0.

    Source: definition.

    >>> float(pull_scale_torque(pull_lb=2.5, lever_in=4))
    10.0
    """
    pull = bounded("pull_lb", pull_lb, unit="lb", least=0)
    result: Array = pull * bounded("lever_in", lever_in, unit="in", above=0)
    return result


def spin_torque(
    *,
    torque_in_lb: npt.ArrayLike,
    turned_about: Literal["stud_axis", "swung"],
    tilt_over_spin: npt.ArrayLike = 1.0,
) -> Array:
    """Torque about the stud's axis, in·lb, (*batch), of a reading about that axis or by swinging the stud.

    Args:
        torque_in_lb: the reading.
        turned_about: "stud_axis" by a wrench on the nut, "swung" by a pull on the stud.
        tilt_over_spin: torque swung over torque about the axis; 1, an assumption, unless measured.

    Raises:
        ValueError: a torque outside 0 to 300 in·lb, a factor not above 0, or another way of turning.

    Source: definition of the factor.

    >>> float(spin_torque(torque_in_lb=12, turned_about="swung", tilt_over_spin=1.2))
    10.0
    """
    torque = turning_torque("torque_in_lb", torque_in_lb)
    factor = bounded("tilt_over_spin", tilt_over_spin, unit="in lb per in lb", above=0)
    one_of("turned_about", turned_about, ("stud_axis", "swung"))
    result: Array = torque / (factor if turned_about == "swung" else 1.0)
    return result


def doubtful_torque(torque_in_lb: npt.ArrayLike) -> Array:
    """Whether a turning torque should be read again, (*batch): above 60 in·lb it is likely in·oz, or off by ×12.

    >>> bool(doubtful_torque(96))
    True
    """
    result: Array = numbers(torque_in_lb) > DOUBTFUL_IN_LB
    return result


def load_torque(
    *,
    friction_coefficient: npt.ArrayLike,
    ball_radius_in: npt.ArrayLike,
    force_lb: npt.ArrayLike,
    factor: npt.ArrayLike = SEAT_FACTORS["tilt", "cosine"],
) -> Array:
    """Torque that the load on a ball adds to its preload: τ = f μ r |F|, in·lb, (*batch).

    Args:
        friction_coefficient: μ of ball on seat.
        ball_radius_in: r.
        force_lb: size of the force through the ball.
        factor: f, one of `SEAT_FACTORS`; by default that of a tilting ball under cosine pressure, as travel tilts it.

    Raises:
        ValueError: a coefficient outside 0 to 1, a radius or factor not above 0, a force below 0.

    Source: Coulomb friction over the seat.

    >>> round(float(load_torque(friction_coefficient=0.08, ball_radius_in=0.55, force_lb=550)))
    31
    """
    friction = bounded("friction_coefficient", friction_coefficient, unit="lb per lb", least=0, most=1)
    radius = bounded("ball_radius_in", ball_radius_in, unit="in", above=0)
    force = bounded("force_lb", force_lb, unit="lb", least=0, holes=True)
    result: Array = bounded("factor", factor, unit="in lb per in lb", above=0) * friction * radius * force
    return result
