"""Answers around the scales."""

from litestar import get, post
from litestar.params import FromPath

from studbook.wire.around_scales import Race, Returned, SensitivityQuery
from studbook_service.actions import around_scales
from studbook_service.http.asked import Asked
from studbook_service.http.queries import Nothing
from studbook_service.http.replies import Reply, plain
from studbook_service.http.revisions import computed


@get("/v1/revisions/{ref:str}/sensitivity")
async def read_sensitivity(request: Asked, ref: FromPath[str]) -> Reply:
    """Answer what one step of everything does."""
    desk, bearer = await request.enter()
    return await computed(request, await around_scales.sensitivity(desk, bearer, ref, request.ask(SensitivityQuery)))


@post("/v1/after-race")
async def try_race(request: Asked) -> Reply:
    """Answer what the car weighs after the race."""
    desk, bearer = await request.enter()
    return plain(await around_scales.after_race(desk, bearer, await request.read(Race)))


@post("/v1/returned")
async def try_check(request: Asked) -> Reply:
    """Hold the readings of a car that came back against the book."""
    desk, bearer = await request.enter()
    return plain(await around_scales.try_check(desk, bearer, await request.read(Returned)))


@get("/v1/checks/{car:str}/{check:str}/findings")
async def read_check_findings(request: Asked, car: FromPath[str], check: FromPath[str]) -> Reply:
    """Hold a check that was recorded against the book."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await around_scales.check(desk, bearer, f"{car}/{check}"))


@get("/v1/scale-sessions/{car:str}/{session:str}/weights")
async def read_session_weights(request: Asked, car: FromPath[str], session: FromPath[str]) -> Reply:
    """Answer what a scale session comes to."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await around_scales.session(desk, bearer, f"{car}/{session}"))


HANDLERS = [read_sensitivity, try_race, try_check, read_check_findings, read_session_weights]
