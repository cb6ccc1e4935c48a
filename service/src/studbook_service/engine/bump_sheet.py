"""Fitting a survey to a measured bump sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.mechanism import batch_shape
from studbook_service.engine.vectors import Array, lift, numbers
from studbook_service.engine.wheel import wheel

if TYPE_CHECKING:
    from studbook_service.engine.corner import FrontLinkage

STEPS = 20
TOLERANCE_IN = 1e-9
DIFFERENCE_IN = 1e-3
LONGEST_STEP_IN = 0.5


@dataclass(frozen=True, eq=False, kw_only=True)
class BumpSheetFit:
    """A survey fitted to a bump sheet, (*batch).

    Attributes:
        shift_in: by how much the surveyed tie_inner must be higher for the sheet to come out.
        rms_before_deg: root mean square of toe, survey against sheet, the sheet's own zero taken out.
        rms_after_deg: the same after the shift.
        converged: whether the fit has settled.
        corner: the survey with the shift.
    """

    shift_in: Array
    rms_before_deg: Array
    rms_after_deg: Array
    converged: Array
    corner: FrontLinkage


def fit_tie_inner(corner: FrontLinkage, *, travel_in: npt.ArrayLike, toe_deg: npt.ArrayLike) -> BumpSheetFit:
    """The height of the tie rod's inner end that a measured bump sheet implies.

    A sixteenth of an inch on this one coordinate changes bump steer more than anything else in a survey. Gauss-Newton
    on that one unknown; the toe at the survey stays as read, so the rod's length follows. A sheet's zero is wherever
    the dial was set, so only changes of toe are compared.

    Args:
        corner: batch B.
        travel_in: wheel travels of the sheet, at least two, (T,).
        toe_deg: toe read there, deg, (*B, T).

    Returns:
        The fit, (*B); NaN and `converged` false where the sheet cannot be followed.

    Raises:
        ValueError: the two differ in length, or there are fewer than two readings.

    Source: Gauss-Newton least squares.

    >>> from studbook_service.engine.examples import CORNER
    >>> travels = [-2.0, -1.0, 0.0, 1.0, 2.0]
    >>> higher = replace(CORNER, tie_inner=CORNER.tie_inner + np.array([0, 0, 0.0625]))
    >>> sheet = wheel(solve_travel(higher, travel_in=travels)).toe_deg + 0.3
    >>> fit = fit_tie_inner(CORNER, travel_in=travels, toe_deg=sheet)
    >>> round(float(fit.shift_in), 6), bool(fit.rms_after_deg < 1e-9)
    (0.0625, True)
    """
    travels, sheet = numbers(travel_in), numbers(toe_deg)
    if travels.ndim != 1 or travels.size < 2 or sheet.shape[-1:] != travels.shape:
        raise ValueError(f"toe_deg must hold one reading per travel, at least 2: {sheet.shape} against {travels.shape}")
    shape = np.broadcast_shapes(sheet.shape[:-1], batch_shape(corner.mechanism))
    shift, step = np.zeros(shape), np.full(shape, np.inf)
    before = _off(corner, travels, sheet, shift[None])[0]
    with np.errstate(all="ignore"):
        for _ in range(STEPS):
            trials = np.stack([shift - DIFFERENCE_IN, shift, shift + DIFFERENCE_IN])
            less, now, more = _off(corner, travels, sheet, trials)
            slope = (more - less) / (2 * DIFFERENCE_IN)
            step = -np.sum(slope * now, axis=-1) / np.sum(slope**2, axis=-1)
            step = np.clip(step, -LONGEST_STEP_IN, LONGEST_STEP_IN)
            shift = shift + step
            if np.fmax.reduce(np.abs(step), axis=None, initial=0.0) < TOLERANCE_IN:
                break
        converged = np.abs(step) < TOLERANCE_IN
        shift = np.where(converged, shift, np.nan)
        after = _off(corner, travels, sheet, shift[None])[0]
        return BumpSheetFit(
            shift_in=shift,
            rms_before_deg=np.sqrt(np.mean(before**2, axis=-1)),
            rms_after_deg=np.sqrt(np.mean(after**2, axis=-1)),
            converged=converged,
            corner=_shifted(corner, shift),
        )


def _shifted(corner: FrontLinkage, shift: Array) -> FrontLinkage:
    """The survey with its tie_inner higher by `shift`, (*batch)."""
    up = np.stack([np.zeros_like(shift), np.zeros_like(shift), shift])
    rank = max(corner.rank, shift.ndim)
    return replace(corner, tie_inner=lift(corner.tie_inner, rank) + lift(up, rank))


def _off(corner: FrontLinkage, travels: Array, sheet: Array, shift: Array) -> Array:
    """Toe of the survey less the sheet, each less its mean; (trials, *batch, T)."""
    toe = wheel(solve_travel(_shifted(corner, shift).expand(1), travel_in=travels)).toe_deg
    off = toe - sheet
    centerd: Array = off - np.mean(off, axis=-1, keepdims=True)
    return centerd
