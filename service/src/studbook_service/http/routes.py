"""Every operation as a route, made from its row: path, method, what is read, and how the answer is sent.

All that follows from the row is settled at the start, so that a request pays for nothing of it.
"""

import re
from collections import Counter
from collections.abc import Awaitable, Callable, Sequence
from typing import Any
from urllib.parse import quote

import msgspec
from litestar.handlers import HTTPRouteHandler
from msgspec import UNSET

from studbook.wire.entries import Request
from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.row import Operation
from studbook_service.actions.entries import Precondition
from studbook_service.actions.export import TableExport
from studbook_service.actions.operations import Action
from studbook_service.actions.results import LazyAnswer, Tagged, Written
from studbook_service.http.export import rows_of
from studbook_service.http.replies import IMMUTABLE, JSON, REVALIDATED, HttpReply, named, plain
from studbook_service.http.request import ApiRequest

Handler = Callable[[ApiRequest], Awaitable[HttpReply]]
NEW_LINE = Precondition(new=True)
_STEP = re.compile(r"\{(\w+)\}")


def serves(operation: Operation[Any]) -> Callable[[Handler], HTTPRouteHandler]:
    """Make a route of a handler: the row says where, and travels with it to whoever checks rights.

    A handler's name has no meaning.
    """
    return HTTPRouteHandler(
        _STEP.sub(r"{\1:str}", operation.path),
        http_method=operation.method,
        status_code=operation.statuses[-1],
        opt={"operation": operation},
    )


def route_of(operation: Operation[Any], action: Action) -> HTTPRouteHandler:
    """Make the route of an operation that an action carries out."""
    steps, body, reads = _STEP.findall(operation.path), operation.body, operation.reads
    queried = operation.method == "GET" or operation.query is not Request
    conditional, keyed = "If-Match" in operation.sends, "Idempotency-Key" in operation.sends
    reply = _replies(operation)

    async def handle(request: ApiRequest) -> HttpReply:
        context, bearer = await request.enter()
        given: list[Any] = [request.path_params[step] for step in steps]
        query = request.query(operation.query) if queried else None
        if operation.query is not Request:
            given.append(query)
        precondition = await request.precondition() if conditional else None
        if body is not None:
            given.append(await request.content(body))
        elif reads is not None:
            given.append(await request.raw(reads))
        if keyed:
            given.append(precondition or await request.keyed(NEW_LINE))
        return await reply(request, query, await action(context, bearer, *given))

    return serves(operation)(handle)


def refuse_incomplete(routes: Sequence[HTTPRouteHandler]) -> None:
    """Make sure that every operation is served once, and nothing else.

    Raises:
        RuntimeError: an operation has not one route, or a route no row.
    """
    served = Counter(route.opt.get("operation") for route in routes)
    wrong = [operation.name for operation in OPERATIONS if served[operation] != 1]
    unknown = [sorted(route.paths) for route in routes if route.opt.get("operation") not in OPERATIONS]
    if wrong or unknown:
        raise RuntimeError(f"not served once: {wrong}; served without a row: {unknown}")


def _replies(operation: Operation[Any]) -> Callable[[ApiRequest, Any, Any], Awaitable[HttpReply]]:
    """Give what sends the results of an operation's action."""
    statuses, made_at = operation.statuses, operation.made_at
    of_tag, linked = "If-None-Match" in operation.sends, "Link" in operation.gives
    media_type = operation.media[0] if operation.media else JSON

    async def reply(request: ApiRequest, query: Any, result: Any) -> HttpReply:
        if isinstance(result, LazyAnswer):
            if request.has(result.tag):
                return HttpReply(status=304, headers=named(result.tag))
            result = Tagged(await result.compute(), result.tag)
        match result:
            case Tagged():
                return request.tagged(result.answer, tag=result.tag, cache=IMMUTABLE if result.forever else REVALIDATED)
            case Written():
                location = {"location": made_at + result.made} if result.made else {}
                status = statuses[-1] if result.now else statuses[0]
                return plain(result.answer, status=status, headers={"etag": f'"{result.tag}"', **location})
            case TableExport():
                return rows_of(result, may=request.enter)
        if of_tag:
            return request.tagged(result, headers=_link(request, query, result) if linked else None)
        return plain(result, status=statuses[-1], media_type=media_type)

    return reply


def _link(request: ApiRequest, query: Any, page: Any) -> dict[str, str]:
    """Name the page after this one, if there is one."""
    if page.next is UNSET:
        return {}
    given = msgspec.structs.asdict(query) | {"cursor": UNSET}
    parameters = [f"{name}={quote(str(value))}" for name, value in given.items() if value is not UNSET]
    return {"link": f'<{request.url.path}?{"&".join([*parameters, f"cursor={page.next}"])}>; rel="next"'}
