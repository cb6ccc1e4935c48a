"""What acts across an axle, or one way only: anti-roll bars, bump stops, droop limits."""

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.wire.answers import Missing
from studbook.wire.damping import BarAnswer
from studbook.wire.problem import FieldFault
from studbook_service.engine.bars import BarRate, bar_rate, preload_travel, torsion_rate
from studbook_service.engine.one_sided import AntiRollBar, AxleName, Stop, WheelName, bar, bump_stop, droop_limit
from studbook_service.engine.vectors import Array
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.errors import FieldsUnfit
from studbook_service.translate.states import rounded
from studbook_service.translate.words import CORNER

END: Final[Mapping[str, AxleName]] = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}


SIZES = ("outer_diameter_in", "active_length_in", "arm_left_in", "arm_right_in")


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


def fitted_bar(reader: DocumentReader, axle: AxleName) -> FittedBar | None:
    """Read an axle's anti-roll bar, or None where there is none, or its rate is not known.

    Raises:
        FieldsUnfit: a tube whose bore is not below its outer diameter.
    """
    root = f"setup.{axle}.bar"
    if not reader.get(root):
        return None
    rate = reader.get(f"{root}.rate_lb_per_in")
    if rate is None:
        rate = _bar_rate(reader, root)
    if rate is None:
        reader.assume(f"{axle} bar: left out, neither its rate nor its size, arms and motion ratio are recorded")
        return None
    hooked = reader.get(f"{root}.hooked") is not False
    scaled = reader.get("measured.basis.bar_hooked")
    if scaled is None:
        reader.assume(f"{axle} bar: taken as {'linked' if hooked else 'unlinked'} on the scales; it is not recorded")
    slack = reader.get(f"{root}.slack_in") or 0.0
    return FittedBar(axle, rate, _preload(reader, axle, slack), slack, hooked, hooked if scaled is None else scaled)


def bar_answer(reader: DocumentReader, axle: AxleName, missing: list[Missing]) -> BarAnswer | UnsetType:
    """Describe an axle's anti-roll bar as entered and by its dimensions, or nothing where none is entered."""
    root, subject = f"setup.{axle}.bar", f"{axle} bar's rate by its dimensions"
    entered = reader.get(root)
    if not entered:
        return UNSET
    answer = BarAnswer(**{leaf: entered.get(leaf, UNSET) for leaf in ("rate_lb_per_in", "slack_in", "hooked")})
    lacking = reader.unrecorded(*(f"{root}.{size}" for size in SIZES))
    if lacking:
        missing.append(Missing(subject=subject, fields=lacking))
        return answer
    try:
        made = _by_dimensions(reader, root, ratio=1.0)
    except FieldsUnfit as error:
        missing.append(Missing(subject=subject, fields=[root], why=str(error.__cause__)))
        return answer
    reader.assume(
        f"The {axle} bar's rate by its dimensions is that of steel, at the arms' ends, arms stiff; at the wheels it is"
        " less by the square of how far an end moves per inch of wheel"
    )
    answer.twist_in_lb_per_rad = rounded(made.twist_in_lb_per_rad)
    answer.left_end_lb_per_in, answer.right_end_lb_per_in = rounded(made.left_lb_per_in), rounded(made.right_lb_per_in)
    return answer


def _bar_rate(reader: DocumentReader, root: str) -> float | None:
    ratio = reader.get(f"{root}.motion_ratio")
    if ratio is None or reader.unrecorded(*(f"{root}.{size}" for size in SIZES)):
        return None
    rate = _by_dimensions(reader, root, ratio=ratio)
    reader.assume(f"{root}: its rate is that of a steel bar of its size, its arms and links taken as rigid")
    return float(rate.left_lb_per_in + rate.right_lb_per_in) / 2


def _by_dimensions(reader: DocumentReader, root: str, *, ratio: float) -> BarRate:
    outer, length, left, right = (reader.get(f"{root}.{size}") for size in SIZES)
    inner = reader.get(f"{root}.inner_diameter_in") or 0.0
    try:
        torsion = torsion_rate(outer_diameter_in=outer, length_in=length, inner_diameter_in=inner)
    except ValueError as error:
        path = f"{root}.inner_diameter_in"
        raise FieldsUnfit([FieldFault(path=path, detail=f"{path}: {error}", value=inner)]) from error
    return bar_rate(
        torsion_in_lb_per_rad=torsion, arm_left_in=left, arm_right_in=right, ratio_left=ratio, ratio_right=ratio
    )


def _preload(reader: DocumentReader, axle: AxleName, slack: float) -> float:
    root = f"setup.{axle}.bar"
    turns, side = reader.get(f"{root}.preload_turns"), reader.get(f"{root}.preload_side")
    if not turns:
        return 0.0
    pitch, ratio = reader.get(f"{root}.in_per_turn"), reader.get(f"{root}.motion_ratio")
    if slack or side is None or pitch is None or ratio is None:
        why = "a bar with slack has none" if slack else "its side, in_per_turn or motion_ratio is not recorded"
        reader.assume(f"{axle} bar: its preload is left out: {why}")
        return 0.0
    moved = float(preload_travel(turns=turns, pitch_in=pitch, ratio=ratio))
    return moved if side == "left" else -moved


def engine_bar(fitted: FittedBar) -> AntiRollBar:
    """Give the engine's bar; its preload is in the forces that a change of it makes."""
    return bar(axle=fitted.axle, rate_lb_per_in=fitted.rate_lb_per_in, slack_in=fitted.slack_in)


def fitted_bump_stop(reader: DocumentReader, name: WheelName, *, shock: Array, spring: Array) -> Stop | None:
    """Read a bump stop on the shaft of its shock, or None where there is none, or its gap or curve is not recorded.

    `shock` and `spring` are d(length) of each per inch of travel of each wheel, (4,), NaN where not known; the spring's
    is used where the shock's is not known.

    Raises:
        FieldsUnfit: a curve that is not single-valued, or falls.
    """
    root = f"setup.{END[name]}.{name}.bump_stop"
    gap, points = reader.get(f"{root}.gap_in"), reader.get(f"{root}.curve_in_lb_pairs")
    if not reader.get(root):
        return None
    row = -shock
    if not np.all(np.isfinite(row)):
        row = -spring
        reader.assume(f"{CORNER[name]} bump stop: taken to move with its spring; the shock's mounts are not surveyed")
    if gap is None or not points or not np.all(np.isfinite(row)):
        reader.assume(f"{CORNER[name]} bump stop: left out, its gap, curve or mounts are not recorded")
        return None
    pairs = np.array(points if points[0][0] == 0 else [(0.0, 0.0), *points], float)
    try:
        return bump_stop(
            name=f"{CORNER[name]} bump stop", per_wheel=row, gap_in=gap, travel_in=pairs[:, 0], force_lb=pairs[:, 1]
        )
    except ValueError as error:
        path = f"{root}.curve_in_lb_pairs"
        raise FieldsUnfit([FieldFault(path=path, detail=f"{path}: {error}")]) from error


def fitted_droop_limit(reader: DocumentReader, name: WheelName) -> Stop | None:
    """Read a wheel's droop limit, or None where its travel is not recorded."""
    limit = f"setup.{END[name]}.{name}.droop_limit"
    travel = reader.get(f"{limit}.travel_in")
    if travel is None:
        return None
    kind = reader.get(f"{limit}.kind") or "droop limit"
    return droop_limit(name=f"{CORNER[name]} {kind}", wheel=name, travel_in=travel)
