"""Engine arrays as answers: one pose, a curve, an axle. A value that does not exist is left out, never NaN."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.history.canonical import DECIMALS
from studbook.wire.answers import ForceRollCenter, FrontAxle, FrontState, HeaveCurve, Limit, RollCenter, TravelCurve
from studbook_service.engine import centers
from studbook_service.engine.corner import Mount
from studbook_service.engine.linkage import Pose, reach
from studbook_service.engine.reach import FAILED
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import Motion, WheelAlignment, motion, toe_in, wheel
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.front_end import FrontEnd
from studbook_service.translate.springs import fitted_spring, rate_at_wheel
from studbook_service.translate.words import CORNER

TOE_BASE_IN = 26.0
"""Toe in inches is over this length, near a tire's height (common practice, no source)."""

CURVE = (
    "camber_deg",
    "toe_deg",
    "caster_deg",
    "scrub_in",
    "trail_in",
    "camber_gain_deg_per_in",
    "bump_steer_deg_per_in",
)


@dataclass(frozen=True, kw_only=True)
class PoseReadings:
    """Everything that an answer needs of poses, computed once for a whole batch of them.

    Attributes:
        pose: solved poses, the corners on the last axis.
        at: their wheels.
        front, side: instant centers in both views.
        n_line_in: height at which each n-line crosses y = 0, over its patch.
        spring, shock: motion of each; NaN where not surveyed.
    """

    pose: Pose
    at: WheelAlignment
    front: centers.InstantCenter
    side: centers.InstantCenter
    n_line_in: Array
    spring: Motion
    shock: Motion


def pose_readings(pose: Pose, *, shocks: Mount) -> PoseReadings:
    """Compute what an answer needs of a batch of poses, the corners on the last axis."""
    at = wheel(pose)
    return PoseReadings(
        pose=pose,
        at=at,
        front=centers.instant_center(pose, at, view="front"),
        side=centers.instant_center(pose, at, view="side"),
        n_line_in=centers.n_line_height(at),
        spring=motion(pose),
        shock=motion(pose, shocks),
    )


def front_states(front: FrontEnd, batch: PoseReadings, *row: int) -> dict[str, FrontState]:
    """Describe each corner at one pose of a batch.

    Returns:
        A state for each corner that closed.
    """
    shape = batch.pose.closed.shape
    return {
        name: _state(front.reader, name, batch, shape, (*row, place))
        for place, name in enumerate(front.names)
        if batch.pose.closed[(*row, place)]
    }


def _state(
    reader: DocumentReader, name: str, batch: PoseReadings, shape: tuple[int, ...], index: tuple[int, ...]
) -> FrontState:
    def one(array: Array) -> float:
        return float(np.broadcast_to(array, shape)[index])

    at, spring = batch.at, batch.spring
    toe, bump = one(at.toe_deg), one(at.bump_steer_deg_per_in)
    return FrontState(
        travel_in=rounded(one(batch.pose.travel_in)),
        **{figure: rounded(one(getattr(at, figure))) for figure in (*CURVE, "kingpin_deg")},
        toe_in=rounded(toe_in(toe_deg=toe, diameter_in=TOE_BASE_IN)),
        bump_steer_in_per_in=rounded(toe_in(toe_deg=bump, diameter_in=TOE_BASE_IN)),
        line_at_center_in=rounded(one(batch.n_line_in)),
        patch_in=[rounded(one(each)) for each in at.patch],
        swing_arm_in=finite(one(batch.front.swing_arm_in)),
        instant_center_in=_pair(one(batch.front.across_in), one(batch.front.height_in)),
        side_center_in=_pair(one(batch.side.across_in), one(batch.side.height_in)),
        motion_ratio=finite(one(spring.ratio)),
        shock_motion_ratio=finite(one(batch.shock.ratio)),
        spring_length_in=finite(one(spring.length_in)),
        wheel_rate_lb_per_in=finite(_wheel_rate(reader, name, one(spring.ratio), one(spring.ratio_rate_per_in))),
        anti_dive_percent=finite(_anti_dive(reader, name, at.take(index))),
    )


def travel_curve(heaves: Array, at: WheelAlignment, closed: Array, index: tuple[int, ...]) -> TravelCurve:
    """Write one corner's columns over travel, leaving out what the linkage cannot reach.

    Args:
        heaves: travels from where the wheel stands, in, (travels,).
        at: the wheel over (..., travels).
        closed: the same axes.
        index: which corner, of the axes before the last.
    """
    kept = closed[index]
    over = {name: columns(np.broadcast_to(getattr(at, name), closed.shape)[index][kept]) for name in CURVE}
    return TravelCurve(travel_in=columns(heaves[kept]), **over)


def front_axle(front: FrontEnd, batch: PoseReadings, *row: int) -> FrontAxle | None:
    """Put both corners of one pose together: roll centers by both definitions, and each n-line at y = 0.

    Args:
        front: whose corners; without both there is no axle.
        batch: the poses.
        row: which of them.

    Returns:
        The axle, or None where a corner is missing or open.
    """
    if len(front.names) < 2 or not batch.pose.closed[row].all():
        return None
    left, right = (batch.at.take((*row, place)) for place in (0, 1))
    shares, at_y, source = _side_force(front.reader, float(left.patch[1]), float(right.patch[1]))
    force = centers.force_roll_center(left=left, right=right, left_share=shares[0], right_share=shares[1], y_in=at_y)
    return FrontAxle(
        roll_center=roll_center(centers.roll_center(left=left, right=right)),
        force_roll_center=ForceRollCenter(
            height_in=rounded(force),
            at_y_in=rounded(at_y),
            left_share_percent=rounded(100 * shares[0] / sum(shares)),
            shares_from=source,
        ),
        left_line_at_center_in=rounded(centers.n_line_height(left)),
        right_line_at_center_in=rounded(centers.n_line_height(right)),
    )


def roll_center(found: centers.RollCenterPoint, *row: int) -> RollCenter:
    """Describe one kinematic roll center of a batch, or say why there is none."""
    determinant = float(found.determinant[row])
    if not bool(found.exists[row]):
        why = f"the n-lines are parallel: their slopes differ by {determinant:.1e}"
        return RollCenter(determinant=determinant, none_because=why)
    return RollCenter(determinant=determinant, y_in=rounded(found.y_in[row]), height_in=rounded(found.height_in[row]))


def heave_curve(heaves: Array, at: WheelAlignment) -> HeaveCurve:
    """Write the roll center over equal travel of both wheels; heaves where there is none are left out."""
    left, right = (at.take((place,)) for place in (0, 1))
    found = centers.roll_center(left=left, right=right)
    kept = np.isfinite(found.y_in) & np.isfinite(found.height_in)
    return HeaveCurve(
        heave_in=columns(heaves[kept]), y_in=columns(found.y_in[kept]), height_in=columns(found.height_in[kept])
    )


def limits(front: FrontEnd, pose: Pose, sweep: Pose, *, low_in: float, high_in: float) -> list[Limit]:
    """List where each corner's linkage runs out, if that is within the requested travels from where it stands.

    Args:
        front: whose corners they are.
        pose: where they stand.
        sweep: the same corners over those travels.
        low_in: lowest travel requested.
        high_in: highest.
    """
    if sweep.closed.all():
        return []
    span = reach(pose.corner)
    found = []
    for place, name in enumerate(front.names):
        rest = float(front.travel[place])
        low, high = float(span.lowest_in[place]), float(span.highest_in[place])
        ends: tuple[tuple[Literal["droop", "bump"], float, Array, bool], ...] = (
            ("droop", low, span.lowest_failed, low > rest + low_in),
            ("bump", high, span.highest_failed, high < rest + high_in),
        )
        found += [
            Limit(corner=CORNER[name], direction=direction, travel_in=rounded(end), ran_out=FAILED[int(failed[place])])
            for direction, end, failed, short in ends
            if short and math.isfinite(end)
        ]
    return found


def rounded(value: Any) -> float:
    """Round a figure to the book's six decimals, never to a negative zero."""
    return round(float(value), DECIMALS) + 0.0


def finite(value: float) -> float | UnsetType:
    """Round a figure, or leave it out where there is none."""
    return rounded(value) if math.isfinite(value) else UNSET


def figures(found: object, names: Iterable[str], *index: int) -> dict[str, Any]:
    """Round some figures of the engine's, by their names, at one place of their batch.

    Example:
        >>> figures(np.array([1.5, 2.5]), ["real"], 1)
        {'real': 2.5}
    """
    return {name: rounded(np.asarray(getattr(found, name))[index]) for name in names}


def steps_between(low: float, high: float, step: float) -> Array:
    """List the places of a curve's axis, always with 0 among them.

    Example:
        >>> steps_between(-1, 0.5, 0.5).tolist()
        [-1.0, -0.5, 0.0, 0.5]
    """
    below = np.arange(0.0, -low + 1e-9, step)[1:]
    return np.concatenate([-below[::-1], np.arange(0.0, high + 1e-9, step)])


def columns(array: Array) -> list[float]:
    """Round a column the same way."""
    values: list[float] = (np.round(array, DECIMALS) + 0.0).tolist()
    return values


def _pair(first: float, second: float) -> list[float] | UnsetType:
    return [rounded(first), rounded(second)] if math.isfinite(first + second) else UNSET


def _wheel_rate(reader: DocumentReader, name: str, ratio: float, ratio_rate: float) -> float:
    """Spring rate at the wheel; NaN where rate, free or installed length is not recorded."""
    fitted = fitted_spring(reader, f"setup.front.{name}.spring")
    if fitted is None:
        return np.nan
    moving = Motion(length_in=np.array(np.nan), ratio=np.array(ratio), ratio_rate_per_in=np.array(ratio_rate))
    return rate_at_wheel(moving, fitted.rate_lb_per_in, fitted.force_lb)


def _anti_dive(reader: DocumentReader, name: str, at: WheelAlignment) -> float:
    base = wheelbase(reader, "left" if name == "lf" else "right")
    percent = centers.anti_dive_percent(
        at,
        front_brake_share=reader.number("setup.brakes.front_share_percent") / 100,
        wheelbase_in=np.nan if base is None else base,
        cg_height_in=reader.number("setup.cg.height_in"),
    )
    return float(percent)


def wheelbase(reader: DocumentReader, side: str) -> float | None:
    """Give a side's wheelbase as last measured, else as surveyed."""
    value: float | None = reader.get(f"measured.wheelbase.{side}_in") or reader.get(f"survey.wheelbase.{side}_in")
    return value


def _side_force(reader: DocumentReader, y_left: float, y_right: float) -> tuple[tuple[float, float], float, str]:
    """Share the side force as the scales share the load, at the c.g.'s y where all four weights are known."""
    loads = {name: reader.get(f"measured.scales.{name}_lb") for name in ("lf", "rf", "lr", "rr")}
    if loads["lf"] is None or loads["rf"] is None:
        return (1.0, 1.0), 0.0, "equal shares: this document has no scale readings of the front; taken at y = 0"
    shares = float(loads["lf"]), float(loads["rf"])
    rear = [reader.get(f"survey.rear.{name}.wheel_center_in") for name in ("lr", "rr")]
    if loads["lr"] is None or loads["rr"] is None or None in rear:
        return shares, 0.0, "in proportion to the scales; taken at y = 0: where the c.g. is across the car is not known"
    places = [y_left, y_right, rear[0][1], rear[1][1]]
    weights = [float(loads[name]) for name in ("lf", "rf", "lr", "rr")]
    across = sum(w * y for w, y in zip(weights, places, strict=True)) / sum(weights)
    return shares, across, "in proportion to the scales; taken where the c.g. is across the car, from the scales"
