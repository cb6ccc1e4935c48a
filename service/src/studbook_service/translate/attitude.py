"""The whole car at an attitude as an answer: four wheels on the ground, beside the same car at its ride height.

Ride heights belong to the revision they were entered in; what the car stands at now is those heights and what was
changed since. At an attitude the chassis is held: springs, bars, stops and tires alone make the loads, links carry
nothing, and each tire's radius follows. What steering does to a spring's length there counts as a stud's change does.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.attitude import AttitudeAnswer, CarStance, SurveyPatch, WheelStance
from studbook.wire.figures import compare
from studbook_service.engine import VERSION
from studbook_service.engine.attitude import Stance, survey_patches
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.linkage import mount_length, reach
from studbook_service.engine.loads import at_attitude
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.reach import FAILED
from studbook_service.engine.vectors import Array
from studbook_service.translate import cautions
from studbook_service.translate.document import END, DocumentReader
from studbook_service.translate.errors import CannotClose, FieldsMissing, FieldsUnfit
from studbook_service.translate.front_end import FrontEnd, readable_front
from studbook_service.translate.origins import origins as origins_of
from studbook_service.translate.rear_end import RearEnd, rear_end
from studbook_service.translate.rescaling import OnItsWheels, on_its_wheels, unscaled
from studbook_service.translate.stances import ChassisAttitude, ride_height, stances
from studbook_service.translate.states import figures, roll_center, rounded
from studbook_service.translate.steering import steered
from studbook_service.translate.whole_car import names_where, wheels_where
from studbook_service.translate.words import CORNER, inches, signed


def attitude_answer(
    tree: Tree, *, origins: Mapping[str, Tree], attitude: ChassisAttitude | None = None, steer_in: float = 0.0
) -> AttitudeAnswer:
    """Put a document's car on the ground.

    The answer is at ride height, and at an `attitude` if there is one; `steer_in` is what the rack or center link moves
    there, + toward the left. Where the loads on the wheels are not known, tires keep their loaded radius.

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: the car cannot be put there, and why.
    """
    front, rear = _car(tree, origins)
    reader, missing = front.reader, list[Missing]()
    wheels = _on_its_wheels(tree, origins, reader, missing)
    here = ride_height(reader, None if wheels is None else wheels.since_heights)
    attitudes = [here] if attitude is None else [here, attitude]
    steers = np.stack([np.zeros((2, 3)), steered(front, steer_in)][: len(attitudes)], axis=-1)
    deflection, loads = np.zeros((4, 1)), None
    if wheels is not None:
        loads = _loads(wheels, front, rear, attitudes, steers)
        deflection = loads.change_lb / wheels.whole.tires_lb_per_in[:, None]
    stance = stances(front, rear, attitudes, tire_deflection_in=deflection, steer_in=steers)
    _refuse_open(stance, attitudes, front, rear, steers)
    left, right = (front.each[name] for name in front.names)
    patches = survey_patches(left=left, right=right, axle=rear.axle)
    answer = AttitudeAnswer(
        engine=VERSION,
        assumptions=reader.assumed,
        missing=missing,
        cautions=list(cautions.ATTITUDE),
        ride_height=_stance(stance, 0, here, 0.0),
        survey_patches={
            name: SurveyPatch(height_in=rounded(height), off=bool(off))
            for name, height, off in zip(WHEELS, patches.height_in, patches.off, strict=True)
        },
    )
    if attitude is not None:
        answer.requested = _stance(stance, 1, attitude, steer_in)
        answer.limits = _limits(reader, stance.travel_in[:, 1] - stance.travel_in[:, 0], steer_in)
    if loads is not None:
        _add_loads(answer, loads, deflection, reader)
    for name, patch in answer.survey_patches.items():
        if patch.off:
            reader.assume(
                f"{CORNER[name]}: at the survey its patch lies {inches(abs(patch.height_in))}"
                f" {'above' if patch.height_in > 0 else 'below'} the ground: check wheel center, radius and camber"
            )
    return answer


def attitude_tried(
    chain: Sequence[Tree], *, edited: Tree | None, attitude: ChassisAttitude, steer_in: float = 0.0
) -> AttitudeAnswer:
    """Put a document's car at an attitude, with edits tried on it if there are any; see `attitude_answer`.

    `chain` is the document, its first parent's, and so on back; `edited` is the document with edits to try. With edits
    the answer is about the edited car, and holds their effect.
    """
    answer = attitude_answer(chain[0], origins=origins_of(chain), attitude=attitude, steer_in=steer_in)
    if edited is None:
        return answer
    tried = attitude_answer(edited, origins=origins_of([edited, *chain]), attitude=attitude, steer_in=steer_in)
    tried.effect = compare("attitude", answer, tried)
    return tried


def _car(tree: Tree, origins: Mapping[str, Tree]) -> tuple[FrontEnd, RearEnd]:
    """Read both ends with one reader; without all four wheels there is no attitude."""
    missing: list[Missing] = []
    front = readable_front(tree, origins, missing)
    reader = DocumentReader(tree=tree) if front is None else front.reader
    rear = rear_end(reader)
    if rear is None:
        missing.append(Missing(subject="rear axle", fields=list(reader.lacking)))
    if front is None or rear is None or missing:
        raise FieldsMissing(missing)
    return front, rear


def _on_its_wheels(
    tree: Tree, origins: Mapping[str, Tree], reader: DocumentReader, missing: list[Missing]
) -> OnItsWheels | None:
    """Read the loads on the wheels; None where they are not known, and `missing` says why."""
    try:
        found = on_its_wheels(tree, origins=origins)
    except (CannotClose, FieldsUnfit) as error:
        missing += error.missing_for("loads on the tires")
    else:
        if isinstance(found, OnItsWheels):
            for sentence in found.whole.reader.assumed:
                reader.assume(sentence)
            return found
        missing += unscaled(found)
    reader.assume("tires keep their loaded radius at any attitude: the load on each wheel is not known")
    return None


def _loads(
    wheels: OnItsWheels, front: FrontEnd, rear: RearEnd, attitudes: list[ChassisAttitude], steers: Array
) -> CarState:
    """Hold the car at each attitude, from how it was on the scales, (..., attitudes)."""
    here, since, change = attitudes[0], wheels.since.standing, wheels.since.change
    heave, roll, pitch = (
        from_scales + np.array([attitude[axis] - here[axis] for attitude in attitudes])
        for axis, from_scales in enumerate((since.heave_in, since.roll_deg, since.pitch_deg))
    )
    stud = np.asarray(change.stud_in)[:, None] + _steering_lift(wheels, front, rear, attitudes, steers)
    return at_attitude(wheels.since.car, change._replace(stud_in=stud), heave_in=heave, roll_deg=roll, pitch_deg=pitch)


def _steering_lift(
    wheels: OnItsWheels, front: FrontEnd, rear: RearEnd, attitudes: list[ChassisAttitude], steers: Array
) -> Array:
    """Give how far steering moves each wheel against its arm, + raises the car, (4, attitudes).

    With the wheel on the ground under a chassis that is held, it is what turning does to the spring's length.
    """
    lift = np.zeros((4, len(attitudes)))
    if np.any(steers):
        lengths = []
        for steer in (np.zeros_like(steers), steers):
            stance = stances(front, rear, attitudes, tire_deflection_in=np.zeros((4, 1)), steer_in=steer)
            _refuse_open(stance, attitudes, front, rear, steer)
            lengths.append([mount_length(pose) for pose in (stance.left_front, stance.right_front)])
        lift[:2] = np.subtract(lengths[1], lengths[0]) / np.diagonal(wheels.whole.spring_in_per_in)[:2, None]
    return lift


def _add_loads(answer: AttitudeAnswer, loads: CarState, deflection: Array, reader: DocumentReader) -> None:
    """Add the loads on the wheels."""
    for row, car in enumerate([answer.ride_height, *([] if answer.requested is UNSET else [answer.requested])]):
        for index, name in enumerate(WHEELS):
            wheel: WheelStance = getattr(car, name)
            wheel.load_lb = rounded(loads.loads_lb[index, row])
            wheel.tire_deflection_in = rounded(deflection[index, row])
    if answer.requested is not UNSET:
        reader.assume(
            "links carry nothing: loads at this attitude come from springs, bars, stops and tires alone, with the"
            " chassis held there, and do not add up to the car's weight"
        )
        answer.engaged = names_where(loads.names, loads.engaged[:, 1])
        answer.past_curve = names_where(loads.names, loads.beyond[:, 1])
        answer.limits += [
            f"{name}: carries nothing and is off the ground; it is computed with its tire just touching"
            for name in wheels_where(loads.lifted[:, 1])
        ]


def _stance(stance: Stance, row: int, attitude: ChassisAttitude, steer_in: float) -> CarStance:
    wheels = {
        name: WheelStance(
            **figures(stance, ("travel_in", "camber_deg", "toe_deg"), index, row),
            patch_in=[rounded(each) for each in stance.patch[:, index, row]],
        )
        for index, name in enumerate(WHEELS)
    }
    return CarStance(
        heave_in=rounded(attitude.heave_in),
        roll_deg=rounded(attitude.roll_deg),
        pitch_deg=rounded(attitude.pitch_deg),
        steer_in=steer_in,
        front_roll_center=roll_center(stance.front_center, row),
        rear_roll_center=roll_center(stance.rear_center, row),
        **wheels,
    )


def _refuse_open(
    stance: Stance, attitudes: list[ChassisAttitude], front: FrontEnd, rear: RearEnd, steers: Array
) -> None:
    """Refuse the first attitude at which a wheel cannot follow the ground, and say what runs out."""
    if stance.closed.all():
        return
    row = int(np.argmin(stance.closed))
    attitude, turned = attitudes[row], steers[:, :, row]
    where = (
        f"at {signed(attitude.heave_in, 2)} in of heave, {signed(attitude.roll_deg, 2)} deg of roll and"
        f" {signed(attitude.pitch_deg, 2)} deg of pitch{', steered' if np.any(turned) else ''}"
    )
    for name, pose, steer in zip(front.names, (stance.left_front, stance.right_front), turned, strict=True):
        if not pose.closed[row]:
            span = reach(front.each[name], steer_in=steer)
            if not np.isfinite(span.lowest_in):
                failed = FAILED[int(pose.failed[row])] or "linkage"
                raise CannotClose(f"{CORNER[name]} cannot follow the ground {where}: the {failed} does not reach")
            raise CannotClose(
                f"{CORNER[name]} cannot follow the ground {where}: its linkage travels from"
                f" {signed(float(span.lowest_in), 2)} in, where the {FAILED[int(span.lowest_failed)]} runs out, to"
                f" {signed(float(span.highest_in), 2)} in, where the {FAILED[int(span.highest_failed)]} does"
            )
    rod = rear.axle.names[int(stance.axle.failed[row]) - 1]
    part = 100 * float(stance.axle.reached[row])
    raise CannotClose(
        f"the rear axle cannot follow the ground {where}: {rod} runs out {part:.0f} % of the way from the survey"
    )


def _limits(reader: DocumentReader, travel: Array, steer_in: float) -> list[str]:
    """List the droop limits and steering stop that are passed; a droop limit is counted from ride height."""
    found = []
    for name, rise in zip(WHEELS, travel, strict=True):
        limit = f"setup.{END[name]}.{name}.droop_limit"
        least = reader.get(f"{limit}.travel_in")
        if least is not None and rise < -least:
            kind = reader.get(f"{limit}.kind") or "droop limit"
            found.append(f"{CORNER[name]}: {inches(-rise)} of droop is past its {kind} at {inches(least)}")
    half = reader.get("setup.front.steering.half_travel_in")
    if half is not None and abs(steer_in) > half:
        found.append(f"steering: {inches(abs(steer_in))} is past its stop at {inches(half)} from straight ahead")
    return found
