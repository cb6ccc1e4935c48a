"""The front's joints as an answer: friction at the wheel, swing, and loads and stresses under stated forces."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.joints import (
    AgainstShock,
    Joint,
    JointFriction,
    JointsAnswer,
    JointsCorner,
    JointShare,
    TightJoints,
    WheelForces,
)
from studbook_service.engine import VERSION
from studbook_service.engine.dampers import FrictionCrossover, ShockCurves, friction_crossover
from studbook_service.engine.joints import (
    JOINTS,
    Friction,
    cycle_loss,
    dead_band,
    joint_rates,
    steering_torque,
    tightness,
    wheel_friction,
)
from studbook_service.engine.linkage import Pose, solve_travel
from studbook_service.engine.torques import load_torque
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import motion
from studbook_service.translate import cautions
from studbook_service.translate.corner import shock_mount
from studbook_service.translate.document import Document, lack
from studbook_service.translate.front_end import front_end, refuse_open
from studbook_service.translate.joint_readings import Kind, about_the_stud, as_read, note_readings
from studbook_service.translate.shocks import fitted_shock
from studbook_service.translate.springs import front_wheel_rate
from studbook_service.translate.states import finite, rounded
from studbook_service.translate.stud_loads import Arm, ball_load, stress
from studbook_service.translate.swings import steering, swing
from studbook_service.translate.wheel_forces import loaded
from studbook_service.translate.words import CORNER

ARMS: Final[Mapping[str, Arm]] = {"upper_ball": "upper", "lower_ball": "lower"}
KINDS: Final[tuple[Kind, ...]] = ("breakaway", "running")
CYCLE_IN = np.linspace(-1.0, 1.0, 5)
"""Loss is told of an inch up and an inch down, a travel any corner has."""


def joints_answer(tree: Tree, *, origins: Mapping[str, Tree], asked: WheelForces) -> JointsAnswer:
    """Compute everything about a document's front joints.

    Args:
        tree: the setup document.
        origins: for each corner with an alignment reading, the document it was entered in.
        asked: the forces at the wheels, where, and the travels over which joints are swung.

    Returns:
        The answer; what could not be computed is in `missing`.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: nothing can be computed, and why.
    """
    front = front_end(tree, origins=origins)
    page, missing = front.page, list(front.missing)
    there = replace(front, travel=front.travel + asked.travel_in)
    pose = there.pose()
    refuse_open(there, pose, when="where it is asked about")
    if asked.tilt_over_spin == 1:
        page.assume("A joint is taken to resist tilting as it resists turning about its stud (factor 1)")
    note_readings(page, front.names)
    alone = {
        name: solve_travel(front.each[name], travel_in=travel)
        for name, travel in zip(front.names, there.travel, strict=True)
    }
    corners = _corners(page, pose, alone, asked, missing)
    for name, corner in corners.items():
        _carry(page, name, alone[name], asked, corner, missing)
    _rub(page, pose, corners, asked, missing)
    steered = steering(front)
    for name, corner in corners.items():
        _against_shock(page, name, alone[name], corner, missing)
        for joint, arm in ARMS.items():
            swung = swing(front, name, arm, alone[name], travels=asked, steered=steered, missing=missing)
            if swung is not None:
                corner.joints[joint].swing = swung
    return JointsAnswer(
        engine=VERSION,
        cautions=list(cautions.JOINTS),
        assumptions=page.assumed,
        missing=missing,
        bindings=_bindings(corners),
        tight_joints=_tight_joints(corners, asked),
        lf=corners.get("lf", UNSET),
        rf=corners.get("rf", UNSET),
    )


def _corners(
    page: Document, pose: Pose, alone: Mapping[str, Pose], asked: WheelForces, missing: list[Missing]
) -> dict[str, JointsCorner]:
    """Tell how fast the joints turn, the wheel rate, and what tight joints would cost; `pose` is of all corners."""
    wheel_rates = np.array([front_wheel_rate(page, name, each) for name, each in alone.items()])
    rates = joint_rates(pose)
    cost = tightness(
        pose,
        tight_in_lb=dict.fromkeys(ARMS, asked.tight_in_lb),
        free_in_lb=dict.fromkeys(ARMS, asked.free_in_lb),
        wheel_rate_lb_per_in=wheel_rates,
    )
    corners = {}
    for place, name in enumerate(alone):
        if not np.isfinite(wheel_rates[place]):
            spring, scales = f"front.{name}.spring", f"measured.scales.{name}_lb"
            wanted = [f"survey.{spring}.chassis_in", f"survey.{spring}.moving_in", f"setup.{spring}.rate_lb_per_in"]
            fields = [path for path in (*wanted, scales) if page.get(path) is None]
            lack(missing, "dead band", fields)
        corners[name] = JointsCorner(
            joints={
                joint: Joint(
                    turns_rad_per_in=rounded(rate.whole[place]),
                    spins_rad_per_in=rounded(rate.spin[place]),
                    tilts_rad_per_in=rounded(rate.tilt[place]),
                )
                for joint, rate in rates.items()
            },
            tight=TightJoints(
                tight_lb=rounded(cost.tight_lb[place]),
                free_lb=rounded(cost.free_lb[place]),
                tight_band_in=finite(float(cost.tight_band_in[place])),
                free_band_in=finite(float(cost.free_band_in[place])),
            ),
            wheel_rate_lb_per_in=finite(float(wheel_rates[place])),
        )
    return corners


def _carry(
    page: Document, name: str, pose: Pose, asked: WheelForces, corner: JointsCorner, missing: list[Missing]
) -> None:
    """Tell what the balls, tie rod and spring carry under the stated forces, and the stress in the studs."""
    page.lacking.clear()
    under = loaded(page, name, pose, asked)
    if under is None:
        lack(missing, "joint loads", list(page.lacking))
        return
    corner.load = under.told
    corner.tie_rod_lb, corner.spring_lb = rounded(under.loads.tie_rod_lb), rounded(under.loads.spring_lb)
    for joint, arm in ARMS.items():
        told = corner.joints[joint]
        told.load = ball_load(page, name, arm, pose, getattr(under.loads, f"{joint}_lb"))
        told.stud = stress(page, name, arm, told.load, missing) or UNSET
        fitted = f"setup.front.{name}.{arm}_stud"
        friction, ball = page.get(f"{fitted}.friction_ratio"), page.get(f"{fitted}.ball_diameter_in")
        if friction is None or ball is None:
            fields = [f"{fitted}.friction_ratio"] * (friction is None) + [f"{fitted}.ball_diameter_in"] * (ball is None)
            lack(missing, "joint friction, load part", fields)
            continue
        page.assume("Load part: seat pressure as the cosine of the angle from the load, the ball tilting (factor 4/pi)")
        torque = load_torque(friction_coefficient=friction, ball_radius_in=ball / 2, force_lb=told.load.size_lb)
        told.load_in_lb = rounded(torque)


def _rub(
    page: Document, pose: Pose, corners: Mapping[str, JointsCorner], asked: WheelForces, missing: list[Missing]
) -> None:
    """Tell what the joints' readings come to at the wheels and at the steer axes; `pose` is of all corners."""
    preload = {joint: np.zeros((len(KINDS), len(corners))) for joint in JOINTS}
    for place, (name, corner) in enumerate(corners.items()):
        for row, kind in enumerate(KINDS):
            _take(page, name, kind, corner, asked, preload, (row, place))
    load = {joint: np.array([_known(corner.joints[joint].load_in_lb) for corner in corners.values()]) for joint in ARMS}
    made = wheel_friction(pose, preload_in_lb=preload, load_in_lb=load, tilt_over_spin=asked.tilt_over_spin)
    lost = _cycle_loss(pose, {joint: torque[1] for joint, torque in preload.items()}, asked)
    balls = {joint: preload[joint][0] for joint in ARMS}
    turned = steering_torque(pose, torque_in_lb=balls, tilt_over_spin=asked.tilt_over_spin)
    for place, (name, corner) in enumerate(corners.items()):
        for row, kind in enumerate(KINDS):
            read = {joint for joint, told in corner.joints.items() if getattr(told, f"{kind}_in_lb") is not UNSET}
            if ARMS.keys() & read:
                setattr(corner, kind, _friction(made, (row, place), read))
            else:
                fields = [f"measured.front.{name}.{arm}_joint.{kind}_in_lb" for arm in ARMS.values()]
                lack(missing, f"joint friction, {kind}", fields)
        if corner.running is not UNSET:
            corner.cycle_loss_in_lb = finite(float(lost[place]))
        if corner.breakaway is not UNSET:
            corner.steering_in_lb = rounded(turned[place])
            if corner.wheel_rate_lb_per_in is not UNSET:
                friction = corner.breakaway.total_lb
                band = dead_band(friction_lb=friction, wheel_rate_lb_per_in=corner.wheel_rate_lb_per_in)
                corner.dead_band_in = rounded(band)


def _take(
    page: Document,
    name: str,
    kind: Kind,
    corner: JointsCorner,
    asked: WheelForces,
    preload: Mapping[str, Array],
    at: tuple[int, int],
) -> None:
    """Take one corner's readings of one kind: as read into the answer, about the stud into the engine's arrays."""
    read = as_read(page, name, kind)
    for joint, torque in read.items():
        setattr(corner.joints[joint], f"{kind}_in_lb", rounded(torque))
    for joint, torque in about_the_stud(page, name, read, asked.tilt_over_spin).items():
        preload[joint][at] = torque


def _known(value: float | UnsetType) -> float:
    return 0.0 if value is UNSET else value


def _friction(made: Friction, at: tuple[int, int], read: set[str]) -> JointFriction:
    shares = {
        joint: JointShare(preload_lb=rounded(share.preload_lb[at]), load_lb=rounded(share.load_lb[at[1]]))
        for joint, share in made.joints.items()
    }
    loaded_too = any(share.load_lb for share in shares.values())
    return JointFriction(
        title=made.title if loaded_too else "preload part only",
        total_lb=rounded(made.total_lb[at]),
        preload_lb=rounded(made.preload_lb[at]),
        load_lb=rounded(np.broadcast_to(made.load_lb, made.total_lb.shape)[at]),
        tie_rod_lb=rounded(made.tie_rod_lb[at]),
        by_joint={joint: share for joint, share in shares.items() if joint in read or share.load_lb},
    )


def _cycle_loss(pose: Pose, torques: Mapping[str, Array], asked: WheelForces) -> Array:
    sweep = solve_travel(pose.corner.expand(1), travel_in=pose.travel_in[:, None] + CYCLE_IN)
    each = {joint: torque[:, None] for joint, torque in torques.items()}
    made = wheel_friction(sweep, preload_in_lb=each, tilt_over_spin=asked.tilt_over_spin)
    return cycle_loss(travel_in=CYCLE_IN, friction_lb=made.preload_lb)


def _against_shock(page: Document, name: str, pose: Pose, corner: JointsCorner, missing: list[Missing]) -> None:
    """Hold the joints' friction, running where it was read, against the shock at its shaft."""
    made = corner.breakaway if corner.running is UNSET else corner.running
    if made is UNSET:
        return
    subject, held = f"{CORNER[name]} joints against the shock", shock_mount(page, name)
    damper = fitted_shock(page, f"setup.front.{name}.shock", subject=subject)
    if isinstance(damper, Missing):
        missing.append(damper)
        return
    if held is None:
        mounts = [f"survey.front.{name}.shock.{leaf}" for leaf in ("chassis_in", "moving_in", "sits_on")]
        lack(missing, subject, mounts)
        return
    at_shaft = made.total_lb / abs(float(motion(pose, held).ratio))
    inward = friction_crossover(damper, friction_lb=at_shaft, direction="compression")
    outward = friction_crossover(damper, friction_lb=at_shaft, direction="rebound")
    below = [_below(damper, each) for each in (inward, outward)]
    said = below[0] if below[0] == below[1] else f"{below[0]} in compression, {below[1]} in rebound"
    corner.against_shock = AgainstShock(
        friction_lb=rounded(at_shaft),
        text=f"{CORNER[name]} joints: {at_shaft:.1f} lb at the shock's shaft, more than the shock resists {said}",
        compression_below_in_per_s=finite(float(inward.speed_in_per_s)),
        rebound_below_in_per_s=finite(float(outward.speed_in_per_s)),
    )


def _below(damper: ShockCurves, crossing: FrictionCrossover) -> str:
    if crossing.below_first:
        return f"only below {damper.first_in_per_s:g} in/s, where it was not measured"
    if crossing.above_last:
        return "at every speed measured"
    return f"below {float(crossing.speed_in_per_s):.1f} in/s"


def _tight_joints(corners: Mapping[str, JointsCorner], asked: WheelForces) -> str:
    """Say what four tight ball joints cost: pounds at the wheel, and never more than that."""
    count = {1: "Two", 2: "Four"}[len(corners)]
    said = "; ".join(
        f"{CORNER[name]} {corner.tight.tight_lb:.1f} lb at the wheel against {corner.tight.free_lb:.1f}{_band(corner)}"
        for name, corner in corners.items()
    )
    return (
        f"{count} ball joints at {asked.tight_in_lb:g} in-lb against {count.lower()} at {asked.free_in_lb:g}: {said}."
        " That is the preload part; the suspension works with either, and load on the track adds its own part"
    )


def _band(corner: JointsCorner) -> str:
    tight, free = corner.tight.tight_band_in, corner.tight.free_band_in
    if tight is UNSET or free is UNSET:
        return ""
    return f", where it can rest in {tight:.2f} in of travel against {free:.3f}"


def _bindings(corners: Mapping[str, JointsCorner]) -> list[str]:
    """Name each joint that binds, the worst first; where none does, the nearest to it."""
    swings = [told.swing for corner in corners.values() for told in corner.joints.values() if told.swing is not UNSET]
    swings.sort(key=lambda each: each.margin_deg)
    return [each.text for each in swings if each.binds] or [each.text for each in swings[:1]]
