"""What is computed: what a setup is, what a change does, and which parts reach what is wanted. Nothing is recorded."""

from collections.abc import Iterable, Mapping
from typing import Any

from msgspec.structs import asdict

from studbook.core.call import Flow
from studbook.core.edits import edits_of
from studbook.core.flows.book import compared, resolve
from studbook.core.request import call, parameters
from studbook.wire.answers import Effects, FrontAnswer, Travels, WhatIf
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingAnswer, DampingQuery
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook.wire.loads import (
    Cornering,
    CorneringAnswer,
    CornerPath,
    CrossWanted,
    LoadsAnswer,
    PerchesAnswer,
    PerchSearch,
)
from studbook.wire.operations.revisions import (
    READ_DAMPING,
    READ_EFFECTS,
    READ_FRONT,
    READ_JOINTS,
    READ_LOADS,
    READ_REAR,
    TRY_ATTITUDE,
    TRY_CORNERING,
    TRY_EDITS,
)
from studbook.wire.operations.searches import SEARCH_CARRY_OVER, SEARCH_PERCHES, SEARCH_STUDS
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook.wire.searches import (
    CamberWanted,
    CarryOver,
    CarryOverAnswer,
    LikenessWanted,
    StudSearch,
    StudSearchAnswer,
)


def effects(ref: str, *, since: str | None = None, travels: Travels | None = None) -> Flow[Effects]:
    """Tell what a change does: as fitted, and after putting settings right.

    Args:
        ref: the revision with the change.
        since: the one without; its first parent unless given.
        travels: the wheel travels that curves cover.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
        FieldsMissingError: the document is too thin; `faults` names what it lacks.
        CannotCloseError: the linkage cannot be assembled.
    """
    id_, before = yield from compared(ref, since)
    return (yield from call(READ_EFFECTS, id_, query={"since": before, **parameters(travels)}))


def what_if(
    ref: str,
    edits: Mapping[str, Any],
    *,
    remove: Iterable[str] = (),
    travels: Travels | None = None,
    allow_unknown: bool = False,
) -> Flow[Effects]:
    """Tell what edits would do to a revision; nothing is recorded.

    Args:
        ref: the revision to try them on.
        edits: new values by dotted path.
        remove: paths to take away.
        travels: the wheel travels that curves cover.
        allow_unknown: accept fields that the schema does not know.
    """
    tried = yield from edited(ref, edits, remove, allow_unknown=allow_unknown)
    return (yield from call(TRY_EDITS, body=WhatIf(**tried, travels=travels or Travels())))


def front(ref: str, *, travels: Travels | None = None) -> Flow[FrontAnswer]:
    """Tell how a revision's front stands and moves."""
    found = yield from resolve(ref)
    return (yield from call(READ_FRONT, found.id, query=travels))


def rear(ref: str, *, over: BumpRolls | None = None) -> Flow[RearAnswer]:
    """Tell how a revision's rear axle is held by its rods, stands, and moves over bump and axle roll.

    Raises:
        CannotCloseError: the rods leave a motion free or hold one twice; the text names both.
    """
    found = yield from resolve(ref)
    return (yield from call(READ_REAR, found.id, query=over))


def joints(ref: str, *, forces: WheelForces | None = None) -> Flow[JointsAnswer]:
    """Tell what a revision's front joints cost in friction, how they swing, and what they carry.

    Args:
        ref: the revision.
        forces: at the wheels; as the car stands on the scales unless given.
    """
    found = yield from resolve(ref)
    return (yield from call(READ_JOINTS, found.id, query=forces))


def damping(ref: str, *, conditions: DampingQuery | None = None) -> Flow[DampingAnswer]:
    """Tell what a revision's shocks, springs, bars, tires and gears come to.

    Args:
        ref: the revision.
        conditions: the cycle that shocks are worked through, the turn, the speed.
    """
    found = yield from resolve(ref)
    return (yield from call(READ_DAMPING, found.id, query=conditions))


def loads(ref: str) -> Flow[LoadsAnswer]:
    """Tell what a revision's car weighs at each wheel, and what one step of each perch, gas and tire does."""
    found = yield from resolve(ref)
    return (yield from call(READ_LOADS, found.id))


def cornering(
    ref: str,
    path: CornerPath,
    *,
    edits: Mapping[str, Any] | None = None,
    remove: Iterable[str] = (),
    allow_unknown: bool = False,
) -> Flow[CorneringAnswer]:
    """Tell how a revision's car stands in a left-hand corner; nothing is recorded.

    Args:
        ref: the revision.
        path: the corner, how fast, and how driven.
        edits: new values by dotted path, to try first.
        remove: paths to take away first.
        allow_unknown: accept fields that the schema does not know.

    Raises:
        CannotCloseError: the car turns over, or a linkage cannot be assembled.
    """
    tried = yield from edited(ref, edits, remove, allow_unknown=allow_unknown)
    return (yield from call(TRY_CORNERING, body=Cornering(**tried, **asdict(path))))


def search_perches(
    ref: str,
    wanted: CrossWanted,
    *,
    edits: Mapping[str, Any] | None = None,
    remove: Iterable[str] = (),
    allow_unknown: bool = False,
) -> Flow[PerchesAnswer]:
    """Tell which perch turns bring a revision's car to a cross weight; nothing is recorded.

    Args:
        ref: the revision.
        wanted: the cross weight, the perches that may turn, the step, and limits.
        edits: new values by dotted path, to try first.
        remove: paths to take away first.
        allow_unknown: accept fields that the schema does not know.
    """
    tried = yield from edited(ref, edits, remove, allow_unknown=allow_unknown)
    return (yield from call(SEARCH_PERCHES, body=PerchSearch(**tried, **asdict(wanted))))


def attitude(
    ref: str,
    *,
    heave_in: float = 0.0,
    roll_deg: float = 0.0,
    pitch_deg: float = 0.0,
    steer_in: float = 0.0,
    edits: Mapping[str, Any] | None = None,
    remove: Iterable[str] = (),
    allow_unknown: bool = False,
) -> Flow[AttitudeAnswer]:
    """Tell how a revision's car stands on its four wheels at an attitude; nothing is recorded.

    Args:
        ref: the revision.
        heave_in: rise of the chassis origin since the survey.
        roll_deg: since the survey, + right side down.
        pitch_deg: since the survey, + nose down.
        steer_in: of the rack or center link from straight ahead, + toward the left.
        edits: new values by dotted path, to try first.
        remove: paths to take away first.
        allow_unknown: accept fields that the schema does not know.
    """
    tried = yield from edited(ref, edits, remove, allow_unknown=allow_unknown)
    request = Attitude(**tried, heave_in=heave_in, roll_deg=roll_deg, pitch_deg=pitch_deg, steer_in=steer_in)
    return (yield from call(TRY_ATTITUDE, body=request))


def search_studs(ref: str, wanted: CamberWanted) -> Flow[StudSearchAnswer]:
    """Tell which parts at one front corner come closest to a camber curve; nothing is recorded.

    Args:
        ref: the revision.
        wanted: the corner, the curve, the limits and the parts at hand.

    Raises:
        BadRequestError: there are more combinations than may be tried.
        BusyError: other searches wait already.
    """
    found = yield from resolve(ref)
    return (yield from call(SEARCH_STUDS, body=StudSearch(revision=found.id, **asdict(wanted))))


def search_carry_over(source: str, ref: str, wanted: LikenessWanted | None = None) -> Flow[CarryOverAnswer]:
    """Tell by which parts of its own a car reads at the front like another; nothing is recorded.

    Args:
        source: the revision to be like.
        ref: the revision to change.
        wanted: the parts at hand, and the travels.
    """
    like, found = (yield from resolve(source)), (yield from resolve(ref))
    request = CarryOver(source=like.id, revision=found.id, **asdict(wanted or LikenessWanted()))
    return (yield from call(SEARCH_CARRY_OVER, body=request))


def edited(
    ref: str, edits: Mapping[str, Any] | None, remove: Iterable[str], *, allow_unknown: bool
) -> Flow[dict[str, Any]]:
    """Give the members in which a request names a revision and the edits to try on it."""
    found = yield from resolve(ref)
    return {"revision": found.id, "edits": edits_of(edits or {}, remove), "allow_unknown": allow_unknown}
