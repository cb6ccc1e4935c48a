"""A car on its scales: four loads, where the patches are, and what is between wheels and chassis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import over_batch
from studbook_service.engine.bounds import bounded, shaped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from studbook_service.engine.axle_springs import AxleSprings
    from studbook_service.engine.one_sided import AntiRollBar, Stop
    from studbook_service.engine.vectors import Array


class Percentages(NamedTuple):
    """What a crew reads off four scales, (*batch).

    Attributes:
        total_lb: sum of the four.
        left_percent: LF + LR of the total.
        rear_percent: LR + RR of the total.
        cross_percent: RF + LR of the total.
        bite_lb: LR − RR.
    """

    total_lb: Array
    left_percent: Array
    rear_percent: Array
    cross_percent: Array
    bite_lb: Array


def percentages(loads_lb: npt.ArrayLike) -> Percentages:
    """Percentages and bite of four wheel loads.

    Args:
        loads_lb: LF, RF, LR, RR, (4, *batch); NaN where there is no answer.

    Raises:
        ValueError: not four loads, one below 0 or infinite, or none above 0.

    Source: definitions of the trade (common practice).

    >>> dirt = percentages([590, 503, 718, 629])
    >>> dirt.cross_percent.round(2).item(), dirt.bite_lb.item()
    (50.04, 89.0)
    """
    loads = shaped("loads_lb", np.asarray(loads_lb, float), 4)
    bounded("loads_lb", loads[~np.isnan(loads)], unit="lb", least=0)
    total = loads.sum(axis=0)
    bounded("the sum of loads_lb", total[~np.isnan(total)], unit="lb", above=0)
    left_front, right_front, left_rear, right_rear = loads
    return Percentages(
        total_lb=total,
        left_percent=100 * (left_front + left_rear) / total,
        rear_percent=100 * (left_rear + right_rear) / total,
        cross_percent=100 * (right_front + left_rear) / total,
        bite_lb=left_rear - right_rear,
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class FourWheelCar:
    """A car on its scales, made by `car`; wheels always LF, RF, LR, RR.

    Attributes:
        at_in: x and y of the patches, (2, 4, *batch).
        loads_lb: on the scales, (4, *batch).
        rates_lb_per_in: the springs at the wheels, (4, 4, *batch); each axle a 2×2 block.
        per_perch: displacement at each wheel per inch that each perch compresses its spring, (4, 4, *batch).
        tires_lb_per_in: vertical rates of the tires, (4, *batch).
        bars, stops: what acts besides springs and tires.
    """

    at_in: Array
    loads_lb: Array
    rates_lb_per_in: Array
    per_perch: Array
    tires_lb_per_in: Array
    bars: tuple[AntiRollBar, ...]
    stops: tuple[Stop, ...]

    @property
    def batch(self) -> tuple[int, ...]:
        """Shape of the batch; bars and stops broadcast to it."""
        return self.loads_lb.shape[1:]


def car(
    *,
    x_in: npt.ArrayLike,
    y_in: npt.ArrayLike,
    loads_lb: npt.ArrayLike,
    front: AxleSprings,
    rear: AxleSprings,
    tires_lb_per_in: npt.ArrayLike,
    bars: Sequence[AntiRollBar] = (),
    stops: Sequence[Stop] = (),
) -> FourWheelCar:
    """A car on its scales.

    Args:
        x_in: of the patches, + forward, (4, *batch).
        y_in: of the patches, + left, (4, *batch).
        loads_lb: on the scales, (4, *batch).
        front: springs of the front axle.
        rear: springs of the rear axle.
        tires_lb_per_in: vertical rates, (4, *batch).
        bars: at most one to an axle.
        stops: any number.

    Raises:
        ValueError: a load below 0, a tire's rate not above 0, left and right or front and rear swapped, two bars on one
            axle, two stops of one name.

    Source: definitions.

    >>> from studbook_service.engine.examples import CAR
    >>> CAR.rates_lb_per_in[2:, 2:].round(1).tolist()
    [[164.6, 61.0], [61.0, 138.5]]
    """
    x = _four("x_in", x_in, unit="in")
    y = _four("y_in", y_in, unit="in")
    for axle, left in (("front", 0), ("rear", 2)):
        if not np.all(y[left] > y[left + 1]):
            raise ValueError(
                f"y_in has the {axle} left wheel at {y[left]} in and the right at {y[left + 1]} in; left must be above"
            )
    if not np.all(np.minimum(x[0], x[1]) > np.maximum(x[2], x[3])):
        raise ValueError(f"x_in is {x} in; both front wheels must be above, ahead of, both rear ones")
    names = [stop.name for stop in stops]
    if len(set(names)) < len(names):
        raise ValueError(f"stops must have a name each: {', '.join(names)}")
    axles = [bar.axle for bar in bars]
    if len(set(axles)) < len(axles):
        raise ValueError(f"bars must be one to an axle: {', '.join(axles)}")
    loads = _four("loads_lb", loads_lb, unit="lb", least=0)
    tires = _four("tires_lb_per_in", tires_lb_per_in, unit="lb per in", above=0)
    batch = np.broadcast_shapes(
        *(four.shape[1:] for four in (x, y, loads, tires)),
        *(block.shape[2:] for block in (*front, *rear)),
        *(stop.gap_in.shape for stop in stops),
        *(each.shape for bar in bars for each in (bar.rate_lb_per_in, bar.preload_in, bar.slack_in)),
    )
    return FourWheelCar(
        at_in=np.stack([over_batch(x, lead=1, batch=batch), over_batch(y, lead=1, batch=batch)]),
        loads_lb=over_batch(loads, lead=1, batch=batch),
        rates_lb_per_in=axle_blocks(front.rates_lb_per_in, rear.rates_lb_per_in, batch),
        per_perch=axle_blocks(front.per_perch, rear.per_perch, batch),
        tires_lb_per_in=over_batch(tires, lead=1, batch=batch),
        bars=tuple(bars),
        stops=tuple(stops),
    )


def _four(name: str, value: npt.ArrayLike, *, unit: str, above: float = -np.inf, least: float = -np.inf) -> Array:
    return shaped(name, bounded(name, value, unit=unit, above=above, least=least), 4)


def axle_blocks(front: Array, rear: Array, batch: tuple[int, ...]) -> Array:
    """Two axles' (2, 2, *their batch) as one (4, 4, *batch), nothing between them."""
    both = np.zeros((4, 4, *batch))
    both[:2, :2], both[2:, 2:] = over_batch(front, lead=2, batch=batch), over_batch(rear, lead=2, batch=batch)
    return both
