"""Members and their tokens."""

from litestar import get

from studbook_service.actions import bearers
from studbook_service.http.asked import Asked
from studbook_service.http.queries import Nothing
from studbook_service.http.replies import Reply


@get("/v1/me")
async def read_me(request: Asked) -> Reply:
    """Say who holds the token."""
    _, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(bearers.me(bearer))


HANDLERS = [read_me]
