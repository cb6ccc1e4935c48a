"""A measured curve between its points: monotone, and NaN outside them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from studbook_service.engine.vectors import Array, numbers


@dataclass(frozen=True, eq=False)
class MonotoneCurve:
    """A single-valued curve through measured points, made by `curve`.

    Attributes:
        x: abscissae, strictly rising, (n,).
        y: ordinates, (n,).
        slope: dy/dx at the points, (n,).
    """

    x: Array
    y: Array
    slope: Array

    def __call__(self, x: npt.ArrayLike) -> Array:
        """The ordinate at x, (*batch); NaN outside the measured points."""
        return self._at(x, order=0)

    def derivative(self, x: npt.ArrayLike) -> Array:
        """dy/dx at x, (*batch); NaN outside the measured points."""
        return self._at(x, order=1)

    def _at(self, x: npt.ArrayLike, *, order: int) -> Array:
        at = numbers(x)
        piece = np.clip(np.searchsorted(self.x, at, side="right") - 1, 0, self.x.size - 2)
        width = self.x[piece + 1] - self.x[piece]
        rise = (self.y[piece + 1] - self.y[piece]) / width
        first, last = self.slope[piece], self.slope[piece + 1]
        along = at - self.x[piece]
        square = (3 * rise - 2 * first - last) / width
        cube = (first + last - 2 * rise) / width**2
        if order == 0:
            value = self.y[piece] + along * (first + along * (square + along * cube))
        else:
            value = first + along * (2 * square + 3 * along * cube)
        measured: Array = np.where((at >= self.x[0]) & (at <= self.x[-1]), value, np.nan)
        return measured


def curve(*, x: npt.ArrayLike, y: npt.ArrayLike, x_name: str = "x", y_name: str = "y") -> MonotoneCurve:
    """A monotone piecewise cubic (PCHIP) through measured points.

    Between two points it stays between their values, so it makes no wiggle that was not measured. Its slope at an inner
    point is the weighted harmonic mean of the two chords' slopes, 0 where they differ in sign.

    Args:
        x: abscissae, strictly rising, (n,), n at least 2.
        y: ordinates, (n,).
        x_name: what the message calls `x`.
        y_name: what the message calls `y`.

    Raises:
        ValueError: fewer than two points, unequal numbers, one that is not finite, or an abscissa not above the one
            before it: the curve would not be single-valued.

    Source: F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300, with the ends' three-point formula of
    C. Moler, Numerical Computing with MATLAB (2004) 3.6 (both from memory); checked against SciPy's interpolator.

    >>> line = curve(x=[0, 1, 3], y=[0, 2, 6])
    >>> line([0.5, 2.0, 3.5]).tolist()
    [1.0, 4.0, nan]
    """
    xs, ys = numbers(x), numbers(y)
    if xs.ndim != 1 or xs.shape != ys.shape or xs.size < 2:
        raise ValueError(f"{x_name} {xs.shape} and {y_name} {ys.shape} must hold one number per point, at least 2")
    for name, values in ((x_name, xs), (y_name, ys)):
        if not np.all(np.isfinite(values)):
            raise ValueError(f"{name} must be finite")
    width = np.diff(xs)
    if not np.all(width > 0):
        point = int(np.argmax(width <= 0)) + 1
        raise ValueError(
            f"{x_name} must rise from point to point, or the curve is not single-valued: {xs[point]:g} follows "
            f"{xs[point - 1]:g}"
        )
    return MonotoneCurve(xs, ys, _slopes(width, np.diff(ys) / width))


def _slopes(width: Array, rise: Array) -> Array:
    if rise.size == 1:
        return np.array([rise[0], rise[0]])
    before, after = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
    alike = rise[:-1] * rise[1:] > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = np.where(alike, (before + after) / (before / rise[:-1] + after / rise[1:]), 0.0)
    ends = _end(width[0], width[1], rise[0], rise[1]), _end(width[-1], width[-2], rise[-1], rise[-2])
    return np.concatenate([[ends[0]], inner, [ends[1]]])


def _end(width: float, next_width: float, rise: float, next_rise: float) -> float:
    """The slope of a parabola through the end's three points, kept from overshooting."""
    slope = ((2 * width + next_width) * rise - width * next_rise) / (width + next_width)
    if slope * rise <= 0:
        return 0.0
    if rise * next_rise < 0 and abs(slope) > 3 * abs(rise):
        return 3 * rise
    return slope
