"""Searches for parts."""

from litestar import post

from studbook.wire.loads import PerchSearch
from studbook.wire.searches import CarryOver, StudSearch
from studbook_service.actions import answering, searching
from studbook_service.http.asked import Asked
from studbook_service.http.replies import Reply, plain


@post("/v1/searches/studs")
async def search_studs(request: Asked) -> Reply:
    """Answer which parts come closest to a camber curve."""
    desk, bearer = await request.enter()
    return plain(await searching.studs(desk, bearer, await request.read(StudSearch)))


@post("/v1/searches/carry-over")
async def search_carry_over(request: Asked) -> Reply:
    """Answer by which parts one car is like another."""
    desk, bearer = await request.enter()
    return plain(await searching.carry_over(desk, bearer, await request.read(CarryOver)))


@post("/v1/searches/perches")
async def search_perches(request: Asked) -> Reply:
    """Answer which perch turns reach a cross weight."""
    desk, bearer = await request.enter()
    return plain(await answering.perches(desk, bearer, await request.read(PerchSearch)))


HANDLERS = [search_studs, search_carry_over, search_perches]
