"""The season's report."""

from litestar import get

from studbook.wire.season import SeasonQuery
from studbook_service.actions import season
from studbook_service.http.asked import Asked
from studbook_service.http.replies import Reply


@get("/v1/reports/season")
async def report_season(request: Asked) -> Reply:
    """Report a season."""
    desk, bearer = await request.enter()
    tag, body = await season.season(desk, bearer, request.ask(SeasonQuery))
    return request.reply(body, tag=tag)


HANDLERS = [report_season]
