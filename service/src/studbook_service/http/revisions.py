"""Revisions by id, and answers about them."""

from litestar import get, post
from litestar.params import FromPath

from studbook.wire.answers import Travels, WhatIf
from studbook.wire.attitude import Attitude
from studbook.wire.damping import DampingQuery
from studbook.wire.joints import WheelForces
from studbook.wire.loads import Cornering
from studbook.wire.rear import BumpRolls
from studbook_service.actions import answering, revisions
from studbook_service.actions.answering import Answered
from studbook_service.actions.lines import FULL_ID_DIGITS
from studbook_service.http.asked import Asked
from studbook_service.http.queries import Nothing, Since, SinceTravels
from studbook_service.http.replies import IMMUTABLE, REVALIDATED, Reply, named, plain, tagged


@get("/v1/revisions/{ref:str}")
async def read_revision(request: Asked, ref: FromPath[str]) -> Reply:
    """Read a revision."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await revisions.read_revision(desk, bearer, ref))


@get("/v1/revisions/{ref:str}/document")
async def read_document(request: Asked, ref: FromPath[str]) -> Reply:
    """Read a revision's document; under its full id it never changes."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    document = await revisions.read_document(desk, bearer, ref)
    cache = IMMUTABLE if len(ref) == FULL_ID_DIGITS else REVALIDATED
    return tagged(request.headers.get("if-none-match"), document.body, tag=document.content.hex(), cache=cache)


@get("/v1/revisions/{ref:str}/changes")
async def read_changes(request: Asked, ref: FromPath[str]) -> Reply:
    """Compare two revisions."""
    desk, bearer = await request.enter()
    return request.reply(await revisions.read_changes(desk, bearer, ref, request.ask(Since).since))


@get("/v1/revisions/{ref:str}/front")
async def read_front(request: Asked, ref: FromPath[str]) -> Reply:
    """Answer about the front end."""
    desk, bearer = await request.enter()
    return await computed(request, await answering.front(desk, bearer, ref, request.ask(Travels)))


@get("/v1/revisions/{ref:str}/rear")
async def read_rear(request: Asked, ref: FromPath[str]) -> Reply:
    """Answer about the rear axle."""
    desk, bearer = await request.enter()
    return await computed(request, await answering.rear(desk, bearer, ref, request.ask(BumpRolls)))


@get("/v1/revisions/{ref:str}/effects")
async def read_effects(request: Asked, ref: FromPath[str]) -> Reply:
    """Answer what a change does."""
    desk, bearer = await request.enter()
    asked = request.ask(SinceTravels)
    return await computed(request, await answering.effects(desk, bearer, ref, asked.since, asked.travels()))


@post("/v1/what-if")
async def try_edits(request: Asked) -> Reply:
    """Answer what edits would do."""
    desk, bearer = await request.enter()
    return plain(await answering.what_if(desk, bearer, await request.read(WhatIf)))


@get("/v1/revisions/{ref:str}/joints")
async def read_joints(request: Asked, ref: FromPath[str]) -> Reply:
    """Answer about the front joints."""
    desk, bearer = await request.enter()
    return await computed(request, await answering.joints(desk, bearer, ref, request.ask(WheelForces)))


@get("/v1/revisions/{ref:str}/damping")
async def read_damping(request: Asked, ref: FromPath[str]) -> Reply:
    """Answer about shocks, springs, bars, tires and gears."""
    desk, bearer = await request.enter()
    return await computed(request, await answering.damping(desk, bearer, ref, request.ask(DampingQuery)))


@get("/v1/revisions/{ref:str}/loads")
async def read_loads(request: Asked, ref: FromPath[str]) -> Reply:
    """Answer about the car on its scales."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return await computed(request, await answering.loads(desk, bearer, ref))


@post("/v1/cornering")
async def try_cornering(request: Asked) -> Reply:
    """Answer how the car stands in a corner."""
    desk, bearer = await request.enter()
    return plain(await answering.cornering(desk, bearer, await request.read(Cornering)))


@post("/v1/attitude")
async def try_attitude(request: Asked) -> Reply:
    """Answer how the car stands at an attitude."""
    desk, bearer = await request.enter()
    return plain(await answering.attitude(desk, bearer, await request.read(Attitude)))


async def computed(request: Asked, answered: Answered) -> Reply:
    """Reply with an answer, computed only for a client that lacks it.

    Raises:
        Refusal: what the answer cannot be computed for.
    """
    if request.has(answered.tag):
        return Reply(status=304, headers=named(answered.tag))
    return request.reply(await answered.body(), tag=answered.tag)


HANDLERS = [
    read_revision,
    read_document,
    read_changes,
    read_front,
    read_rear,
    read_joints,
    read_damping,
    read_loads,
    read_effects,
    try_edits,
    try_attitude,
    try_cornering,
]
