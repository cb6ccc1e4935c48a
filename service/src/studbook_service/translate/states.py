"""Engine arrays as answers: one pose, a curve, an axle. A value that does not exist is left out, never NaN."""

import math
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
from studbook_service.translate.document import Document
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
class Stands:
    """Everything that is told of poses, computed once for a whole batch of them.

    Attributes:
        pose: solved poses, the corners on the last axis.
        at: their wheels.
        front, side: instant centers in both views.
        line: height at which each n-line crosses y = 0, over its patch.
        spring, shock: motion of each; NaN where not surveyed.
    """

    pose: Pose
    at: WheelAlignment
    front: centers.InstantCenter
    side: centers.InstantCenter
    line: Array
    spring: Motion
    shock: Motion


def stands(pose: Pose, *, shocks: Mount) -> Stands:
    """Compute what is told of a batch of poses.

    Args:
        pose: any batch with the corners on its last axis.
        shocks: the shocks' mounts over the corners.
    """
    at = wheel(pose)
    return Stands(
        pose=pose,
        at=at,
        front=centers.instant_center(pose, at, view="front"),
        side=centers.instant_center(pose, at, view="side"),
        line=centers.n_line_height(at),
        spring=motion(pose),
        shock=motion(pose, shocks),
    )


def front_states(front: FrontEnd, batch: Stands, *row: int) -> dict[str, FrontState]:
    """Describe each corner at one pose of a batch.

    Args:
        front: whose corners they are; its document gives spring rate, brake share, wheelbase and cg height.
        batch: the poses.
        row: which of them, where the batch has axes before that of the corners.

    Returns:
        A state for each corner that closed.
    """
    shape = batch.pose.closed.shape
    return {
        name: _state(front.page, name, batch, shape, (*row, place))
        for place, name in enumerate(front.names)
        if batch.pose.closed[(*row, place)]
    }


def _state(page: Document, name: str, batch: Stands, shape: tuple[int, ...], index: tuple[int, ...]) -> FrontState:
    def one(array: Array) -> float:
        return float(np.broadcast_to(array, shape)[index])

    at, spring = batch.at, batch.spring
    toe, bump = one(at.toe_deg), one(at.bump_steer_deg_per_in)
    return FrontState(
        travel_in=rounded(one(batch.pose.travel_in)),
        camber_deg=rounded(one(at.camber_deg)),
        toe_deg=rounded(toe),
        toe_in=rounded(toe_in(toe_deg=toe, diameter_in=TOE_BASE_IN)),
        caster_deg=rounded(one(at.caster_deg)),
        kingpin_deg=rounded(one(at.kingpin_deg)),
        scrub_in=rounded(one(at.scrub_in)),
        trail_in=rounded(one(at.trail_in)),
        camber_gain_deg_per_in=rounded(one(at.camber_gain_deg_per_in)),
        bump_steer_deg_per_in=rounded(bump),
        bump_steer_in_per_in=rounded(toe_in(toe_deg=bump, diameter_in=TOE_BASE_IN)),
        line_at_center_in=rounded(one(batch.line)),
        patch_in=[rounded(one(each)) for each in at.patch],
        swing_arm_in=finite(one(batch.front.swing_arm_in)),
        instant_center_in=_pair(one(batch.front.across_in), one(batch.front.height_in)),
        side_center_in=_pair(one(batch.side.across_in), one(batch.side.height_in)),
        motion_ratio=finite(one(spring.ratio)),
        shock_motion_ratio=finite(one(batch.shock.ratio)),
        spring_length_in=finite(one(spring.length_in)),
        wheel_rate_lb_per_in=finite(_wheel_rate(page, name, one(spring.ratio), one(spring.ratio_rate_per_in))),
        anti_dive_percent=finite(_anti_dive(page, name, at.take(index))),
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


def front_axle(front: FrontEnd, batch: Stands, *row: int) -> FrontAxle | None:
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
    shares, at_y, said = _side_force(front.page, float(left.patch[1]), float(right.patch[1]))
    force = centers.force_roll_center(left=left, right=right, left_share=shares[0], right_share=shares[1], y_in=at_y)
    return FrontAxle(
        roll_center=roll_center(centers.roll_center(left=left, right=right)),
        force_roll_center=ForceRollCenter(
            height_in=rounded(force),
            at_y_in=rounded(at_y),
            left_share_percent=rounded(100 * shares[0] / sum(shares)),
            shares_from=said,
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
    """Say where each corner's linkage runs out, if that is within the travels asked for (from where it stands).

    Args:
        front: whose corners they are.
        pose: where they stand.
        sweep: the same corners over those travels.
        low_in: lowest travel asked for.
        high_in: highest.
    """
    if sweep.closed.all():
        return []
    span = reach(pose.corner)
    found = []
    for place, name in enumerate(front.names):
        stood = float(front.travel[place])
        ends: tuple[tuple[Literal["droop", "bump"], float, int, bool], ...] = (
            (
                "droop",
                float(span.lowest_in[place]),
                int(span.lowest_failed[place]),
                span.lowest_in[place] > stood + low_in,
            ),
            (
                "bump",
                float(span.highest_in[place]),
                int(span.highest_failed[place]),
                span.highest_in[place] < stood + high_in,
            ),
        )
        found += [
            Limit(corner=CORNER[name], direction=direction, travel_in=rounded(end), ran_out=FAILED[code])
            for direction, end, code, short in ends
            if short and math.isfinite(end)
        ]
    return found


def rounded(value: Any) -> float:
    """Round a figure to the book's six decimals, never to a negative zero."""
    return round(float(value), DECIMALS) + 0.0


def finite(value: float) -> float | UnsetType:
    """Round a figure, or leave it out where there is none."""
    return rounded(value) if math.isfinite(value) else UNSET


def columns(array: Array) -> list[float]:
    """Round a column the same way."""
    values: list[float] = (np.round(array, DECIMALS) + 0.0).tolist()
    return values


def _pair(first: float, second: float) -> list[float] | UnsetType:
    return [rounded(first), rounded(second)] if math.isfinite(first + second) else UNSET


def _wheel_rate(page: Document, name: str, ratio: float, ratio_rate: float) -> float:
    """Spring rate at the wheel; NaN where rate, free or installed length is not recorded."""
    fitted = fitted_spring(page, f"setup.front.{name}.spring")
    if fitted is None:
        return np.nan
    moving = Motion(length_in=np.array(np.nan), ratio=np.array(ratio), ratio_rate_per_in=np.array(ratio_rate))
    return rate_at_wheel(moving, fitted.rate_lb_per_in, fitted.force_lb)


def _anti_dive(page: Document, name: str, at: WheelAlignment) -> float:
    base = wheelbase(page, "left" if name == "lf" else "right")
    percent = centers.anti_dive_percent(
        at,
        front_brake_share=_number(page, "setup.brakes.front_share_percent") / 100,
        wheelbase_in=np.nan if base is None else base,
        cg_height_in=_number(page, "setup.cg.height_in"),
    )
    return float(percent)


def wheelbase(page: Document, side: str) -> float | None:
    """Give a side's wheelbase as last measured, else as surveyed."""
    value: float | None = page.get(f"measured.wheelbase.{side}_in") or page.get(f"survey.wheelbase.{side}_in")
    return value


def _number(page: Document, path: str) -> float:
    value = page.get(path)
    return np.nan if value is None else float(value)


def _side_force(page: Document, y_left: float, y_right: float) -> tuple[tuple[float, float], float, str]:
    """Share the side force as the scales share the load, at the c.g.'s y where all four weights are known."""
    loads = {name: page.get(f"measured.scales.{name}_lb") for name in ("lf", "rf", "lr", "rr")}
    if loads["lf"] is None or loads["rf"] is None:
        return (1.0, 1.0), 0.0, "equal shares: the front is not on the scales in this document; taken at y = 0"
    shares = float(loads["lf"]), float(loads["rf"])
    rear = [page.get(f"survey.rear.{name}.wheel_center_in") for name in ("lr", "rr")]
    if loads["lr"] is None or loads["rr"] is None or None in rear:
        return shares, 0.0, "in proportion to the scales; taken at y = 0, the c.g.'s place across is not known"
    places = [y_left, y_right, rear[0][1], rear[1][1]]
    weights = [float(loads[name]) for name in ("lf", "rf", "lr", "rr")]
    across = sum(w * y for w, y in zip(weights, places, strict=True)) / sum(weights)
    return shares, across, "in proportion to the scales; taken at the c.g.'s place across, from the scales"
