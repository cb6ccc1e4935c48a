"""The whole car at an attitude as an answer: four wheels on the ground, beside the same car at its ride height."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.attitude import AttitudeAnswer, CarStance, SurveyPatch, WheelStance
from studbook_service.engine import VERSION
from studbook_service.engine.attitude import WHEELS, Stance, stand, survey_patches
from studbook_service.engine.linkage import FAILED, reach
from studbook_service.engine.vectors import Array
from studbook_service.translate import cautions
from studbook_service.translate.document import Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.front_end import FrontEnd, front_end
from studbook_service.translate.rear_end import RearEnd, rear_end
from studbook_service.translate.ride import attitude
from studbook_service.translate.states import roll_centre, rounded
from studbook_service.translate.words import CORNER, inches, signed


class Place(NamedTuple):
    """An attitude of the chassis since the survey: heave + up, roll + right side down, pitch + nose down."""

    heave_in: float
    roll_deg: float
    pitch_deg: float


def attitude_answer(tree: Tree, *, origins: Mapping[str, Tree], asked: Place | None = None) -> AttitudeAnswer:
    """Put a document's car on the ground.

    Args:
        tree: the setup document.
        origins: for each corner with an alignment reading, the document it was entered in.
        asked: an attitude; None for the ride height alone.

    Returns:
        The answer: at ride height, and at the attitude asked for.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: the car cannot be put there, and why.
    """
    front, rear = _car(tree, origins)
    page, here = front.page, _ride_height(front.page)
    places = [here] if asked is None else [here, asked]
    heave, roll, pitch = (np.array(each) for each in zip(*places, strict=True))
    left, right = (front.each[name] for name in front.names)
    stance = stand(
        left=left,
        right=right,
        axle=rear.axle,
        heave_in=heave,
        roll_deg=roll,
        pitch_deg=pitch,
        radius_change_in=np.array([0.0, 0.0, *rear.radius_change_in])[:, None],
    )
    for row, place in enumerate(places):
        _refuse_open(stance, row, place, front, rear)
    patches = survey_patches(left=left, right=right, axle=rear.axle)
    answer = AttitudeAnswer(
        engine=VERSION,
        assumptions=page.assumed,
        missing=[],
        cautions=list(cautions.ATTITUDE),
        ride_height=_stance(stance, 0, here, rear),
        survey_patches={
            name: SurveyPatch(height_in=rounded(height), off=bool(off))
            for name, height, off in zip(WHEELS, patches.height_in, patches.off, strict=True)
        },
        asked=UNSET if asked is None else _stance(stance, 1, asked, rear),
        limits=[] if asked is None else _limits(page, stance.travel_in[:, 1] - stance.travel_in[:, 0]),
    )
    for name, patch in answer.survey_patches.items():
        if patch.off:
            page.assume(
                f"{CORNER[name]}: at the survey its patch lies {inches(abs(patch.height_in))}"
                f" {'above' if patch.height_in > 0 else 'below'} the ground: check wheel centre, radius and camber"
            )
    return answer


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


def _ride_height(page: Document) -> Place:
    read = attitude(page)
    if read is None:
        page.assume("the chassis is taken at its surveyed height: no three heights with their places were read since")
        return Place(0.0, 0.0, 0.0)
    return Place(*read)


def _stance(stance: Stance, row: int, place: Place, rear: RearEnd) -> CarStance:
    built_in = {"camber": (0.0, 0.0, *rear.camber_deg), "toe": (0.0, 0.0, *rear.toe_deg)}
    wheels = {
        name: WheelStance(
            travel_in=rounded(stance.travel_in[index, row]),
            camber_deg=rounded(stance.camber_deg[index, row] + built_in["camber"][index]),
            toe_deg=rounded(stance.toe_deg[index, row] + built_in["toe"][index]),
            patch_in=[rounded(each) for each in stance.patch[:, index, row]],
        )
        for index, name in enumerate(WHEELS)
    }
    return CarStance(
        heave_in=rounded(place.heave_in),
        roll_deg=rounded(place.roll_deg),
        pitch_deg=rounded(place.pitch_deg),
        front_roll_centre=roll_centre(stance.front_centre, row),
        rear_roll_centre=roll_centre(stance.rear_centre, row),
        **wheels,
    )


def _refuse_open(stance: Stance, row: int, place: Place, front: FrontEnd, rear: RearEnd) -> None:
    if stance.closed[row]:
        return
    said = (
        f"at {signed(place.heave_in, 2)} in of heave, {signed(place.roll_deg, 2)} deg of roll and"
        f" {signed(place.pitch_deg, 2)} deg of pitch"
    )
    for name, pose in zip(front.names, (stance.left_front, stance.right_front), strict=True):
        if not pose.closed[row]:
            span = reach(front.each[name])
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


def _limits(page: Document, travel: Array) -> list[str]:
    """Say what stops a wheel before: droop limits, reckoned as they are given, from ride height."""
    found = []
    for name, rise in zip(WHEELS, travel, strict=True):
        limit = f"setup.{'front' if name in {'lf', 'rf'} else 'rear'}.{name}.droop_limit"
        least = page.get(f"{limit}.travel_in")
        if least is not None and rise < -least:
            kind = page.get(f"{limit}.kind") or "droop limit"
            found.append(f"{CORNER[name]}: {inches(-rise)} of droop is past its {kind} at {inches(least)}")
    return found
