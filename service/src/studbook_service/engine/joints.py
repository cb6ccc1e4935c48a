"""The friction of a front corner's joints, at the wheel and at the steer axis.

A joint that resists with torque τ while its two bodies turn against each other at ω rad per inch of wheel travel holds
the wheel with τ ω pounds (virtual work). Breakaway torques give the dead band, running torques the loss round a cycle;
a call takes one kind or the other, never a mixture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.bounds import bounded, one_of
from studbook_service.engine.linkage import Pose, reclosed
from studbook_service.engine.swing import stud_axis
from studbook_service.engine.torques import turning_torque
from studbook_service.engine.vectors import Array, cross, dot, lift, numbers, root, unit

if TYPE_CHECKING:
    from collections.abc import Mapping

BALLS = ("upper_ball", "lower_ball")
PIVOTS = ("upper_pivot", "lower_pivot")
TIE_ROD_ENDS = ("tie_inner", "tie_outer")
JOINTS = (*BALLS, *PIVOTS, *TIE_ROD_ENDS)


class Turning(NamedTuple):
    """How fast the two bodies of a joint turn against each other, rad per in of wheel travel, (*batch).

    Attributes:
        whole: the whole relative rate.
        spin: its part about the stud, a pivot's axis or the tie rod.
        tilt: the rest, square to that.
    """

    whole: Array
    spin: Array
    tilt: Array

    def weighed(self, tilt_over_spin: Array) -> Array:
        """The rate with the tilt counted `tilt_over_spin` times, the two combined as square to each other."""
        weighed: Array = np.hypot(self.spin, tilt_over_spin * self.tilt)
        return weighed


def joint_rates(pose: Pose) -> dict[str, Turning]:
    """Relative rates of all joints of a corner per inch of wheel travel, steering locked.

    Args:
        pose: any batch.

    Returns:
        By name of `JOINTS`: balls arm against spindle, pivots arm against chassis, ends of the tie rod against chassis
        and spindle. Spin about the rod's own line, which its two ends leave free, is left out at both.

    Source: rigid-body kinematics.

    >>> from studbook_service.engine.examples import POSE
    >>> rates = joint_rates(POSE)
    >>> round(float(rates["upper_ball"].whole), 4), round(float(rates["lower_ball"].whole), 4)
    (0.0758, 0.0297)
    """
    with np.errstate(all="ignore"):
        parts, _ = reclosed(pose, pose.angle_rad)
        upper = _turn(pose.upper_ball - parts.upper.center, pose.velocity(pose.upper_ball))
        lower = _turn(pose.lower_ball - parts.lower.center, pose.lower_ball_rate)
        line = pose.tie_outer - lift(pose.tie_inner, pose.tie_outer.ndim - 1)
        along, rod = unit(line), _turn(line, pose.velocity(pose.tie_outer))
        against = rod - pose.turn
        return {
            "upper_ball": _about(upper - pose.turn, stud_axis(pose, joint="upper")),
            "lower_ball": _about(lower - pose.turn, stud_axis(pose, joint="lower")),
            "upper_pivot": _about(upper, unit(upper)),
            "lower_pivot": _about(lower, unit(lower)),
            "tie_inner": _about(rod, along),
            "tie_outer": _about(against - dot(against, along) * along, along),
        }


def _turn(arm: Array, velocity: Array) -> Array:
    """Angular velocity of an arm whose end moves square to it."""
    result: Array = cross(arm, velocity) / dot(arm, arm)
    return result


def _about(rate: Array, axis: Array) -> Turning:
    square = dot(rate, rate)
    spin = np.abs(dot(rate, axis))
    return Turning(root(square), spin, np.sqrt(np.maximum(square - spin**2, 0)))


class FrictionShare(NamedTuple):
    """What one joint adds at the wheel, lb, (*batch), from its preload and from its load."""

    preload_lb: Array
    load_lb: Array


@dataclass(frozen=True, eq=False, kw_only=True)
class Friction:
    """Friction of a corner's joints as a force at the wheel, never negative, (*batch).

    Attributes:
        joints: what each named joint adds.
        preload_lb: balls and pivots, the part that preload makes.
        load_lb: balls and pivots, the part that load makes; 0 where none was given.
        tie_rod_lb: ends of the tie rod, both parts; kept out of the others.
        title: "preload part only" or "preload and load parts".
    """

    joints: dict[str, FrictionShare]
    preload_lb: Array
    load_lb: Array
    tie_rod_lb: Array
    title: str

    @property
    def total_lb(self) -> Array:
        """Balls and pivots, both parts, without the tie rod's ends."""
        return self.preload_lb + self.load_lb


def wheel_friction(
    pose: Pose,
    *,
    preload_in_lb: Mapping[str, npt.ArrayLike],
    load_in_lb: Mapping[str, npt.ArrayLike] | None = None,
    tilt_over_spin: npt.ArrayLike = 1.0,
) -> Friction:
    """Force at the wheel by which the named joints of a corner resist travel, F = Σ τ |ω|.

    Spin and tilt of a ball are combined as τ √(s² + (f t)²), f the factor; with f = 1 that is τ times the whole rate.

    Args:
        pose: any batch.
        preload_in_lb: torque about the stud of each joint named, of a pivot per arm; *all* breakaway or *all* running.
        load_in_lb: torque that load adds at each joint named, see `torques.load_torque`.
        tilt_over_spin: torque swung over torque about the stud; 1, an assumption, unless measured.

    Raises:
        ValueError: a joint of another name, a torque below 0, a preload above 300 in·lb, a factor not above 0.

    Source: virtual work; shares of upper and lower ball agree with an independent solver in tests/engine.

    >>> from studbook_service.engine.examples import POSE
    >>> made = wheel_friction(POSE, preload_in_lb={"upper_ball": 50, "lower_ball": 50})
    >>> round(float(made.total_lb), 1), made.title
    (5.3, 'preload part only')
    """
    factor = bounded("tilt_over_spin", tilt_over_spin, unit="in lb per in lb", above=0)
    loads = load_in_lb or {}
    rates = {name: turning.weighed(factor) for name, turning in joint_rates(pose).items()}
    for name in (*preload_in_lb, *loads):
        one_of("a joint", name, JOINTS)
    nothing = np.zeros(()) * pose.climb_in_per_rad  # NaN where the pose does not close
    joints = {}
    for name in JOINTS:
        if name not in preload_in_lb and name not in loads:
            continue
        preload = turning_torque(f"preload_in_lb {name}", preload_in_lb.get(name, 0.0))
        load = bounded(f"load_in_lb {name}", loads.get(name, 0.0), unit="in lb", least=0, holes=True)
        joints[name] = FrictionShare(preload * rates[name], load * rates[name])
    arms = [share for name, share in joints.items() if name not in TIE_ROD_ENDS]
    ends = [share for name, share in joints.items() if name in TIE_ROD_ENDS]
    return Friction(
        joints=joints,
        preload_lb=sum((share.preload_lb for share in arms), nothing),
        load_lb=sum((share.load_lb for share in arms), nothing),
        tie_rod_lb=sum((share.preload_lb + share.load_lb for share in ends), nothing),
        title="preload part only" if load_in_lb is None else "preload and load parts",
    )


def dead_band(*, friction_lb: npt.ArrayLike, wheel_rate_lb_per_in: npt.ArrayLike) -> Array:
    """Full width of the band of travel in which the wheel can rest, 2F / rate, in, (*batch).

    Args:
        friction_lb: at the wheel, of *breakaway* torques.
        wheel_rate_lb_per_in: without the tire.

    Raises:
        ValueError: a rate not above 0.

    Source: the spring must change by F each way before the joints turn.

    >>> round(float(dead_band(friction_lb=5.3, wheel_rate_lb_per_in=177)), 2)
    0.06
    """
    rate = bounded("wheel_rate_lb_per_in", wheel_rate_lb_per_in, unit="lb per in", above=0, holes=True)
    result: Array = 2 * numbers(friction_lb) / rate
    return result


def cycle_loss(*, travel_in: npt.ArrayLike, friction_lb: npt.ArrayLike) -> Array:
    """Work lost when the wheel goes through travels and back: twice ∫F dz, in·lb, (*batch), by the trapezoid rule.

    Args:
        travel_in: rising travels, (T,).
        friction_lb: at the wheel at each, of *running* torques, (*batch, T).

    Raises:
        ValueError: fewer than two travels, or travels that do not rise.

    Source: area of the force–travel loop.

    >>> float(cycle_loss(travel_in=[-1, 0, 1], friction_lb=[5.0, 5.0, 5.0]))
    20.0
    """
    travel = bounded("travel_in", travel_in, unit="in")
    if travel.ndim != 1 or travel.size < 2 or not np.all(np.diff(travel) > 0):
        raise ValueError("travel_in must hold at least two travels, each above the one before it, in")
    return np.asarray(2 * np.trapezoid(numbers(friction_lb), travel, axis=-1))


def steering_torque(
    pose: Pose, *, torque_in_lb: Mapping[str, npt.ArrayLike], tilt_over_spin: npt.ArrayLike = 1.0
) -> Array:
    """Torque of both balls about the steer axis, in·lb, (*batch), steering at a held travel.

    Steering turns the spindle about the line of the balls against arms that hardly move: each ball turns 1 rad per rad,
    about its stud but for the stud's lean.

    Args:
        pose: any batch.
        torque_in_lb: about the stud, of "upper_ball" and "lower_ball"; one left out counts nothing.
        tilt_over_spin: torque swung over torque about the stud; 1 unless measured.

    Raises:
        ValueError: another joint, a torque below 0, a factor not above 0.

    Source: virtual work about the steer axis.

    >>> from studbook_service.engine.examples import POSE
    >>> round(float(steering_torque(POSE, torque_in_lb={"upper_ball": 7, "lower_ball": 48})), 6)
    55.0
    """
    factor = bounded("tilt_over_spin", tilt_over_spin, unit="in lb per in lb", above=0)
    with np.errstate(all="ignore"):
        steer_axis = unit(pose.upper_ball - pose.lower_ball)
    total = np.zeros(()) * pose.climb_in_per_rad
    for name, torque in torque_in_lb.items():
        one_of("a joint of torque_in_lb", name, BALLS)
        about = stud_axis(pose, joint="upper" if name == "upper_ball" else "lower")
        rate = _about(steer_axis, about).weighed(factor)
        total = total + bounded(f"torque_in_lb {name}", torque, unit="in lb", least=0) * rate
    return total


class Tightness(NamedTuple):
    """What tight joints cost against free ones, at each corner of a batch.

    Attributes:
        tight_lb, free_lb: friction at the wheel.
        tight_band_in, free_band_in: full width of the dead band.
    """

    tight_lb: Array
    free_lb: Array
    tight_band_in: Array
    free_band_in: Array


def tightness(
    pose: Pose,
    *,
    tight_in_lb: Mapping[str, npt.ArrayLike],
    free_in_lb: Mapping[str, npt.ArrayLike],
    wheel_rate_lb_per_in: npt.ArrayLike,
) -> Tightness:
    """Tight joints against free ones: preload part of friction and dead band, per corner.

    Four ball joints are two corners: stack left and right, each answers for itself.

    Args:
        pose: any batch.
        tight_in_lb: *breakaway* torque of each joint named, as in `wheel_friction`.
        free_in_lb: the same joints, as free as they go with no play.
        wheel_rate_lb_per_in: without the tire, (*batch).

    Raises:
        ValueError: as `wheel_friction` and `dead_band`.

    Source: virtual work.

    >>> from studbook_service.engine.examples import POSE
    >>> cost = tightness(POSE, tight_in_lb={"upper_ball": 50, "lower_ball": 50},
    ...     free_in_lb={"upper_ball": 5, "lower_ball": 5}, wheel_rate_lb_per_in=177.2)
    >>> [round(float(x), 3) for x in cost]
    [5.275, 0.527, 0.06, 0.006]
    """
    tight, free = (wheel_friction(pose, preload_in_lb=torques).preload_lb for torques in (tight_in_lb, free_in_lb))
    bands = (dead_band(friction_lb=force, wheel_rate_lb_per_in=wheel_rate_lb_per_in) for force in (tight, free))
    return Tightness(tight, free, *bands)
