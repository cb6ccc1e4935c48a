"""Records beside setups: for each kind the same five handlers, made from the table of kinds."""

from collections.abc import Awaitable, Callable
from typing import Any
from urllib.parse import quote

from litestar import get, patch, post
from litestar.handlers import HTTPRouteHandler
from msgspec import UNSET

from studbook.wire.part_states import PartsQuery
from studbook.wire.records import KINDS, NewRecord, RecordChange, RecordKind
from studbook_service.actions import records, shelf
from studbook_service.actions.recording import Terms
from studbook_service.http.asked import Asked
from studbook_service.http.queries import Nothing, Page, list_of
from studbook_service.http.replies import Reply, plain, state_tag

Handler = Callable[[Asked], Awaitable[Reply]]


@get("/v1/shelf")
async def read_shelf(request: Asked) -> Reply:
    """Say how parts stand."""
    desk, bearer = await request.enter()
    return request.reply(await shelf.read_shelf(desk, bearer, request.ask(PartsQuery)))


def handlers_of(kind: RecordKind) -> list[HTTPRouteHandler]:
    """Make the handlers of one kind; each bears the name of its operation."""
    one = "/".join([kind.path, *(f"{{{step}:str}}" for step in kind.steps)])
    form = list_of(kind)

    async def listed(request: Asked) -> Reply:
        desk, bearer = await request.enter()
        page = request.ask(form)
        wanted = {
            name: value for name in (*kind.steps[:-1], *kind.filters) if (value := getattr(page, name)) is not UNSET
        }
        found = await records.list_records(desk, bearer, kind, wanted, limit=page.limit, cursor=page.cursor or None)
        query = "&".join([f"limit={page.limit}", *(f"{name}={quote(value)}" for name, value in wanted.items())])
        return request.reply(found, headers=_next(f"{kind.path}?{query}", found.next))

    async def added(request: Asked) -> Reply:
        desk, bearer = await request.enter()
        wanted = await request.read(NewRecord)
        record, fresh = await records.add_record(desk, bearer, kind, wanted, await request.keyed(Terms(new=True)))
        location = {"location": f"{kind.path}/{record.name}"} if fresh else {}
        return plain(record, status=201 if fresh else 200, headers={"etag": f'"{record.tag}"', **location})

    async def shown(request: Asked) -> Reply:
        desk, bearer = await request.enter()
        request.ask(Nothing)
        record = await records.read_record(desk, bearer, kind, _name(kind, request))
        return request.reply(record, tag=state_tag(record.tag, record))

    async def changed(request: Asked) -> Reply:
        desk, bearer = await request.enter()
        terms = await request.terms()
        wanted = await request.read(RecordChange)
        record = await records.change_record(desk, bearer, kind, _name(kind, request), wanted, terms)
        return plain(record, headers={"etag": f'"{record.tag}"'})

    async def history(request: Asked) -> Reply:
        desk, bearer = await request.enter()
        page = request.ask(Page)
        name = _name(kind, request)
        found = await records.history(desk, bearer, kind, name, limit=page.limit, cursor=page.cursor or None)
        return request.reply(found, headers=_next(f"{kind.path}/{name}/history?limit={page.limit}", found.next))

    listing, reading, of_history = kind.reading
    adding, changing = kind.writing
    return [
        get(kind.path)(_named(listed, listing)),
        post(kind.path)(_named(added, adding)),
        get(one)(_named(shown, reading)),
        patch(one)(_named(changed, changing)),
        get(f"{one}/history")(_named(history, of_history)),
    ]


def _named(handler: Handler, name: str) -> Handler:
    handler.__name__ = handler.__qualname__ = name
    return handler


def _name(kind: RecordKind, request: Asked) -> str:
    return "/".join(request.path_params[step] for step in kind.steps)


def _next(path: str, cursor: Any) -> dict[str, str]:
    return {"link": f'<{path}&cursor={cursor}>; rel="next"'} if cursor else {}


HANDLERS = [read_shelf, *(handler for kind in KINDS.values() for handler in handlers_of(kind))]
