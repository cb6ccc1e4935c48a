"""Final drive: engine speed against road speed."""

import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.vectors import Array

IN_PER_MILE_PER_MIN_PER_H = 63360 / 60
"""1056: inches a minute at one mile an hour."""


def final_drive(*, ring_and_pinion: npt.ArrayLike, spur: npt.ArrayLike = 1.0) -> Array:
    """Engine turns per turn of the axle, in top gear: ring and pinion times the spur pair, (*batch).

    Raises:
        ValueError: a ratio not above 0.

    Source: gears in series.

    >>> round(float(final_drive(ring_and_pinion=4.86, spur=1.25)), 3)
    6.075
    """
    ring = bounded("ring_and_pinion", ring_and_pinion, unit="to 1", above=0)
    result: Array = ring * bounded("spur", spur, unit="to 1", above=0)
    return result


def road_speed(*, engine_rpm: npt.ArrayLike, ratio: npt.ArrayLike, rollout_in: npt.ArrayLike) -> Array:
    """Road speed, mph, at an engine speed, without slip: rpm · C / (1056 · ratio), (*batch).

    Args:
        engine_rpm: turns a minute.
        ratio: final drive.
        rollout_in: C of the driven tire; the mean of both on a locked axle.

    Raises:
        ValueError: an engine speed below 0, a ratio or rollout not above 0.

    Source: units; 63,360 in to the mile.

    >>> round(float(road_speed(engine_rpm=6500, ratio=5.83, rollout_in=86.5)), 3)
    91.327
    """
    rpm = bounded("engine_rpm", engine_rpm, unit="rpm", least=0)
    gear = bounded("ratio", ratio, unit="to 1", above=0)
    result: Array = rpm * bounded("rollout_in", rollout_in, unit="in", above=0) / (IN_PER_MILE_PER_MIN_PER_H * gear)
    return result


def engine_speed(*, road_mph: npt.ArrayLike, ratio: npt.ArrayLike, rollout_in: npt.ArrayLike) -> Array:
    """Engine speed, rpm, at a road speed, without slip; undoes `road_speed`, (*batch).

    Raises:
        ValueError: a road speed below 0, a ratio or rollout not above 0.

    Source: as `road_speed`.

    >>> round(float(engine_speed(road_mph=91.3265, ratio=5.83, rollout_in=86.5)))
    6500
    """
    speed = bounded("road_mph", road_mph, unit="mph", least=0)
    gear = bounded("ratio", ratio, unit="to 1", above=0)
    result: Array = speed * IN_PER_MILE_PER_MIN_PER_H * gear / bounded("rollout_in", rollout_in, unit="in", above=0)
    return result
