"""The work card, and the job table behind it."""

from litestar import get
from litestar.params import FromPath

from studbook.wire.entries import ShortId
from studbook.wire.work import WorkQuery
from studbook_service.actions import working
from studbook_service.http.asked import Asked
from studbook_service.http.replies import Reply


class SinceWork(WorkQuery, kw_only=True):
    """From which revision, and what the card is made for."""

    since: ShortId


@get("/v1/revisions/{ref:str}/work")
async def read_work(request: Asked, ref: FromPath[str]) -> Reply:
    """Make the work card of a change."""
    desk, bearer = await request.enter()
    asked = request.ask(SinceWork)
    return request.reply(await working.work(desk, bearer, ref, asked.since, asked))


@get("/v1/jobs")
async def read_jobs(request: Asked) -> Reply:
    """Give the job table."""
    desk, bearer = await request.enter()
    return request.reply(await working.jobs(desk, bearer))


HANDLERS = [read_work, read_jobs]
