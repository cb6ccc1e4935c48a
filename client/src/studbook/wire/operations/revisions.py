"""Revisions by id, and what is computed about them."""

from typing import Any, Final

from studbook.wire.answers import Effects, FrontAnswer, SinceTravels, Travels, WhatIf
from studbook.wire.around_scales import SensitivityAnswer, SensitivityQuery
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingAnswer, DampingQuery
from studbook.wire.entries import Changes, Revision, Since
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook.wire.loads import Cornering, CorneringAnswer, LoadsAnswer
from studbook.wire.operations.row import EVERYBODY, OF_DOCUMENT, OF_ENGINE, OF_REFERENCE, PEOPLE, reading, trying
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook.wire.setup import Setup
from studbook.wire.work import JobTable, SinceWork, WorkCard

READ_REVISION: Final = reading(
    "read_revision",
    "/v1/revisions/{ref}",
    roles=EVERYBODY,
    answer=Revision,
    problems=OF_REFERENCE,
    about="Read a revision by its id, or the first 6 or more digits of it",
)

READ_DOCUMENT: Final = reading(
    "read_document",
    "/v1/revisions/{ref}/document",
    roles=EVERYBODY,
    answer=dict[str, Any],
    schema=Setup,
    problems=OF_DOCUMENT,
    about="Read a revision's document as canonical JSON; under its full id it never changes",
)

READ_CHANGES: Final = reading(
    "read_changes",
    "/v1/revisions/{ref}/changes",
    roles=EVERYBODY,
    answer=Changes,
    query=Since,
    problems=OF_DOCUMENT,
    about="List the leaves that differ from one revision to another, of any sheets and cars",
)

READ_FRONT: Final = reading(
    "read_front",
    "/v1/revisions/{ref}/front",
    roles=EVERYBODY,
    answer=FrontAnswer,
    query=Travels,
    problems=OF_ENGINE,
    about="Answer how the front end stands, moves and steers",
)

READ_REAR: Final = reading(
    "read_rear",
    "/v1/revisions/{ref}/rear",
    roles=EVERYBODY,
    answer=RearAnswer,
    query=BumpRolls,
    problems=OF_ENGINE,
    about="Answer how the rear axle is held by its rods, stands, and moves over bump and axle roll",
)

READ_JOINTS: Final = reading(
    "read_joints",
    "/v1/revisions/{ref}/joints",
    roles=EVERYBODY,
    answer=JointsAnswer,
    query=WheelForces,
    problems=OF_ENGINE,
    about="Answer what the front joints cost in friction, how far they swing, and what they and their studs carry "
    "under stated forces",
)

READ_DAMPING: Final = reading(
    "read_damping",
    "/v1/revisions/{ref}/damping",
    roles=EVERYBODY,
    answer=DampingAnswer,
    query=DampingQuery,
    problems=OF_ENGINE,
    about="Answer what the shocks, springs, bars, tires and gears come to",
)

READ_LOADS: Final = reading(
    "read_loads",
    "/v1/revisions/{ref}/loads",
    roles=EVERYBODY,
    answer=LoadsAnswer,
    problems=OF_ENGINE,
    about="Answer what the car weighs at each wheel, how stiff its axles are, where its weight is, and what one step "
    "of each perch, gas and tire does",
)

READ_SENSITIVITY: Final = reading(
    "read_sensitivity",
    "/v1/revisions/{ref}/sensitivity",
    roles=EVERYBODY,
    answer=SensitivityAnswer,
    query=SensitivityQuery,
    problems=OF_ENGINE,
    about="Answer what one step does, of each perch, shim, stud and pressure alone: cross, bite, heights, camber, "
    "toe, each as a what-if answers it",
)

READ_EFFECTS: Final = reading(
    "read_effects",
    "/v1/revisions/{ref}/effects",
    roles=EVERYBODY,
    answer=Effects,
    query=SinceTravels,
    problems=OF_ENGINE,
    about="Answer what the change from one revision to another does: as fitted, and after putting it right",
)

TRY_EDITS: Final = trying(
    "try_edits",
    "/v1/what-if",
    body=WhatIf,
    answer=Effects,
    example={"revision": "0f3a9c", "edits": [{"path": "setup.front.rf.upper_stud.length_in", "value": 1.7}]},
    about="Answer what edits would do to a revision; nothing is stored",
)

TRY_CORNERING: Final = trying(
    "try_cornering",
    "/v1/cornering",
    body=Cornering,
    answer=CorneringAnswer,
    example={"revision": "0f3a9c", "speed_mph": 55, "radius_ft": 300, "banking_deg": 6, "drive_force_lb": 400},
    about="Answer how a revision's car stands in a left-hand corner: loads, transfers, roll, travels, camber to "
    "the track; give speed_mph, or time_s, distance_ft and corner_speed_ratio. Nothing is stored",
)

TRY_ATTITUDE: Final = trying(
    "try_attitude",
    "/v1/attitude",
    body=Attitude,
    answer=AttitudeAnswer,
    example={"revision": "0f3a9c", "heave_in": -1.5, "roll_deg": 2.5, "pitch_deg": 0.5},
    about="Answer how a revision's car stands on its four wheels at a heave, roll, pitch and steering, its tires "
    "squashed as their loads there say, beside its ride height; with edits, what they do there. Nothing is stored",
)

READ_WORK: Final = reading(
    "read_work",
    "/v1/revisions/{ref}/work",
    roles=PEOPLE,
    answer=WorkCard,
    query=SinceWork,
    problems=(*OF_DOCUMENT, "bad_document", "busy"),
    about="Make the work card from one revision to another: jobs in the order in which that crew is done first, "
    "what fits in the minutes given, parts, re-checks, cautions; with undo the way back",
)

READ_JOBS: Final = reading(
    "read_jobs",
    "/v1/jobs",
    roles=PEOPLE,
    answer=JobTable,
    about="Give the job table: what each kind of job takes, by the team's own figures where it gave any",
)
