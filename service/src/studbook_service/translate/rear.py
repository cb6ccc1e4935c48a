"""The rear axle of one revision as an answer: how its rods hold it, how it stands, and how it moves."""

import itertools
from collections.abc import Mapping
from typing import Literal

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing, Spread
from studbook.wire.rear import (
    BumpRolls,
    LateralBar,
    RearAnswer,
    RearLimit,
    RearMotionRatios,
    RearState,
    RearTable,
    RearWheelState,
    RodState,
)
from studbook_service.engine import VERSION, centers
from studbook_service.engine.axle_pose import AxlePose, solve_axle
from studbook_service.engine.axle_readings import AxleReadings, axle_readings
from studbook_service.engine.rear_axle import AxleLinkage
from studbook_service.engine.rear_centers import (
    RearWheel,
    RearWheels,
    anti_squat_percent,
    bar_crossing,
    rear_wheels,
    side_slope,
)
from studbook_service.engine.vectors import Array
from studbook_service.translate import cautions
from studbook_service.translate.document import REAR, DocumentReader, checked, mount_paths
from studbook_service.translate.errors import FieldsMissing, refuse_costly
from studbook_service.translate.rear_end import RearEnd, carried_on, rear_end, rear_mount
from studbook_service.translate.states import columns, figures, finite, roll_center, rounded, steps_between
from studbook_service.translate.words import CORNER

SURVEY_ERROR_IN = 1 / 16
LOOSE = 0.1
"""Below this grip an error of the survey is magnified more than tenfold."""

POSES_MOST = 2_000
"""In the table; they take some 0.15 s of the engine's thread."""

ENDS: tuple[Literal["chassis_in", "carrier_in"], ...] = ("chassis_in", "carrier_in")
PLANES: tuple[Literal["chassis", "axle"], ...] = ("chassis", "axle")


def rear_answer(tree: Tree, *, origins: Mapping[str, Tree], over: BumpRolls | None = None) -> RearAnswer:
    """Compute everything about a document's rear axle.

    `over` is which bumps and axle rolls the table covers; None for ride height alone, without table and spread.

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: nothing can be computed, and why.
        TooCostly: the table would have too many poses.
    """
    del origins
    reader = DocumentReader(tree=checked(tree))
    rear = rear_end(reader)
    if rear is None:
        raise FieldsMissing([Missing(subject="rear axle", fields=reader.lacking)])
    hold = rear.hold
    answer = RearAnswer(
        engine=VERSION,
        assumptions=reader.assumed,
        missing=_missing(reader),
        cautions=list(cautions.REAR),
        now=_state(rear, rear.pose()),
        grip_ratio=rounded(hold.grip),
        loosest=hold.loosest.words,
    )
    if hold.grip < LOOSE:
        reader.assume(
            f"the rods hold one motion loosely ({hold.loosest.words}): an error of the survey is magnified up to"
            f" {1 / hold.grip:.0f} times there"
        )
    if over is not None:
        answer.table, answer.limits = _table(rear, over)
        answer.spread = _spread(rear)
    return answer


def _state(rear: RearEnd, pose: AxlePose) -> RearState:
    at, wheels = axle_readings(pose), rear_wheels(pose, **rear.radii_in)
    return RearState(
        **figures(at, ("bump_in", "roll_deg", "lateral_shift_in")),
        axle_steer_deg=rounded(at.steer_deg),
        pinion_change_deg=rounded(at.pinion_deg),
        axle_steer_deg_per_deg=rounded(at.steer_per_roll_deg_per_deg),
        axle_steer_deg_per_in=rounded(at.steer_per_bump_deg_per_in),
        pinion_deg_per_deg=rounded(at.pinion_per_roll_deg_per_deg),
        pinion_deg_per_in=rounded(at.pinion_per_bump_deg_per_in),
        roll_center=roll_center(centers.roll_center(left=wheels.left, right=wheels.right)),
        lateral_bars=_lateral_bars(pose, wheels),
        rods={name: _rod(pose, name) for name in pose.axle.names},
        lr=_wheel(rear, pose, at, "lr", wheels.left),
        rr=_wheel(rear, pose, at, "rr", wheels.right),
    )


def _wheel(rear: RearEnd, pose: AxlePose, at: AxleReadings, name: str, wheel: RearWheel) -> RearWheelState:
    place, reader = REAR.index(name), rear.reader
    slope, base = side_slope(pose, wheel), float(at.wheelbase_in[place])
    state = RearWheelState(
        **figures(at, ("travel_in", "lead_change_in", "wheelbase_in"), place),
        camber_deg=rounded(wheel.camber_deg + rear.camber_deg[place]),
        toe_deg=rounded(wheel.toe_deg + rear.toe_deg[place]),
        squat_ratio=rounded(slope),
        spring=_motion(reader, pose, name, "spring"),
        shock=_motion(reader, pose, name, "shock"),
    )
    height = reader.get("setup.cg.height_in")
    if height is not None:
        state.anti_squat_percent = rounded(anti_squat_percent(slope, wheelbase_in=base, cg_height_in=height))
        state.anti_lift_percent = _anti_lift(reader, pose, name, wheel, wheelbase_in=base, cg_height_in=height)
    cage = carried_on("birdcage", name)
    if cage in pose.axle.cages:
        state.birdcage_indexing_deg = rounded(at.birdcage_indexing_deg[pose.axle.cages.index(cage)])
    return state


def _anti_lift(
    reader: DocumentReader, pose: AxlePose, name: str, wheel: RearWheel, *, wheelbase_in: float, cg_height_in: float
) -> float | UnsetType:
    """Give anti-lift in braking, by what carries the caliper; a brake floater is not modeled."""
    front, caliper = reader.get("setup.brakes.front_share_percent"), reader.get("setup.brakes.rear_caliper_on")
    on = carried_on(caliper, name)
    if front is None or on is None:
        return UNSET
    if on not in ("axle", *pose.axle.cages):
        reader.assume(f"{CORNER[name]}: its caliper is on a birdcage that no rod is bolted to: no anti-lift")
        return UNSET
    slope = side_slope(pose, wheel, on=on)
    percent = anti_squat_percent(slope, wheelbase_in=wheelbase_in, cg_height_in=cg_height_in, share=1 - front / 100)
    return rounded(percent)


def _motion(reader: DocumentReader, pose: AxlePose, name: str, part: str) -> RearMotionRatios | UnsetType:
    mount = rear_mount(reader, name, part)
    if mount is None:
        return UNSET
    if mount.on not in ("axle", *pose.axle.cages):
        reader.assume(f"{CORNER[name]} {part}: no rod is bolted to its birdcage, so how it moves is not known")
        return UNSET
    at = mount.motion(pose)
    own, other = at.per_wheel if name == "lr" else at.per_wheel[::-1]
    return RearMotionRatios(
        length_in=rounded(at.length_in),
        one_wheel_ratio=rounded(-own),
        other_wheel_ratio=rounded(-other),
        bump_ratio=rounded(-at.per_bump),
        roll_in_per_deg=rounded(-at.per_roll_in_per_deg),
    )


def _lateral_bars(pose: AxlePose, wheels: RearWheels) -> dict[str, LateralBar]:
    bars = {}
    for name, on in zip(pose.axle.names, pose.axle.on, strict=True):
        chassis, carrier = pose.rod_ends(name)
        along, across, _ = np.abs(carrier - chassis)
        if on == "axle" and across > along:
            center, middle = (bar_crossing(pose, wheels, rod=name, plane=plane).height_in for plane in PLANES)
            bars[name] = LateralBar(center_plane_in=finite(float(center)), axle_middle_in=finite(float(middle)))
    return bars


def _rod(pose: AxlePose, name: str) -> RodState:
    chassis, carrier = pose.rod_ends(name)
    along, across, up = chassis - carrier
    level = np.hypot(along, across)
    return RodState(length_in=rounded(np.hypot(level, up)), angle_deg=rounded(np.degrees(np.arctan2(up, level))))


def _missing(reader: DocumentReader) -> list[Missing]:
    """List what could not be answered for, with the fields it lacks."""
    wanted = {"rear anti-squat": ["setup.cg.height_in"]}
    wanted |= {f"{CORNER[name]} spring motion ratio": mount_paths(f"survey.rear.{name}.spring") for name in REAR}
    caliper = reader.get("setup.brakes.rear_caliper_on")
    if caliper == "floater":
        reader.assume("anti-lift is left out: a brake floater is not modeled")
    else:
        brakes = [f"setup.brakes.{leaf}" for leaf in ("front_share_percent", "rear_caliper_on")]
        wanted["rear anti-lift"] = ["setup.cg.height_in", *brakes]
    return reader.missing(wanted)


def _table(rear: RearEnd, over: BumpRolls) -> tuple[RearTable, list[RearLimit]]:
    bump = rear.bump_in + steps_between(over.low_in, over.high_in, over.step_in)
    roll = rear.roll_deg + steps_between(over.roll_low_deg, over.roll_high_deg, over.roll_step_deg)
    advice = f"{bump.size} bumps x {roll.size} axle rolls; take larger steps, or less of both"
    refuse_costly(bump.size * roll.size, most=POSES_MOST, unit="poses", advice=advice)
    bumps, rolls = (each.ravel() for each in np.meshgrid(bump, roll, indexing="ij"))
    pose = solve_axle(rear.axle, bump_in=bumps, roll_deg=rolls)
    at, wheels, kept = axle_readings(pose), rear_wheels(pose, **rear.radii_in), pose.closed
    center = centers.roll_center(left=wheels.left, right=wheels.right)
    by_side: dict[str, list[float]] = {}
    for place, side in enumerate(("left", "right")):
        by_side[f"{side}_travel_in"] = columns(at.travel_in[place, kept])
        by_side[f"{side}_lead_change_in"] = columns(at.lead_change_in[place, kept])
        by_side[f"{side}_wheelbase_in"] = columns(at.wheelbase_in[place, kept])
        by_side[f"{side}_squat_ratio"] = columns(side_slope(pose, wheels[place])[kept])
    table = RearTable(
        bump_in=columns(bumps[kept] - rear.bump_in),
        roll_deg=columns(rolls[kept] - rear.roll_deg),
        axle_steer_deg=columns(at.steer_deg[kept]),
        pinion_change_deg=columns(at.pinion_deg[kept]),
        lateral_shift_in=columns(at.lateral_shift_in[kept]),
        **by_side,
        roll_center_y_in=_gaps(center.y_in[kept]),
        roll_center_height_in=_gaps(center.height_in[kept]),
    )
    return table, _limits(rear, pose, bumps, rolls)


def _limits(rear: RearEnd, pose: AxlePose, bumps: Array, rolls: Array) -> list[RearLimit]:
    """List where each rod runs out first: at the smallest bump and roll that it stops."""
    found: dict[str, tuple[float, RearLimit]] = {}
    for place in np.flatnonzero(~pose.closed & (pose.failed > 0)):
        rod, part = rear.axle.names[pose.failed[place] - 1], float(pose.reached[place])
        bump, roll = part * float(bumps[place]), part * float(rolls[place])
        way = abs(bump) + abs(roll)
        if rod not in found or way < found[rod][0]:
            limit = RearLimit(bump_in=rounded(bump - rear.bump_in), roll_deg=rounded(roll - rear.roll_deg), ran_out=rod)
            found[rod] = (way, limit)
    return [limit for _, limit in found.values()]


def _spread(rear: RearEnd) -> list[Spread]:
    """Give how much answers move where the axle stands if one coordinate of one rod was surveyed 1/16 in off."""
    axle, named = rear.axle, [f"{rod}.{end}.{axis}" for rod in rear.axle.names for end in ENDS for axis in "xyz"]
    trials = axle
    for trial, (rod, end, axis) in enumerate(itertools.product(axle.names, ENDS, range(3))):
        moved, longer = np.zeros((3, len(named))), np.zeros(len(named))
        moved[axis, trial] = SURVEY_ERROR_IN
        index, way = axle.index(rod), 1 if end == "carrier_in" else -1
        line = axle.carrier[:, index] - axle.chassis[:, index]
        longer[trial] = np.linalg.norm(line + way * moved[:, trial]) - np.linalg.norm(line)
        trials = trials.refit(rod, longer_in=longer, **{end: moved})
    here, there = _outcomes(rear, axle), _outcomes(rear, trials)
    spreads = []
    for outcome, (unit, values) in there.items():
        change = np.abs(values - here[outcome][1])
        if np.isfinite(change).any():
            worst = int(np.nanargmax(change))
            spreads.append(Spread(outcome=outcome, plus_or_minus=rounded(change[worst]), unit=unit, worst=named[worst]))
    return spreads


def _outcomes(rear: RearEnd, axle: AxleLinkage) -> dict[str, tuple[str, Array]]:
    pose = solve_axle(axle, bump_in=rear.bump_in, roll_deg=rear.roll_deg)
    at, wheels = axle_readings(pose), rear_wheels(pose, **rear.radii_in)
    return {
        "roll_center_height_in": ("in", centers.roll_center(left=wheels.left, right=wheels.right).height_in),
        "axle_steer_deg_per_deg": ("deg_per_deg", at.steer_per_roll_deg_per_deg),
        "pinion_deg_per_in": ("deg_per_in", at.pinion_per_bump_deg_per_in),
        "left_squat_ratio": ("ratio", side_slope(pose, wheels.left)),
        "right_squat_ratio": ("ratio", side_slope(pose, wheels.right)),
    }


def _gaps(array: Array) -> list[float | None]:
    return [value if np.isfinite(value) else None for value in columns(array)]
