"""What an outing's lap times come to."""

from collections.abc import Sequence
from statistics import median
from typing import Final, NamedTuple

CLEAN_WITHIN: Final = 1.07
"""Laps within this of the outing's best are clean; slower ones met traffic or a caution. Common practice, no source."""

CLEAN_LEAST: Final = 3
"""A median of fewer laps is none."""


class Pace(NamedTuple):
    """An outing's pace.

    Attributes:
        median_s: of the clean laps; None of too few.
        clean: how many those are.
    """

    best_s: float | None
    median_s: float | None
    clean: int


def pace(times: Sequence[float]) -> Pace:
    """Tell best lap and median of the clean laps.

    Example:
        >>> pace([17.9, 17.4, 17.5, 24.0])
        Pace(best_s=17.4, median_s=17.5, clean=3)
        >>> pace([])
        Pace(best_s=None, median_s=None, clean=0)
    """
    if not times:
        return Pace(None, None, 0)
    best = min(times)
    clean = [time for time in times if time <= CLEAN_WITHIN * best]
    return Pace(best, median(clean) if len(clean) >= CLEAN_LEAST else None, len(clean))
