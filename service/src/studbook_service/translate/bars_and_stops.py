"""What acts one way or across an axle, as fitted: anti-roll bars, bump stops, droop limits."""

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np

from studbook.wire.problem import FieldFault
from studbook_service.engine.bars import bar_rate, preload_travel, torsion_rate
from studbook_service.engine.one_sided import AntiRollBar, AxleName, Stop, WheelName, bar, bump_stop, droop_limit
from studbook_service.engine.vectors import Array
from studbook_service.translate.document import Document
from studbook_service.translate.errors import FieldsUnfitError
from studbook_service.translate.words import CORNER

END: Final[Mapping[str, AxleName]] = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}


class FittedBar(NamedTuple):
    """An anti-roll bar at the wheels.

    Attributes:
        rate_lb_per_in: force at each wheel per inch of difference.
        preload_in: the difference that its preload stands for, + presses the right wheel.
        slack_in: difference at which it begins to act; 0 for a bar linked both ways.
        hooked: as raced; `hooked_when_scaled` when the scales were read.
    """

    axle: AxleName
    rate_lb_per_in: float
    preload_in: float
    slack_in: float
    hooked: bool
    hooked_when_scaled: bool


def fitted_bar(page: Document, axle: AxleName) -> FittedBar | None:
    """Read an axle's anti-roll bar, or None where there is none, or its rate is not known.

    Args:
        page: the document; assumptions are noted in it.
        axle: which.

    Raises:
        FieldsUnfitError: a tube whose bore is not below its outer diameter.
    """
    root = f"setup.{axle}.bar"
    if not page.get(root):
        return None
    rate = page.get(f"{root}.rate_lb_per_in")
    if rate is None:
        rate = _bar_rate(page, root)
    if rate is None:
        page.assume(f"{axle} bar: left out, neither its rate nor its size, arms and motion ratio are recorded")
        return None
    hooked = page.get(f"{root}.hooked") is not False
    scaled = page.get("measured.basis.bar_hooked")
    if scaled is None:
        page.assume(f"{axle} bar: taken as {'linked' if hooked else 'unlinked'} on the scales; it is not recorded")
    slack = page.get(f"{root}.slack_in") or 0.0
    return FittedBar(axle, rate, _preload(page, axle, slack), slack, hooked, hooked if scaled is None else scaled)


def _bar_rate(page: Document, root: str) -> float | None:
    leaves = ("outer_diameter_in", "active_length_in", "arm_left_in", "arm_right_in", "motion_ratio")
    outer, length, left, right, ratio = (page.get(f"{root}.{leaf}") for leaf in leaves)
    if outer is None or length is None or left is None or right is None or ratio is None:
        return None
    inner = page.get(f"{root}.inner_diameter_in") or 0.0
    try:
        torsion = torsion_rate(outer_diameter_in=outer, length_in=length, inner_diameter_in=inner)
    except ValueError as error:
        path = f"{root}.inner_diameter_in"
        raise FieldsUnfitError([FieldFault(path=path, detail=f"{path}: {error}", value=inner)]) from error
    rate = bar_rate(
        torsion_in_lb_per_rad=torsion, arm_left_in=left, arm_right_in=right, ratio_left=ratio, ratio_right=ratio
    )
    page.assume(f"{root}: its rate is that of a steel bar of its size, its arms and links taken as rigid")
    return float(rate.left_lb_per_in + rate.right_lb_per_in) / 2


def _preload(page: Document, axle: AxleName, slack: float) -> float:
    root = f"setup.{axle}.bar"
    turns, side = page.get(f"{root}.preload_turns"), page.get(f"{root}.preload_side")
    if not turns:
        return 0.0
    pitch, ratio = page.get(f"{root}.in_per_turn"), page.get(f"{root}.motion_ratio")
    if slack or side is None or pitch is None or ratio is None:
        why = "a bar with slack has none" if slack else "its side, in_per_turn or motion_ratio is not recorded"
        page.assume(f"{axle} bar: its preload is left out: {why}")
        return 0.0
    moved = float(preload_travel(turns=turns, pitch_in=pitch, ratio=ratio))
    return moved if side == "left" else -moved


def engine_bar(fitted: FittedBar) -> AntiRollBar:
    """Give the engine's bar; its preload is told by the forces that a change of it makes."""
    return bar(axle=fitted.axle, rate_lb_per_in=fitted.rate_lb_per_in, slack_in=fitted.slack_in)


def fitted_bump_stop(page: Document, name: WheelName, *, shock: Array, spring: Array) -> Stop | None:
    """Read a bump stop on the shaft of its shock, or None where there is none, or its gap or curve is not recorded.

    Args:
        page: the document; assumptions are noted in it.
        name: the wheel.
        shock: d(length) of its shock per inch of travel of each wheel, (4,), NaN where not known.
        spring: the same of its spring, taken for want of the other.

    Raises:
        FieldsUnfitError: a curve that is not single-valued, or falls.
    """
    root = f"setup.{END[name]}.{name}.bump_stop"
    gap, points = page.get(f"{root}.gap_in"), page.get(f"{root}.curve_in_lb_pairs")
    if not page.get(root):
        return None
    row = -shock
    if not np.all(np.isfinite(row)):
        row = -spring
        page.assume(f"{CORNER[name]} bump stop: taken to move as its spring does; the shock's mounts are not surveyed")
    if gap is None or not points or not np.all(np.isfinite(row)):
        page.assume(f"{CORNER[name]} bump stop: left out, its gap, curve or mounts are not recorded")
        return None
    pairs = np.array(points if points[0][0] == 0 else [(0.0, 0.0), *points], float)
    try:
        return bump_stop(
            name=f"{CORNER[name]} bump stop", per_wheel=row, gap_in=gap, travel_in=pairs[:, 0], force_lb=pairs[:, 1]
        )
    except ValueError as error:
        path = f"{root}.curve_in_lb_pairs"
        raise FieldsUnfitError([FieldFault(path=path, detail=f"{path}: {error}")]) from error


def fitted_droop_limit(page: Document, name: WheelName) -> Stop | None:
    """Read a wheel's droop limit, or None where its travel is not recorded."""
    limit = f"setup.{END[name]}.{name}.droop_limit"
    travel = page.get(f"{limit}.travel_in")
    if travel is None:
        return None
    kind = page.get(f"{limit}.kind") or "droop limit"
    return droop_limit(name=f"{CORNER[name]} {kind}", wheel=name, travel_in=travel)
