"""Answers about geometry: pure computation on documents that are already read."""

from collections.abc import Mapping, Sequence
from typing import Final

import msgspec

from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import at
from studbook.wire.answers import Effects, FrontAnswer, Travels
from studbook.wire.attitude import AttitudeAnswer
from studbook.wire.damping import DampingAnswer, DampingAsked
from studbook.wire.figures import compare
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook.wire.loads import Cornering, CorneringAnswer, LoadsAnswer, PerchesAnswer, PerchSearch
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook_service.translate import effects as effecting
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.cornering import cornering_answer
from studbook_service.translate.damping import damping_answer
from studbook_service.translate.document import CORNERS
from studbook_service.translate.front import front_answer
from studbook_service.translate.joints import joints_answer
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.perch_turns import perches_answer
from studbook_service.translate.rear import rear_answer
from studbook_service.translate.stances import Place

ORIGINS_MOST: Final = 64
"""So many documents back an origin is looked for."""


def trees_of(chain: Sequence[bytes]) -> list[Tree]:
    """Decode documents."""
    return [msgspec.json.decode(body, type=Tree) for body in chain]


def origins(chain: Sequence[Tree]) -> dict[str, Tree]:
    """Find the documents in which each corner's alignment, the scales, the ride heights and the leads were read.

    A reading stands in every later revision until it is read again. What it implies was moved belongs to the revision
    it was entered in; changes recorded since come on top of it, so they are not judged against an older reading.

    Args:
        chain: a document, its first parent's, and so on back.

    Returns:
        For each corner with a reading, for `scales`, `ride_height`, `lr_lead` and `rr_lead`, the oldest document of
        the chain whose reading is still the first one's.

    Example:
        >>> reading = {"measured": {"front": {"rf": {"alignment": {"camber_deg": -4}}}}}
        >>> origins([reading | {"notes": "b"}, reading | {"notes": "a"}, {}])["rf"]["notes"]
        'a'
    """
    found = {}
    places: dict[str, tuple[str, ...]] = {name: ("measured", "front", name, "alignment") for name in CORNERS}
    places |= {name: ("measured", name) for name in ("scales", "ride_height")}
    places |= {f"{name}_lead": ("measured", "rear", name, "lead_in") for name in ("lr", "rr")}
    for name, path in places.items():
        reading = at(chain[0], path)
        if reading is None:
            continue
        for tree in chain:
            if not same(at(tree, path), reading):
                break
            found[name] = tree
    return found


def front(*, document: Tree, origins: Mapping[str, Tree], travels: Travels) -> FrontAnswer:
    """Answer how a document's front end stands, moves and steers; see `translate.front.front_answer`."""
    return front_answer(document, origins=origins, travels=travels)


def rear(*, document: Tree, origins: Mapping[str, Tree], over: BumpRolls) -> RearAnswer:
    """Answer how a document's rear axle is held, stands and moves; see `translate.rear.rear_answer`."""
    return rear_answer(document, origins=origins, over=over)


def joints(*, document: Tree, origins: Mapping[str, Tree], forces: WheelForces) -> JointsAnswer:
    """Answer about a document's front joints; see `translate.joints.joints_answer`."""
    return joints_answer(document, origins=origins, asked=forces)


def damping(*, document: Tree, origins: Mapping[str, Tree], asked: DampingAsked) -> DampingAnswer:
    """Answer about a document's shocks, springs, bars, tyres and gears; see `translate.damping.damping_answer`."""
    return damping_answer(document, origins=origins, asked=asked)


def loads(*, document: Tree, origins: Mapping[str, Tree]) -> LoadsAnswer:
    """Answer what a document's car weighs at each wheel; see `translate.loads.loads_answer`."""
    return loads_answer(document, origins=origins)


def cornering(*, document: Tree, origins: Mapping[str, Tree], wanted: Cornering) -> CorneringAnswer:
    """Answer how a document's car stands in a corner; see `translate.cornering.cornering_answer`."""
    return cornering_answer(document, origins=origins, wanted=wanted)


def perches(*, document: Tree, origins: Mapping[str, Tree], wanted: PerchSearch) -> PerchesAnswer:
    """Answer which perch turns reach a cross weight; see `translate.perch_turns.perches_answer`."""
    return perches_answer(document, origins=origins, wanted=wanted)


def attitude(chain: Sequence[Tree], *, edited: Tree | None, place: Place, steer_in: float = 0.0) -> AttitudeAnswer:
    """Put a document's car at an attitude; see `translate.attitude.attitude_answer`.

    Args:
        chain: the document, its first parent's, and so on back.
        edited: the document with edits to try; None for the document itself.
        place: the attitude.
        steer_in: of the rack or centre link there, + toward the left.

    Returns:
        The answer; with edits, about the edited car, and what they do to it.
    """
    answer = attitude_answer(chain[0], origins=origins(chain), asked=place, steer_in=steer_in)
    if edited is None:
        return answer
    tried = attitude_answer(edited, origins=origins([edited, *chain]), asked=place, steer_in=steer_in)
    tried.effect = compare("attitude", answer, tried)
    return tried


def effects(
    *,
    before: Tree,
    after: Tree,
    before_origins: Mapping[str, Tree],
    after_origins: Mapping[str, Tree],
    travels: Travels,
) -> Effects:
    """Answer what a change does; see `translate.effects.effects`."""
    return effecting.effects(before, after, before_origins=before_origins, after_origins=after_origins, travels=travels)
