"""What a change does at the front, always twice: as fitted, and after putting it right.

A change is judged at the first revision's ride height, so that it alone is seen; a difference of heights between the
two is noted, not mixed in. Every other subject is compared figure by figure, each document at its own height.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.history.changes import diff
from studbook.wire.answers import (
    Adjustment,
    AxleEffect,
    CornerEffect,
    Effects,
    Missing,
    TravelCurve,
    Travels,
)
from studbook.wire.fields import leaf_change
from studbook.wire.scales import OnScales
from studbook_service.engine import VERSION
from studbook_service.engine.changes import MOVES, PIVOTS, Moves
from studbook_service.engine.corner import FrontLinkage, Mount, stack
from studbook_service.engine.linkage import Pose, mount_length, solve_angle, solve_spring_length, solve_travel
from studbook_service.engine.restore import FREE, Restored, Targets, restore
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import wheel
from studbook_service.translate import cautions
from studbook_service.translate.adjusters import SMALL_IN
from studbook_service.translate.errors import FieldsMissing
from studbook_service.translate.front import axis_spreads, heave_steps, lacking
from studbook_service.translate.front_end import FrontEnd, front_end, joined, refuse_open
from studbook_service.translate.headline import headline
from studbook_service.translate.scale_effects import scale_effect, scale_sentences
from studbook_service.translate.states import (
    PoseReadings,
    front_axle,
    front_states,
    limits,
    pose_readings,
    travel_curve,
)
from studbook_service.translate.subjects import DocumentAnswers, subject_effects, subject_headlines
from studbook_service.translate.words import CORNER, inches

SETTINGS = ("camber", "caster", "toe", "bump_steer")
SAME_HEIGHT_IN = 0.005
MOVED_LEAST_IN = 1e-9
"""Below it nothing moved: rounding."""


@dataclass(frozen=True, kw_only=True)
class Poses:
    """The front end before a change and after it, in the four ways an answer is given.

    Attributes:
        before: at its ride height; `height_restored`: changed, at the same wheel travel.
        springs_hold: changed, the spring at its old length; open where there is no spring.
        restored: at the same travel, in two rows: camber, caster and toe put right; bump steer too.
    """

    before: Pose
    springs_hold: Pose
    height_restored: Pose
    restored: Restored

    def together(self, shocks: Mount) -> PoseReadings:
        """Compute all five at once, in the order of BEFORE to ALL_RESTORED."""
        each = [self.before, self.springs_hold, self.height_restored]
        designs = [pose.corner for pose in each] + self.designs()
        angles = np.stack([*(pose.angle_rad for pose in each), *self.restored.pose.angle_rad])
        return pose_readings(solve_angle(stack(designs), angle_rad=angles), shocks=shocks)

    def designs(self) -> list[FrontLinkage]:
        """Give the corners put right, and put right with bump steer, one after the other."""
        right = self.restored.corner
        return [replace(right, moves=_row(right.moves, row)) for row in (0, 1)]


BEFORE, SPRINGS_HOLD, HEIGHT_RESTORED, RESTORED, ALL_RESTORED = range(5)
"""Rows of the poses computed together, each named as its field of the answer."""

DESIGNS = (BEFORE, HEIGHT_RESTORED, RESTORED, ALL_RESTORED)
"""Those that are swept over travel too."""


def effects_between(old: DocumentAnswers, new: DocumentAnswers, *, travels: Travels) -> Effects:
    """Compare two documents of one car: what does the change do, and what puts it right?

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: nothing can be computed, and why.
    """
    missing: list[Missing] = []
    try:
        answer = _front(before=old, after=new, travels=travels)
    except FieldsMissing as error:
        answer, missing = None, error.missing
    rest = subject_effects(old, new)
    if answer is None:
        if not rest.subjects:
            raise FieldsMissing(missing)
        answer = Effects(engine=VERSION, headline=[], changes=[], assumptions=[], missing=missing, cautions=[])
    answer.changes = [leaf_change(each) for each in diff(old.tree, new.tree)]
    scaled = scale_effect(old, new)
    if isinstance(scaled, OnScales):
        answer.on_scales = scaled
        answer.headline += scale_sentences(scaled)
    else:
        answer.missing.append(scaled)
    answer.headline += subject_headlines(rest.subjects)
    answer.subjects = rest.subjects
    answer.missing = list({each.subject: each for each in [*answer.missing, *rest.missing]}.values())
    answer.assumptions = list(dict.fromkeys([*answer.assumptions, *rest.assumptions]))
    answer.cautions = list(dict.fromkeys([*answer.cautions, *rest.cautions]))
    return answer


def _front(*, before: DocumentAnswers, after: DocumentAnswers, travels: Travels) -> Effects:
    """Compare the front ends."""
    old, new = (front_end(each.tree, origins=each.origins) for each in (before, after))
    if old.names != new.names:
        old, new = _only_shared(old, new)
    _note_heights(old, new)
    poses = _poses(old, new)
    names = old.names
    changed = {name: new.each[name].moves + -1.0 * old.each[name].moves for name in names}
    states = poses.together(new.shocks())
    corners = _corners(old, new, poses, states, changed, travels)
    answer = Effects(
        engine=VERSION,
        headline=[],
        changes=[],
        assumptions=[],
        missing=[*old.missing, *new.missing, *lacking(old), *lacking(new)],
        cautions=[*cautions.FRONT, *cautions.STUD],
        lf=corners.get("lf", UNSET),
        rf=corners.get("rf", UNSET),
    )
    answer.assumptions = list(dict.fromkeys([*new.reader.assumed, *old.reader.assumed]))
    answer.axle = _axle(old, new, states)
    answer.headline = headline(answer, changed)
    return answer


def _only_shared(old: FrontEnd, new: FrontEnd) -> tuple[FrontEnd, FrontEnd]:
    shared = tuple(name for name in old.names if name in new.names)
    missing = [*old.missing, *new.missing]
    if not shared:
        raise FieldsMissing(missing)
    return old.only(shared), new.only(shared)


def _note_heights(old: FrontEnd, new: FrontEnd) -> None:
    for place, name in enumerate(old.names):
        moved = float(new.travel[place] - old.travel[place])
        if abs(moved) > SAME_HEIGHT_IN:
            new.reader.assume(
                f"{CORNER[name]}: the ride height readings differ by {inches(abs(moved))} of wheel travel;"
                " the change is judged at the first one's height"
            )


def _poses(old: FrontEnd, new: FrontEnd) -> Poses:
    before = old.closed_pose(when="before the change, at ride height,")
    back = solve_travel(new.corner, travel_in=old.travel)
    refuse_open(new, back, when="after the change")
    was = wheel(before)
    units = [joined([new.adjusters[name].units[setting] for name in new.names]) for setting in SETTINGS]
    targets = Targets(
        camber_deg=was.camber_deg,
        caster_deg=was.caster_deg,
        toe_deg=was.toe_deg,
        bump_steer_deg_per_in=np.stack([np.full_like(was.toe_deg, FREE), was.bump_steer_deg_per_in]),
    )
    return Poses(
        before=before,
        springs_hold=solve_spring_length(new.corner, length_in=mount_length(before)),
        height_restored=back,
        restored=restore(new.corner, targets=targets, adjustments=units, travel_in=old.travel),
    )


def _row(moves: Moves, row: int) -> Moves:
    """Pick one row of moves whose batch is (rows, corners)."""

    def pick(name: str) -> Array:
        array: Array = getattr(moves, name)
        rank = array.ndim - (name in PIVOTS)
        return array if rank < 2 else array[:, row] if name in PIVOTS else array[row]

    return Moves(**{name: pick(name) for name in MOVES})


def _needs_restoring(moves: Moves, front: FrontEnd, name: str) -> bool:
    """Tell whether parts were changed; a change of the corner's own adjustments alone is not to be undone."""
    units = front.adjusters[name].units.values()
    for field in MOVES:
        own = np.any([np.asarray(getattr(unit, field)) != 0 for unit in units], axis=0)
        if np.any(np.where(own, 0.0, np.abs(getattr(moves, field))) > MOVED_LEAST_IN):
            return True
    return False


def _corners(
    old: FrontEnd, new: FrontEnd, poses: Poses, states: PoseReadings, changed: Mapping[str, Moves], travels: Travels
) -> dict[str, CornerEffect]:
    heaves = heave_steps(travels)
    designs = [old.corner, new.corner, *poses.designs()]
    sweep = solve_travel(stack(designs).expand(1), travel_in=old.travel[:, None] + heaves)
    swept = wheel(sweep)

    def curve(state: int, place: int) -> TravelCurve:
        return travel_curve(heaves, swept, sweep.closed, (DESIGNS.index(state), place))

    before = front_states(old, states, BEFORE)
    springs_hold, height_restored, restored, all_restored = (
        front_states(new, states, row) for row in (SPRINGS_HOLD, HEIGHT_RESTORED, RESTORED, ALL_RESTORED)
    )
    leans = axis_spreads(new)
    ends = limits(new, poses.height_restored, sweep, low_in=travels.low_in, high_in=travels.high_in)
    corners = {}
    for place, name in enumerate(old.names):
        corner = CornerEffect(
            before=before[name],
            height_restored=height_restored[name],
            before_curve=curve(BEFORE, place),
            height_restored_curve=curve(HEIGHT_RESTORED, place),
            adjustments=[],
            ball_moves=_ball_moves(new.each[name], changed[name], name),
            axis_spread=[each for each in leans if each.corner == CORNER[name]],
            limits=[each for each in ends if each.corner == CORNER[name]],
            springs_hold=springs_hold.get(name, UNSET),
            implied_before=old.implied.get(name, UNSET),
            implied_after=new.implied.get(name, UNSET),
        )
        if _needs_restoring(changed[name], new, name):
            if name in restored:
                corner.restored, corner.restored_curve = restored[name], curve(RESTORED, place)
            if name in all_restored:
                corner.all_restored = all_restored[name]
                corner.all_restored_curve = curve(ALL_RESTORED, place)
            corner.adjustments = _adjustments(new, poses, name, place)
        corners[name] = corner
    return corners


def _adjustments(new: FrontEnd, poses: Poses, name: str, place: int) -> list[Adjustment]:
    """List what puts a corner right: everything when bump steer can be too, else all but bump steer."""
    converged = poses.restored.converged[:, place]
    if not converged.any():
        return []
    row = 1 if converged[1] else 0
    amounts = poses.restored.amounts[: len(SETTINGS) if row else len(SETTINGS) - 1, row, place]
    adjustments = new.adjusters[name].adjustments([float(amount) for amount in amounts])
    perch = float(mount_length(poses.restored.pose)[row, place] - mount_length(poses.before)[place])
    if np.isfinite(perch) and abs(perch) >= SMALL_IN:
        adjustments.append(_perch(new, name, perch))
    return adjustments


def _perch(new: FrontEnd, name: str, amount: float) -> Adjustment:
    """Give the perch turn at which the spring, at its old length, holds the wheel where it was."""
    way = "tighten, raises the car" if amount > 0 else "loosen, lowers the car"
    answer = Adjustment(
        setting="height",
        by="perch",
        where=f"{CORNER[name]} perch",
        amount_in=amount,
        text=f"{CORNER[name]} perch: {inches(abs(amount))} along the spring, {way}",
    )
    pitch = new.reader.get(f"setup.front.{name}.spring.perch.in_per_turn")
    if pitch:
        answer.turns = turned = amount / pitch
        answer.text = f"{CORNER[name]} perch: {abs(turned):.1f} turns, {way} ({abs(amount):.2f} in along the spring)"
    return answer


def _ball_moves(corner: FrontLinkage, moves: Moves, name: str) -> list[str]:
    """Say which way each ball goes: a wrong sign shows before anyone picks up a wrench."""
    moved = []
    for arm in ("upper", "lower"):
        for part, body in (("stud", "relative to the spindle"), ("housing", "in the arm")):
            amount = float(getattr(moves, f"{arm}_{part}_in"))
            up = amount * float(getattr(corner, f"{arm}_{part}_axis")[2])
            if abs(amount) > MOVED_LEAST_IN:
                way = "UP" if up > 0 else "DOWN"
                moved.append(f"{CORNER[name]} {arm} ball goes {way} {abs(up):.2f} in {body}")
    return moved


def _axle(old: FrontEnd, new: FrontEnd, states: PoseReadings) -> AxleEffect | UnsetType:
    before, height_restored = front_axle(old, states, BEFORE), front_axle(new, states, HEIGHT_RESTORED)
    if before is None or height_restored is None:
        return UNSET
    return AxleEffect(
        before=before,
        height_restored=height_restored,
        springs_hold=front_axle(new, states, SPRINGS_HOLD) or UNSET,
        restored=front_axle(new, states, RESTORED) or UNSET,
        all_restored=front_axle(new, states, ALL_RESTORED) or UNSET,
    )
