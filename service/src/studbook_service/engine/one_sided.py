"""Parts that act one way only: bump stops, chains, anti-roll bars with slack.

Each is a force that grows along straight pieces of a deflection, from a gap on. That makes the whole car's energy
convex, so that it has one rest, and which parts are engaged is found, not guessed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.vectors import Array, numbers

WheelName = Literal["lf", "rf", "lr", "rr"]
AxleName = Literal["front", "rear"]
WHEELS: tuple[WheelName, ...] = ("lf", "rf", "lr", "rr")
"""The order of every array that has one entry a wheel."""

FIRST: dict[AxleName, int] = {"front": 0, "rear": 2}
"""Where an axle's two wheels start in `WHEELS`."""

CHAIN_LB_PER_IN = 1e6
"""A chain or the end of a shock's stroke as good as rigid: it gives a thousandth of an inch under 1,000 lb."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Stop:
    """A bump stop, bump spring or droop limit, made by `bump_stop` or `droop_limit`.

    Attributes:
        name: for the report.
        per_wheel: its compression per inch of each wheel's travel, (4,).
        gap_in: compression from the scales' attitude at which it touches, (*batch); below 0 when it already carries.
        knots_in: further compressions at which its slope changes, (n,), the first 0.
        slopes_lb_per_in: how much the slope changes there, (n,).
        measured_to_in: further compression up to which its curve was measured; past it the last slope goes on.
    """

    name: str
    per_wheel: Array
    gap_in: Array
    knots_in: Array
    slopes_lb_per_in: Array
    measured_to_in: float


def wheel_row(wheel: WheelName, ratio: float = 1.0) -> Array:
    """A row over the four wheels that feels one of them, (4,).

    Args:
        wheel: which.
        ratio: compression per inch of its travel; the motion ratio of the shock that carries a stop.

    Raises:
        ValueError: there is no such wheel.

    >>> wheel_row("rf", 0.64).tolist()
    [0.0, 0.64, 0.0, 0.0]
    """
    one_of("wheel", wheel, WHEELS)
    row: Array = ratio * np.eye(4)[WHEELS.index(wheel)]
    return row


def bump_stop(
    *, name: str, per_wheel: npt.ArrayLike, gap_in: npt.ArrayLike, travel_in: npt.ArrayLike, force_lb: npt.ArrayLike
) -> Stop:
    """A bump stop or bump spring: nothing until its gap is used up, then its curve.

    Args:
        name: for the report.
        per_wheel: its compression per inch of each wheel's travel, (4,): a `wheel_row` with the motion ratio, or the
            shock's row of −J.
        gap_in: along the stop, from the attitude on the scales, (*batch); below 0 when it already carries there.
        travel_in: compressions of the stop, rising from 0, (n,), n at least 2.
        force_lb: its force there, from 0, never falling, (n,). Straight between the points.

    Raises:
        ValueError: a curve that does not start at 0, is not single-valued, or falls.

    Source: definition; straight pieces are the reading of a measured table that invents nothing.

    >>> curve = {"travel_in": [0, 0.5, 1], "force_lb": [0, 100, 400]}
    >>> bump_stop(name="rf", per_wheel=wheel_row("rf"), gap_in=1.25, **curve).slopes_lb_per_in.tolist()
    [200.0, 400.0]
    """
    travel = bounded("travel_in", travel_in, unit="in")
    force = bounded("force_lb", force_lb, unit="lb")
    if travel.ndim != 1 or travel.shape != force.shape or travel.size < 2:
        raise ValueError(f"travel_in and force_lb must be one list each, alike, of 2 or more: {travel}, {force}")
    if travel[0] != 0 or force[0] != 0:
        raise ValueError(f"travel_in and force_lb must start at 0 in and 0 lb, not {travel[0]:g} and {force[0]:g}")
    steps = np.diff(travel)
    if not np.all(steps > 0):
        raise ValueError(f"travel_in must rise from point to point, in, or the curve is not single-valued: {travel}")
    slopes = np.diff(force) / steps
    if not np.all(slopes >= 0) or slopes[-1] <= 0:
        raise ValueError(f"force_lb must not fall as the stop is pressed, and must rise at its end, lb: {force}")
    return Stop(
        name=name,
        per_wheel=_row(per_wheel),
        gap_in=bounded("gap_in", gap_in, unit="in"),
        knots_in=travel[:-1],
        slopes_lb_per_in=np.diff(slopes, prepend=0.0),
        measured_to_in=float(travel[-1]),
    )


def droop_limit(
    *, name: str, wheel: WheelName, travel_in: npt.ArrayLike, rate_lb_per_in: float = CHAIN_LB_PER_IN
) -> Stop:
    """A chain, strap or shock's full length that stops a wheel going down.

    Args:
        name: for the report.
        wheel: which.
        travel_in: how far the wheel may go down from the attitude on the scales, (*batch).
        rate_lb_per_in: of the limit, at the wheel; as good as rigid by default.

    Raises:
        ValueError: a travel below 0, or a rate not above 0.

    >>> droop_limit(name="lr chain", wheel="lr", travel_in=5).per_wheel.tolist()
    [0.0, 0.0, -1.0, 0.0]
    """
    rate = bounded("rate_lb_per_in", rate_lb_per_in, unit="lb per in", above=0)
    return Stop(
        name=name,
        per_wheel=wheel_row(wheel, -1.0) + 0.0,
        gap_in=bounded("travel_in", travel_in, unit="in", least=0),
        knots_in=np.zeros(1),
        slopes_lb_per_in=rate.reshape(1),
        measured_to_in=np.inf,
    )


def _row(per_wheel: npt.ArrayLike) -> Array:
    row = bounded("per_wheel", per_wheel, unit="in per in")
    if row.shape != (4,) or not np.any(row):
        raise ValueError(f"per_wheel must be four numbers, not all 0: {row}")
    return row


@dataclass(frozen=True, eq=False, kw_only=True)
class AntiRollBar:
    """An anti-roll bar at the wheels of an axle, made by `bar`, where the other fields are described.

    Attributes:
        slack_in: below 0 when a bar that acts one way carries on the scales, (*batch).
        one_way: whether it acts only with the right wheel higher, (*batch).
    """

    axle: AxleName
    rate_lb_per_in: Array
    preload_in: Array
    slack_in: Array
    one_way: Array
    hooked_when_scaled: bool


def bar(
    *,
    axle: AxleName,
    rate_lb_per_in: npt.ArrayLike,
    preload_in: npt.ArrayLike = 0.0,
    slack_in: npt.ArrayLike = 0.0,
    hooked_when_scaled: bool = True,
) -> AntiRollBar:
    """An anti-roll bar.

    Args:
        axle: "front" or "rear".
        rate_lb_per_in: force at each wheel per inch of difference of their travels, (*batch).
        preload_in: its preload as a difference of travels; + presses the right wheel down and lifts the left, as roll
            in a left turn does.
        slack_in: how far the right wheel must rise over the left before the bar acts, and then that way only. 0 for a
            bar linked both ways.
        hooked_when_scaled: False when the car was scaled with the bar unhooked.

    Raises:
        ValueError: no such axle, a rate or slack below 0, or a bar with both slack and preload.

    Source: common practice, no source.

    >>> bar(axle="front", rate_lb_per_in=360, slack_in=0.5).slack_in.item()
    0.5
    """
    one_of("axle", axle, FIRST)
    rate = bounded("rate_lb_per_in", rate_lb_per_in, unit="lb per in", least=0)
    preload = bounded("preload_in", preload_in, unit="in")
    slack = bounded("slack_in", slack_in, unit="in", least=0)
    if np.any((preload != 0) & (slack != 0)):
        raise ValueError(f"slack_in is {slack} in and preload_in {preload} in; a bar with slack has no preload")
    return AntiRollBar(
        axle=axle,
        rate_lb_per_in=rate,
        preload_in=preload,
        slack_in=slack,
        one_way=slack > 0,
        hooked_when_scaled=hooked_when_scaled,
    )


def difference_row(axle: AxleName) -> Array:
    """The row of an axle's difference of travels, right minus left, (4,).

    >>> difference_row("rear").tolist()
    [0.0, 0.0, -1.0, 1.0]
    """
    row = np.zeros(4)
    row[FIRST[axle]], row[FIRST[axle] + 1] = -1.0, 1.0
    return numbers(row)
