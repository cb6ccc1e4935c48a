"""Answers of the engine about revisions, computed in the engine thread and kept in the cache.

Answers are kept and tagged by revision id, engine version and parameters, not by content hash: what an alignment
reading implies depends on the revision in which it was entered, so equal documents may have different answers.

Each refuses with `not_found`, `ambiguous` or `erased` for its revision, `bad_document` for edits that do not fit, and
when computed with `fields_missing`, `cannot_close`, `too_costly` or `busy`.
"""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from functools import partial
from hashlib import sha256
from typing import Protocol, TypeVar
from uuid import UUID

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Effects, SinceTravels, Travels, WhatIf
from studbook.wire.around_scales import Race, SensitivityQuery
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingQuery
from studbook.wire.entries import Answer, Request
from studbook.wire.joints import WheelForces
from studbook.wire.loads import Cornering, PerchSearch
from studbook.wire.operations import revisions as operations
from studbook.wire.operations import searches
from studbook.wire.rear import BumpRolls
from studbook_service import engine
from studbook_service.actions import documents
from studbook_service.actions.context import Context
from studbook_service.actions.lines import resolve
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import engine_refusals, unfit
from studbook_service.actions.results import LazyAnswer
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
from studbook_service.translate.sensitivity import sensitivity_answer
from studbook_service.translate.stances import ChassisAttitude
from studbook_service.translate.subjects import DocumentAnswers

A = TypeVar("A", bound=Answer)


class About(Protocol):
    """Answers about a document."""

    def __call__(self, tree: Tree, /, *, origins: Mapping[str, Tree]) -> Answer:
        """Answer; `origins` says in which document each reading was entered."""


@carries_out(operations.READ_FRONT)
async def read_front(context: Context, bearer: Bearer, reference: str, query: Travels) -> LazyAnswer:
    """Answer how the front end of a revision stands and moves."""
    return await about_one("front", context, bearer, reference, query, partial(front_answer, travels=query))


@carries_out(operations.READ_REAR)
async def read_rear(context: Context, bearer: Bearer, reference: str, query: BumpRolls) -> LazyAnswer:
    """Answer how the rear axle of a revision is held, stands and moves."""
    return await about_one("rear", context, bearer, reference, query, partial(rear_answer, over=query))


@carries_out(operations.READ_JOINTS)
async def read_joints(context: Context, bearer: Bearer, reference: str, query: WheelForces) -> LazyAnswer:
    """Answer about the front joints of a revision."""
    return await about_one("joints", context, bearer, reference, query, partial(joints_answer, forces=query))


@carries_out(operations.READ_DAMPING)
async def read_damping(context: Context, bearer: Bearer, reference: str, query: DampingQuery) -> LazyAnswer:
    """Answer about the shocks, springs, bars, tires and gears of a revision."""
    return await about_one("damping", context, bearer, reference, query, partial(damping_answer, request=query))


@carries_out(operations.READ_LOADS)
async def read_loads(context: Context, bearer: Bearer, reference: str) -> LazyAnswer:
    """Answer what the car of a revision weighs at each wheel."""
    return await about_one("loads", context, bearer, reference, Request(), loads_answer)


@carries_out(operations.READ_SENSITIVITY)
async def read_sensitivity(context: Context, bearer: Bearer, reference: str, query: SensitivityQuery) -> LazyAnswer:
    """Answer what one step of everything does to a revision's car."""
    return await about_one("sensitivity", context, bearer, reference, query, partial(sensitivity_answer, request=query))


@carries_out(operations.READ_EFFECTS)
async def read_effects(context: Context, bearer: Bearer, reference: str, query: SinceTravels) -> LazyAnswer:
    """Answer what the change from one revision to another does."""
    travels = query.travels()
    old, new = await known_id(context, bearer.team, query.since), await known_id(context, bearer.team, reference)

    async def compute() -> Answer:
        before, after = await asyncio.gather(lineage(context, bearer.team, old), lineage(context, bearer.team, new))

        def work() -> Effects:
            answer = effects_between(
                DocumentAnswers(trees_of(before)), DocumentAnswers(trees_of(after)), travels=travels
            )
            answer.since, answer.revision = old.hex(), new.hex()
            return answer

        return await computed(context, work)

    return cached(context, bearer.team, _tag("effects", [old, new], travels), compute)


@carries_out(operations.TRY_EDITS)
async def try_edits(context: Context, bearer: Bearer, request: WhatIf) -> Effects:
    """Answer what edits would do."""

    def answer(id_: bytes, before: list[Tree], edited: Tree | None) -> Effects:
        found = effects_between(
            DocumentAnswers(before), DocumentAnswers([edited or {}, *before]), travels=request.travels
        )
        found.since = id_.hex()
        return found

    return await _tried(context, bearer, request, answer)


@carries_out(operations.TRY_ATTITUDE)
async def try_attitude(context: Context, bearer: Bearer, request: Attitude) -> AttitudeAnswer:
    """Answer how a revision's car stands at an attitude, with edits tried on it if there are any."""
    attitude = ChassisAttitude(request.heave_in, request.roll_deg, request.pitch_deg)

    def answer(_: bytes, trees: list[Tree], edited: Tree | None) -> AttitudeAnswer:
        return attitude_tried(trees, edited=edited, attitude=attitude, steer_in=request.steer_in)

    return await _tried(context, bearer, request, answer)


@carries_out(operations.TRY_CORNERING)
async def try_cornering(context: Context, bearer: Bearer, request: Cornering) -> Answer:
    """Answer how a revision's car stands in a corner, with edits tried on it if there are any.

    Raises:
        Refusal: `bad_request` for a corner without one speed.
    """
    timed = {name: getattr(request, name) for name in ("time_s", "distance_ft", "corner_speed_ratio")}
    given = [name for name, value in timed.items() if value is not UNSET]
    if (request.speed_mph is UNSET and len(given) < len(timed)) or (request.speed_mph is not UNSET and given):
        raise unfit("/speed_mph", f"speed_mph: give it, or all of {', '.join(timed)}, and not both")
    return await about_tried(context, bearer, request, partial(cornering_answer, wanted=request))


@carries_out(searches.SEARCH_PERCHES)
async def search_perches(context: Context, bearer: Bearer, request: PerchSearch) -> Answer:
    """Answer which perch turns bring a revision's car to a cross weight, with edits tried on it."""
    return await about_tried(context, bearer, request, partial(perches_answer, wanted=request))


async def about_one(
    kind: str, context: Context, bearer: Bearer, reference: str, query: Request, answer: About
) -> LazyAnswer:
    """Answer about one revision."""
    id_ = await known_id(context, bearer.team, reference)

    async def compute() -> Answer:
        chain = await lineage(context, bearer.team, id_)

        def work() -> Answer:
            trees = trees_of(chain)
            return answer(trees[0], origins=origins(trees))

        return await computed(context, work)

    return cached(context, bearer.team, _tag(kind, [id_], query), compute)


async def about_tried(
    context: Context, bearer: Bearer, request: Cornering | PerchSearch | Race, answer: About
) -> Answer:
    """Answer about one revision with edits tried on it."""

    def about(_: bytes, trees: list[Tree], edited: Tree | None) -> Answer:
        newest_first = trees if edited is None else [edited, *trees]
        return answer(newest_first[0], origins=origins(newest_first))

    return await _tried(context, bearer, request, about)


async def _tried(
    context: Context,
    bearer: Bearer,
    request: WhatIf | Attitude | Cornering | PerchSearch | Race,
    answer: Callable[[bytes, list[Tree], Tree | None], A],
) -> A:
    """Answer from a revision's id, its documents, the newest first, and the edited one, if there are edits."""
    changes = documents.edits(request.edits)
    id_ = await known_id(context, bearer.team, request.revision)
    chain = await lineage(context, bearer.team, id_)

    def work() -> A:
        trees = trees_of(chain)
        edited = documents.edited(changes, trees[0]) if changes else None
        if edited is not None and not request.allow_unknown:
            documents.refuse_unknown(edited, parents=[trees[0]], changes=changes)
        return answer(id_, trees, edited)

    return await computed(context, work)


async def known_id(context: Context, team: UUID, reference: str) -> bytes:
    """Resolve a reference and make sure that the team has it."""
    id_ = await resolve(context, team, reference)
    await context.document(team, id_)
    return id_


async def lineage(context: Context, team: UUID, id_: bytes) -> list[bytes]:
    """Read a document and those it came from, newest first; what was erased is passed over."""
    return [entry.body for entry in await context.book.ancestors(team, id_, limit=ORIGINS_MOST) if entry.body]


def _tag(kind: str, ids: list[bytes], query: Request) -> str:
    parts = [kind, *(id_.hex() for id_ in ids), engine.VERSION, *map(str, msgspec.structs.astuple(query))]
    return sha256("\n".join(parts).encode()).hexdigest()[:32]


def cached(context: Context, team: UUID, tag: str, compute: Callable[[], Awaitable[Answer]]) -> LazyAnswer:
    """Give an answer from the cache, or compute it and keep it there.

    Args:
        context: what this process gives every action.
        team: whose answer.
        tag: names the answer and all that it depends on.
        compute: gives it.
    """

    async def body() -> bytes:
        cache = context.answers
        found = cache.get((team, tag))
        if found is None:
            found = msgspec.json.encode(await compute())
            cache.put((team, tag), found, len(found) + 200)
        return found

    return LazyAnswer(tag, body)


async def computed(context: Context, work: Callable[[], A]) -> A:
    """Compute in the engine thread.

    Raises:
        Refusal: `fields_missing`, `cannot_close`, `too_costly`, `busy`.
    """
    with engine_refusals():
        return await context.engine_thread.run(work)
