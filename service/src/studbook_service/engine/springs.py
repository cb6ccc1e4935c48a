"""Coil springs: rubbers, and a second spring stacked on the first that closes on a stop."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded
from studbook_service.engine.ride import series_rate
from studbook_service.engine.vectors import Array


def rubbered_rate(
    *, rate_lb_per_in: npt.ArrayLike, rubber_count: npt.ArrayLike, rubber_rate_lb_per_in: npt.ArrayLike
) -> Array:
    """Rate of a spring with rubbers between its coils: each adds its own, lb per in, (*batch).

    Args:
        rate_lb_per_in: of the bare spring.
        rubber_count: how many rubbers, fractions of one by its cut length.
        rubber_rate_lb_per_in: what one adds, as measured in this spring.

    Raises:
        ValueError: a rate not above 0, or a rubber's count or rate below 0.

    Source: common practice, no source.

    >>> float(rubbered_rate(rate_lb_per_in=200, rubber_count=2, rubber_rate_lb_per_in=25))
    250.0
    """
    rate = bounded("rate_lb_per_in", rate_lb_per_in, unit="lb per in", above=0)
    count = bounded("rubber_count", rubber_count, unit="rubbers", least=0)
    result: Array = rate + count * bounded("rubber_rate_lb_per_in", rubber_rate_lb_per_in, unit="lb per in", least=0)
    return result


class Stacked(NamedTuple):
    """Two springs end to end at a compression, (*batch).

    Attributes:
        force_lb: through both.
        rate_lb_per_in: of the pair there; the main spring's alone once stopped.
        stopped: whether the second spring is on its stop.
    """

    force_lb: Array
    rate_lb_per_in: Array
    stopped: Array


def stacked_springs(
    *,
    main_lb_per_in: npt.ArrayLike,
    second_lb_per_in: npt.ArrayLike,
    stop_gap_in: npt.ArrayLike,
    compression_in: npt.ArrayLike,
) -> Stacked:
    """A main spring and a second one (a tender spring) in series, the second closing on its stop after a gap.

    Args:
        main_lb_per_in: rate of the main spring.
        second_lb_per_in: rate of the second.
        stop_gap_in: how far the second is compressed from free when it meets its stop, or its coils bind.
        compression_in: of the pair together from free; nothing pulls, so a negative one gives no force.

    Raises:
        ValueError: a rate not above 0, a gap below 0, a compression that is not finite.

    Source: one force, deflections add.

    >>> pair = stacked_springs(main_lb_per_in=300, second_lb_per_in=100, stop_gap_in=1.5, compression_in=[1, 3])
    >>> pair.force_lb.tolist(), pair.rate_lb_per_in.tolist(), pair.stopped.tolist()
    ([75.0, 450.0], [75.0, 300.0], [False, True])
    """
    main = bounded("main_lb_per_in", main_lb_per_in, unit="lb per in", above=0)
    second = bounded("second_lb_per_in", second_lb_per_in, unit="lb per in", above=0)
    gap = bounded("stop_gap_in", stop_gap_in, unit="in", least=0)
    compression = bounded("compression_in", compression_in, unit="in")
    both = series_rate(spring_lb_per_in=main, tire_lb_per_in=second)
    stops_at = gap * (1 + second / main)
    stopped = compression >= stops_at
    force = np.where(stopped, second * gap + main * (compression - stops_at), both * np.maximum(compression, 0))
    rate = np.where(compression < 0, 0.0, np.where(stopped, main, both))
    return Stacked(force, rate, stopped)
