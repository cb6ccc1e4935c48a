"""Answers of the engine about revisions, computed in the worker's thread and remembered."""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from hashlib import sha256
from typing import TypeVar
from uuid import UUID

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import Change
from studbook.wire.answers import Effects, Travels, WhatIf
from studbook.wire.around_scales import Race
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingAsked
from studbook.wire.entries import Answer, Request
from studbook.wire.joints import WheelForces
from studbook.wire.loads import Cornering, PerchSearch
from studbook.wire.problem import FieldFault
from studbook.wire.rear import BumpRolls
from studbook_service import engine
from studbook_service.actions import documents, geometry
from studbook_service.actions.desk import Desk
from studbook_service.actions.geometry import ORIGINS_MOST, trees_of
from studbook_service.actions.lines import resolve
from studbook_service.actions.refusals import Refusal, engine_refusals
from studbook_service.store import Bearer
from studbook_service.translate.stances import Place

A = TypeVar("A", bound=Answer)


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
    id_ = await known(desk, bearer.team, reference)

    async def compute() -> Answer:
        chain = await lineage(desk, bearer.team, id_)

        def work() -> Answer:
            trees = trees_of(chain)
            return geometry.front(document=trees[0], origins=geometry.origins(trees), travels=travels)

        return await worked(desk, work)

    return _remembered(desk, bearer.team, _tag("front", [id_], travels), compute)


async def rear(desk: Desk, bearer: Bearer, reference: str, over: BumpRolls) -> Answered:
    """Answer how the rear axle of a revision is held, stands and moves.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    id_ = await known(desk, bearer.team, reference)

    async def compute() -> Answer:
        chain = await lineage(desk, bearer.team, id_)

        def work() -> Answer:
            trees = trees_of(chain)
            return geometry.rear(document=trees[0], origins=geometry.origins(trees), over=over)

        return await worked(desk, work)

    return _remembered(desk, bearer.team, _tag("rear", [id_], over), compute)


async def joints(desk: Desk, bearer: Bearer, reference: str, forces: WheelForces) -> Answered:
    """Answer about the front joints of a revision.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """

    def answer(trees: list[Tree]) -> Answer:
        return geometry.joints(document=trees[0], origins=geometry.origins(trees), forces=forces)

    return await about_one("joints", desk, bearer, reference, forces, answer)


async def damping(desk: Desk, bearer: Bearer, reference: str, asked: DampingAsked) -> Answered:
    """Answer about the shocks, springs, bars, tyres and gears of a revision.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `busy`.
    """

    def answer(trees: list[Tree]) -> Answer:
        return geometry.damping(document=trees[0], origins=geometry.origins(trees), asked=asked)

    return await about_one("damping", desk, bearer, reference, asked, answer)


async def loads(desk: Desk, bearer: Bearer, reference: str) -> Answered:
    """Answer what the car of a revision weighs at each wheel.

    Raises:
        Refusal: `not_found`, `ambiguous`, `erased`; the body: `fields_missing`, `cannot_close`, `busy`.
    """

    def answer(trees: list[Tree]) -> Answer:
        return geometry.loads(document=trees[0], origins=geometry.origins(trees))

    return await about_one("loads", desk, bearer, reference, Request(), answer)


async def cornering(desk: Desk, bearer: Bearer, wanted: Cornering) -> bytes:
    """Answer how a revision's car stands in a corner, with edits tried on it if there are any; nothing is stored.

    Raises:
        Refusal: `bad_request` for a corner without one speed; `bad_document`, `not_found`, `ambiguous`, `erased`,
            `fields_missing`, `cannot_close`, `busy`.
    """
    _refuse_speedless(wanted)

    def answer(trees: list[Tree]) -> Answer:
        return geometry.cornering(document=trees[0], origins=geometry.origins(trees), wanted=wanted)

    return await about_tried(desk, bearer, wanted, answer)


async def perches(desk: Desk, bearer: Bearer, wanted: PerchSearch) -> bytes:
    """Answer which perch turns bring a revision's car to a cross weight, with edits tried on it; nothing is stored.

    Raises:
        Refusal: `bad_document`, `not_found`, `ambiguous`, `erased`, `fields_missing`, `cannot_close`, `busy`.
    """

    def answer(trees: list[Tree]) -> Answer:
        return geometry.perches(document=trees[0], origins=geometry.origins(trees), wanted=wanted)

    return await about_tried(desk, bearer, wanted, answer)


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


async def about_tried(
    desk: Desk, bearer: Bearer, wanted: Cornering | PerchSearch | Race, answer: Callable[[list[Tree]], Answer]
) -> bytes:
    """Answer about one revision with edits tried on it, given the edited document and those it came from."""
    changes = documents.edits(wanted.edits)
    chain = await lineage(desk, bearer.team, await known(desk, bearer.team, wanted.revision))

    def work() -> Answer:
        trees = trees_of(chain)
        tried = [_edited(changes, trees[0], allow_unknown=wanted.allow_unknown)] if changes else []
        return answer([*tried, *trees])

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
        return geometry.attitude(trees, edited=edited, place=place, steer_in=wanted.steer_in)

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
            answer = _effects(trees_of(before), trees_of(after), travels)
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
        answer = _effects(before, [edited, *before], wanted.travels)
        answer.since = id_.hex()
        return answer

    return msgspec.json.encode(await worked(desk, work))


def _edited(changes: list[Change], tree: Tree, *, allow_unknown: bool) -> Tree:
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
    answer: Callable[[list[Tree]], Answer],
) -> Answered:
    """Answer about one revision, given its document and those it came from."""
    id_ = await known(desk, bearer.team, reference)

    async def compute() -> Answer:
        chain = await lineage(desk, bearer.team, id_)
        return await worked(desk, lambda: answer(trees_of(chain)))

    return _remembered(desk, bearer.team, _tag(kind, [id_], asked), compute)


async def known(desk: Desk, team: UUID, reference: str) -> bytes:
    """Resolve a reference and make sure that the team has it."""
    id_ = await resolve(desk, team, reference)
    await desk.document(team, id_)
    return id_


async def lineage(desk: Desk, team: UUID, id_: bytes) -> list[bytes]:
    """Read a document and those it came from, newest first; what was erased is passed over."""
    return [entry.body for entry in await desk.book.ancestors(team, id_, limit=ORIGINS_MOST) if entry.body]


def _effects(before: list[Tree], after: list[Tree], travels: Travels) -> Effects:
    return geometry.effects(
        before=before[0],
        after=after[0],
        before_origins=geometry.origins(before),
        after_origins=geometry.origins(after),
        travels=travels,
    )


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
