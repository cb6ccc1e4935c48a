"""The whole car at an attitude as an answer: four wheels on the ground, beside the same car at its ride height."""

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
from studbook_service.translate.document import Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError, FieldsUnfitError
from studbook_service.translate.front_end import FrontEnd, front_end
from studbook_service.translate.origins import origins as origins_of
from studbook_service.translate.rear_end import RearEnd, rear_end
from studbook_service.translate.rescaling import OnItsWheels, on_its_wheels, unscaled
from studbook_service.translate.stances import Place, ride_height, stances
from studbook_service.translate.states import roll_center, rounded
from studbook_service.translate.steering import steered
from studbook_service.translate.whole_car import said
from studbook_service.translate.words import CORNER, inches, signed


def attitude_answer(
    tree: Tree, *, origins: Mapping[str, Tree], asked: Place | None = None, steer_in: float = 0.0
) -> AttitudeAnswer:
    """Put a document's car on the ground.

    Args:
        tree: the setup document.
        origins: where readings were entered: alignment by corner, `scales`, `ride_height`.
        asked: an attitude; None for the ride height alone.
        steer_in: of the rack or center link at the attitude asked for, + toward the left.

    Returns:
        The answer: at ride height, and at the attitude asked for. Where what stands on the wheels is not known, tires
        keep their loaded radius, and `missing` says for want of what.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: the car cannot be put there, and why.
    """
    front, rear = _car(tree, origins)
    page, missing = front.page, list[Missing]()
    wheels = _on_its_wheels(tree, origins, page, missing)
    here = ride_height(page, None if wheels is None else wheels.since_heights)
    places = [here] if asked is None else [here, asked]
    steers = np.stack([np.zeros((2, 3)), steered(front, steer_in)][: len(places)], axis=-1)
    squash, loads = np.zeros((4, 1)), None
    if wheels is not None:
        loads = _loads(wheels, front, rear, places, steers)
        squash = loads.change_lb / wheels.whole.tires_lb_per_in[:, None]
    stance = stances(front, rear, places, squash_in=squash, steer_in=steers)
    _refuse_open(stance, places, front, rear, steers)
    left, right = (front.each[name] for name in front.names)
    patches = survey_patches(left=left, right=right, axle=rear.axle)
    answer = AttitudeAnswer(
        engine=VERSION,
        assumptions=page.assumed,
        missing=missing,
        cautions=list(cautions.ATTITUDE),
        ride_height=_stance(stance, 0, here, 0.0),
        survey_patches={
            name: SurveyPatch(height_in=rounded(height), off=bool(off))
            for name, height, off in zip(WHEELS, patches.height_in, patches.off, strict=True)
        },
    )
    if asked is not None:
        answer.requested = _stance(stance, 1, asked, steer_in)
        answer.limits = _limits(page, stance.travel_in[:, 1] - stance.travel_in[:, 0], steer_in)
    if loads is not None:
        _tell_loads(answer, loads, squash, page)
    for name, patch in answer.survey_patches.items():
        if patch.off:
            page.assume(
                f"{CORNER[name]}: at the survey its patch lies {inches(abs(patch.height_in))}"
                f" {'above' if patch.height_in > 0 else 'below'} the ground: check wheel center, radius and camber"
            )
    return answer


def attitude_tried(
    chain: Sequence[Tree], *, edited: Tree | None, place: Place, steer_in: float = 0.0
) -> AttitudeAnswer:
    """Put a document's car at an attitude, with edits tried on it if there are any; see `attitude_answer`.

    Args:
        chain: the document, its first parent's, and so on back.
        edited: the document with edits to try; None for the document itself.
        place: the attitude.
        steer_in: of the rack or center link there, + toward the left.

    Returns:
        The answer; with edits, about the edited car, and what they do to it.
    """
    answer = attitude_answer(chain[0], origins=origins_of(chain), asked=place, steer_in=steer_in)
    if edited is None:
        return answer
    tried = attitude_answer(edited, origins=origins_of([edited, *chain]), asked=place, steer_in=steer_in)
    tried.effect = compare("attitude", answer, tried)
    return tried


def _car(tree: Tree, origins: Mapping[str, Tree]) -> tuple[FrontEnd, RearEnd]:
    """Read both ends on one page; without all four wheels there is no attitude."""
    missing: list[Missing] = []
    front = None
    try:
        front = front_end(tree, origins=origins)
        missing += front.missing
    except FieldsMissingError as error:
        missing += error.missing
    page = Document(tree=tree) if front is None else front.page
    rear = rear_end(page)
    if rear is None:
        missing.append(Missing(subject="rear axle", fields=list(page.lacking)))
    if front is None or rear is None or missing:
        raise FieldsMissingError(missing)
    return front, rear


def _on_its_wheels(
    tree: Tree, origins: Mapping[str, Tree], page: Document, missing: list[Missing]
) -> OnItsWheels | None:
    """Read what stands on the wheels; None where that is not known, and why is in `missing`."""
    try:
        found = on_its_wheels(tree, origins=origins)
    except (CannotCloseError, FieldsUnfitError) as error:
        missing.append(Missing(subject="loads on the tires", fields=[], why=str(error)))
    else:
        if isinstance(found, OnItsWheels):
            for sentence in found.whole.page.assumed:
                page.assume(sentence)
            return found
        missing += unscaled(found)
    page.assume("tires keep their loaded radius at any attitude: what stands on each wheel is not known")
    return None


def _loads(wheels: OnItsWheels, front: FrontEnd, rear: RearEnd, places: list[Place], steers: Array) -> CarState:
    """Hold the car at each attitude; how it then stands is told from how it was on the scales, (..., places)."""
    here, since, change = places[0], wheels.since.standing, wheels.since.change
    heave, roll, pitch = (
        from_scales + np.array([place[axis] - here[axis] for place in places])
        for axis, from_scales in enumerate((since.heave_in, since.roll_deg, since.pitch_deg))
    )
    stud = np.asarray(change.stud_in)[:, None] + _jacked(wheels, front, rear, places, steers)
    return at_attitude(wheels.since.car, change._replace(stud_in=stud), heave_in=heave, roll_deg=roll, pitch_deg=pitch)


def _jacked(wheels: OnItsWheels, front: FrontEnd, rear: RearEnd, places: list[Place], steers: Array) -> Array:
    """Give how far steering moves each wheel against its arm, + raises the car, (4, places).

    With the wheel on the ground under a chassis that is held, it is what turning does to the spring's length.
    """
    jacked = np.zeros((4, len(places)))
    if np.any(steers):
        lengths = []
        for steer in (np.zeros_like(steers), steers):
            stance = stances(front, rear, places, squash_in=np.zeros((4, 1)), steer_in=steer)
            _refuse_open(stance, places, front, rear, steer)
            lengths.append([mount_length(pose) for pose in (stance.left_front, stance.right_front)])
        jacked[:2] = np.subtract(lengths[1], lengths[0]) / np.diagonal(wheels.whole.spring_in_per_in)[:2, None]
    return jacked


def _tell_loads(answer: AttitudeAnswer, loads: CarState, squash: Array, page: Document) -> None:
    """Add what stands on the wheels."""
    told = [answer.ride_height] if answer.requested is UNSET else [answer.ride_height, answer.requested]
    for row, car in enumerate(told):
        for index, name in enumerate(WHEELS):
            wheel: WheelStance = getattr(car, name)
            wheel.load_lb = rounded(loads.loads_lb[index, row])
            wheel.tire_deflection_in = rounded(squash[index, row])
    if answer.requested is not UNSET:
        page.assume(
            "links carry nothing: loads at this attitude are what springs, bars, stops and tires alone say with the"
            " chassis held there, and do not add up to the car's weight"
        )
        answer.engaged = said(loads.names, loads.engaged[:, 1])
        answer.past_curve = said(loads.names, loads.beyond[:, 1])
        answer.limits += [
            f"{name}: carries nothing and is off the ground; it is told with its tire just touching"
            for name in said([CORNER[name] for name in WHEELS], loads.lifted[:, 1])
        ]


def _stance(stance: Stance, row: int, place: Place, steer_in: float) -> CarStance:
    wheels = {
        name: WheelStance(
            travel_in=rounded(stance.travel_in[index, row]),
            camber_deg=rounded(stance.camber_deg[index, row]),
            toe_deg=rounded(stance.toe_deg[index, row]),
            patch_in=[rounded(each) for each in stance.patch[:, index, row]],
        )
        for index, name in enumerate(WHEELS)
    }
    return CarStance(
        heave_in=rounded(place.heave_in),
        roll_deg=rounded(place.roll_deg),
        pitch_deg=rounded(place.pitch_deg),
        steer_in=steer_in,
        front_roll_center=roll_center(stance.front_center, row),
        rear_roll_center=roll_center(stance.rear_center, row),
        **wheels,
    )


def _refuse_open(stance: Stance, places: list[Place], front: FrontEnd, rear: RearEnd, steers: Array) -> None:
    """Refuse the first attitude at which a wheel cannot follow the ground, and say what runs out."""
    if stance.closed.all():
        return
    row = int(np.argmin(stance.closed))
    place, turned = places[row], steers[:, :, row]
    said = (
        f"at {signed(place.heave_in, 2)} in of heave, {signed(place.roll_deg, 2)} deg of roll and"
        f" {signed(place.pitch_deg, 2)} deg of pitch{', steered' if np.any(turned) else ''}"
    )
    for name, pose, steer in zip(front.names, (stance.left_front, stance.right_front), turned, strict=True):
        if not pose.closed[row]:
            span = reach(front.each[name], steer_in=steer)
            if not np.isfinite(span.lowest_in):
                failed = FAILED[int(pose.failed[row])] or "linkage"
                raise CannotCloseError(f"{CORNER[name]} cannot follow the ground {said}: the {failed} does not reach")
            raise CannotCloseError(
                f"{CORNER[name]} cannot follow the ground {said}: its linkage travels from"
                f" {signed(float(span.lowest_in), 2)} in, where the {FAILED[int(span.lowest_failed)]} runs out, to"
                f" {signed(float(span.highest_in), 2)} in, where the {FAILED[int(span.highest_failed)]} does"
            )
    rod = rear.axle.names[int(stance.axle.failed[row]) - 1]
    part = 100 * float(stance.axle.reached[row])
    raise CannotCloseError(
        f"the rear axle cannot follow the ground {said}: {rod} runs out {part:.0f} % of the way from the survey"
    )


def _limits(page: Document, travel: Array, steer_in: float) -> list[str]:
    """Say what stops a wheel or the steering before: droop limits are reckoned as they are given, from ride height."""
    found = []
    for name, rise in zip(WHEELS, travel, strict=True):
        limit = f"setup.{'front' if name in {'lf', 'rf'} else 'rear'}.{name}.droop_limit"
        least = page.get(f"{limit}.travel_in")
        if least is not None and rise < -least:
            kind = page.get(f"{limit}.kind") or "droop limit"
            found.append(f"{CORNER[name]}: {inches(-rise)} of droop is past its {kind} at {inches(least)}")
    half = page.get("setup.front.steering.half_travel_in")
    if half is not None and abs(steer_in) > half:
        found.append(f"steering: {inches(abs(steer_in))} is past its stop at {inches(half)} from straight ahead")
    return found
