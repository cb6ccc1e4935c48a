"""Tires of unequal size on one axle: rollout, stagger, and the turn they roll round by themselves."""

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.vectors import Array


def stagger(*, left_rollout_in: npt.ArrayLike, right_rollout_in: npt.ArrayLike) -> Array:
    """Right rollout less left rollout, in, (*batch). A rollout is a *circumference*, measured rolling.

    Raises:
        ValueError: a rollout not above 0.

    Source: definition of the trade.

    >>> round(float(stagger(left_rollout_in=87.6, right_rollout_in=91.4)), 3)
    3.8
    """
    left = bounded("left_rollout_in", left_rollout_in, unit="in", above=0)
    result: Array = bounded("right_rollout_in", right_rollout_in, unit="in", above=0) - left
    return result


def rolling_radius(
    *, left_rollout_in: npt.ArrayLike, right_rollout_in: npt.ArrayLike, track_in: npt.ArrayLike
) -> Array:
    """Radius that the middle of a locked axle rolls round, R = t (C_r + C_l) / (2 (C_r − C_l)), in, (*batch).

    Args:
        left_rollout_in: C_l.
        right_rollout_in: C_r.
        track_in: t, between the patches.

    Returns:
        + turning left, − turning right, infinite with no stagger. On a bank it is the radius along the surface,
        R / cos(bank).

    Raises:
        ValueError: a rollout or track not above 0.

    Source: two wheels on one shaft roll as a cone, R_r / R_l = C_r / C_l; no slip, no camber.

    >>> float(rolling_radius(left_rollout_in=86.0, right_rollout_in=88.5, track_in=65.0))
    2268.5
    """
    difference = stagger(left_rollout_in=left_rollout_in, right_rollout_in=right_rollout_in)
    both = np.asarray(left_rollout_in, float) + np.asarray(right_rollout_in, float)
    track = bounded("track_in", track_in, unit="in", above=0)
    with np.errstate(divide="ignore"):
        result: Array = track * both / (2 * difference)
    return result


def stagger_needed(
    *,
    radius_in: npt.ArrayLike,
    track_in: npt.ArrayLike,
    inner_rollout_in: npt.ArrayLike,
    bank_deg: npt.ArrayLike = 0.0,
) -> Array:
    """Stagger with which a locked axle rolls round a turn: S = C_i t / (R / cos β − t/2), in, (*batch).

    Args:
        radius_in: R, of the axle's middle seen from above.
        track_in: t, between the patches.
        inner_rollout_in: C_i of the tire on the inside of the turn.
        bank_deg: β; the radius along a banked surface is R / cos β.

    Raises:
        ValueError: a track or rollout not above 0, a radius not above half the track, a bank outside 0 to 60 deg.

    Source: rolling cone, as in `rolling_radius`; R / cos β is the radius along a cone's surface.

    >>> round(float(stagger_needed(radius_in=250 * 12, track_in=65.0, inner_rollout_in=86.0, bank_deg=14)), 6)
    1.827191
    """
    track = bounded("track_in", track_in, unit="in", above=0)
    radius = bounded("radius_in", radius_in, unit="in", above=float(np.max(track)) / 2)
    inner = bounded("inner_rollout_in", inner_rollout_in, unit="in", above=0)
    bank = np.radians(bounded("bank_deg", bank_deg, unit="deg", least=0, most=60))
    result: Array = inner * track / (radius / np.cos(bank) - track / 2)
    return result


def static_tire_deflection(*, rollout_in: npt.ArrayLike, loaded_radius_in: npt.ArrayLike) -> Array:
    """How far a tire's loaded radius is below rollout / 2π, in, (*batch).

    Usually 0.25 in (hard) to 0.4 in (soft): common practice, no source. Much outside that, one of the two was misread.

    Raises:
        ValueError: a rollout or radius not above 0.

    Source: a circle's circumference.

    >>> round(float(static_tire_deflection(rollout_in=87.6, loaded_radius_in=13.55)), 3)
    0.392
    """
    rollout = bounded("rollout_in", rollout_in, unit="in", above=0)
    result: Array = rollout / (2 * np.pi) - bounded("loaded_radius_in", loaded_radius_in, unit="in", above=0)
    return result
