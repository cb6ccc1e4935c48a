"""Answers of the engine about revisions, computed in the worker's thread and remembered."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from functools import partial
from hashlib import sha256
from typing import Protocol, TypeVar
from uuid import UUID

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import FieldChange
from studbook.wire.answers import Effects, Travels, WhatIf
from studbook.wire.around_scales import Race
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingQuery
from studbook.wire.entries import Answer, Request
from studbook.wire.joints import WheelForces
from studbook.wire.loads import Cornering, PerchSearch
from studbook.wire.problem import FieldFault
from studbook.wire.rear import BumpRolls
from studbook_service import engine
from studbook_service.actions import documents
from studbook_service.actions.desk import Desk
from studbook_service.actions.lines import resolve
from studbook_service.actions.refusals import Refusal, engine_refusals
from studbook_service.store import Bearer
from studbook_service.translate.attitude import attitude_tried
from studbook_service.translate.cornering import cornering_answer
from studbook_service.translate.damping import damping_answer
from studbook_service.translate.effects import effects_between
from studbook_service.translate.front import front_answer
from studbook_service.translate.joints import joints_answer
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.origins import ORIGINS_MOST, origins, trees_of
from studbook_service.translate.perch_turns import perches_answer
from studbook_service.translate.rear import rear_answer
from studbook_service.translate.stances import Place
from studbook_service.translate.subjects import stood

A = TypeVar("A", bound=Answer)


class About(Protocol):
    """Answers about a document."""

    def __call__(self, tree: Tree, /, *, origins: Mapping[str, Tree]) -> Answer:
        """Answer; `origins` says in which document each reading was entered."""


@dataclass(frozen=True, slots=True)
class Answered:
    """An answer that is computed only if it is asked for.

    Attributes:
        tag: names it before it is known: the revisions, the engine and the parameters decide it.
        body: gives it, encoded.
    """

    tag: str
    body: Callable[[], Awaitable[bytes]]


async def front(desk: Desk, bearer: Bearer, reference: str, travels: Travels) -> Answered:
    """Answer how the front end of a revision stands and moves.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    return await about_one("front", desk, bearer, reference, travels, partial(front_answer, travels=travels))


async def rear(desk: Desk, bearer: Bearer, reference: str, over: BumpRolls) -> Answered:
    """Answer how the rear axle of a revision is held, stands and moves.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    return await about_one("rear", desk, bearer, reference, over, partial(rear_answer, over=over))


async def joints(desk: Desk, bearer: Bearer, reference: str, forces: WheelForces) -> Answered:
    """Answer about the front joints of a revision.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    return await about_one("joints", desk, bearer, reference, forces, partial(joints_answer, asked=forces))


async def damping(desk: Desk, bearer: Bearer, reference: str, asked: DampingQuery) -> Answered:
    """Answer about the shocks, springs, bars, tires and gears of a revision.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `busy`.
    """
    return await about_one("damping", desk, bearer, reference, asked, partial(damping_answer, asked=asked))


async def loads(desk: Desk, bearer: Bearer, reference: str) -> Answered:
    """Answer what the car of a revision weighs at each wheel.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    return await about_one("loads", desk, bearer, reference, Request(), loads_answer)


async def cornering(desk: Desk, bearer: Bearer, wanted: Cornering) -> bytes:
    """Answer how a revision's car stands in a corner, with edits tried on it if there are any; nothing is stored.

    Raises:
        Refusal: `bad_request` for a corner without one speed; `bad_document`, `not_found`, `ambiguous`, `erased`,
            `fields_missing`, `cannot_close`, `busy`.
    """
    _refuse_speedless(wanted)
    return await about_tried(desk, bearer, wanted, partial(cornering_answer, wanted=wanted))


async def perches(desk: Desk, bearer: Bearer, wanted: PerchSearch) -> bytes:
    """Answer which perch turns bring a revision's car to a cross weight, with edits tried on it; nothing is stored.

    Raises:
        Refusal: `bad_document`, `not_found`, `ambiguous`, `erased`, `fields_missing`, `cannot_close`, `busy`.
    """
    return await about_tried(desk, bearer, wanted, partial(perches_answer, wanted=wanted))


def _refuse_speedless(wanted: Cornering) -> None:
    """Refuse a corner that has no speed, or two."""
    timed = {name: getattr(wanted, name) for name in ("time_s", "distance_ft", "corner_speed_ratio")}
    given = [name for name, value in timed.items() if value is not UNSET]
    if wanted.speed_mph is not UNSET and not given:
        return
    if wanted.speed_mph is UNSET and len(given) == len(timed):
        return
    said = f"speed_mph: give it, or all of {', '.join(timed)}, and not both"
    raise Refusal("bad_request", said, errors=[FieldFault(pointer="/speed_mph", detail=said)])


async def about_tried(desk: Desk, bearer: Bearer, wanted: Cornering | PerchSearch | Race, answer: About) -> bytes:
    """Answer about one revision with edits tried on it."""
    changes = documents.edits(wanted.edits)
    chain = await lineage(desk, bearer.team, await known(desk, bearer.team, wanted.revision))

    def work() -> Answer:
        trees = trees_of(chain)
        tried = [_edited(changes, trees[0], allow_unknown=wanted.allow_unknown)] if changes else []
        line = [*tried, *trees]
        return answer(line[0], origins=origins(line))

    return msgspec.json.encode(await worked(desk, work))


async def attitude(desk: Desk, bearer: Bearer, wanted: Attitude) -> bytes:
    """Answer how a revision's car stands at an attitude, with edits tried on it if there are any; nothing is stored.

    Raises:
        Refusal: `bad_document`, `not_found`, `ambiguous`, `erased`, `fields_missing`, `cannot_close`, `busy`.
    """
    changes = documents.edits(wanted.edits)
    id_ = await known(desk, bearer.team, wanted.revision)
    chain = await lineage(desk, bearer.team, id_)
    place = Place(wanted.heave_in, wanted.roll_deg, wanted.pitch_deg)

    def work() -> AttitudeAnswer:
        trees = trees_of(chain)
        edited = _edited(changes, trees[0], allow_unknown=wanted.allow_unknown) if changes else None
        return attitude_tried(trees, edited=edited, place=place, steer_in=wanted.steer_in)

    return msgspec.json.encode(await worked(desk, work))


async def effects(desk: Desk, bearer: Bearer, reference: str, since: str, travels: Travels) -> Answered:
    """Answer what the change from one revision to another does.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    old, new = await known(desk, bearer.team, since), await known(desk, bearer.team, reference)

    async def compute() -> Answer:
        before, after = await asyncio.gather(lineage(desk, bearer.team, old), lineage(desk, bearer.team, new))

        def work() -> Effects:
            answer = effects_between(stood(trees_of(before)), stood(trees_of(after)), travels=travels)
            answer.since, answer.revision = old.hex(), new.hex()
            return answer

        return await worked(desk, work)

    return _remembered(desk, bearer.team, _tag("effects", [old, new], travels), compute)


async def what_if(desk: Desk, bearer: Bearer, wanted: WhatIf) -> bytes:
    """Answer what edits would do; nothing is stored.

    Raises:
        Refusal: `bad_document`, `not_found`, `ambiguous`, `erased`, `fields_missing`, `cannot_close`, `busy`.
    """
    changes = documents.edits(wanted.edits)
    id_ = await known(desk, bearer.team, wanted.revision)
    chain = await lineage(desk, bearer.team, id_)

    def work() -> Effects:
        before = trees_of(chain)
        edited = _edited(changes, before[0], allow_unknown=wanted.allow_unknown)
        answer = effects_between(stood(before), stood([edited, *before]), travels=wanted.travels)
        answer.since = id_.hex()
        return answer

    return msgspec.json.encode(await worked(desk, work))


def _edited(changes: list[FieldChange], tree: Tree, *, allow_unknown: bool) -> Tree:
    edited = documents.edited(changes, tree)
    if not allow_unknown:
        documents.refuse_unknown(edited, parents=[tree], changes=changes)
    return edited


async def about_one(
    kind: str,
    desk: Desk,
    bearer: Bearer,
    reference: str,
    asked: msgspec.Struct,
    answer: About,
) -> Answered:
    """Answer about one revision."""
    id_ = await known(desk, bearer.team, reference)

    async def compute() -> Answer:
        chain = await lineage(desk, bearer.team, id_)

        def work() -> Answer:
            trees = trees_of(chain)
            return answer(trees[0], origins=origins(trees))

        return await worked(desk, work)

    return _remembered(desk, bearer.team, _tag(kind, [id_], asked), compute)


async def known(desk: Desk, team: UUID, reference: str) -> bytes:
    """Resolve a reference and make sure that the team has it."""
    id_ = await resolve(desk, team, reference)
    await desk.document(team, id_)
    return id_


async def lineage(desk: Desk, team: UUID, id_: bytes) -> list[bytes]:
    """Read a document and those it came from, newest first; what was erased is passed over."""
    return [entry.body for entry in await desk.book.ancestors(team, id_, limit=ORIGINS_MOST) if entry.body]


def _tag(kind: str, ids: list[bytes], asked: msgspec.Struct) -> str:
    """Name an answer by ids, not contents: where a reading came from depends on the revisions before."""
    parts = [kind, *(id_.hex() for id_ in ids), engine.VERSION, *map(str, msgspec.structs.astuple(asked))]
    return sha256("\n".join(parts).encode()).hexdigest()[:32]


def _remembered(desk: Desk, team: UUID, tag: str, compute: Callable[[], Awaitable[Answer]]) -> Answered:
    async def body() -> bytes:
        memory = desk.answers
        found = memory.get((team, tag))
        if found is None:
            found = msgspec.json.encode(await compute())
            memory.put((team, tag), found, len(found) + 200)
        return found

    return Answered(tag, body)


async def worked(desk: Desk, work: Callable[[], A]) -> A:
    """Compute in the worker's thread.

    Raises:
        Refusal: `fields_missing`, `cannot_close`, `too_costly`, `busy`.
    """
    with engine_refusals():
        return await desk.worker.run(work)
