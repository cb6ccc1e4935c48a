"""What the service says about itself: alive, ready, how it is talked to."""

from functools import cache
from importlib.resources import files
from typing import Final

from studbook.wire.operations import service as operations
from studbook.wire.service import ServiceState
from studbook_service.actions.refusals import Refusal
from studbook_service.http.metrics import MEDIA_TYPE, Metrics
from studbook_service.http.openapi import document_bytes
from studbook_service.http.replies import HttpReply, plain, tagged
from studbook_service.http.request import ApiRequest
from studbook_service.http.routes import serves

PAGES: Final = {
    "page.html": "text/html; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "swagger-ui-bundle.js": "text/javascript; charset=utf-8",
    "swagger-ui.css": "text/css; charset=utf-8",
    "favicon-32x32.png": "image/png",
    "LICENSE": "text/plain; charset=utf-8",
}
_PUBLIC = "public, no-cache"
# The page may load and call this service and nothing else.
_POLICY = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'"


@serves(operations.LIVE)
async def live(request: ApiRequest) -> HttpReply:  # noqa: ARG001 - the framework asks for a handler's request by name
    """Say that the process answers."""
    return plain(ServiceState(status="alive"))


@serves(operations.READY)
async def ready(request: ApiRequest) -> HttpReply:
    """Say that the database answers and fits."""
    await request.app.state.readiness.check()
    return plain(ServiceState(status="ready"))


@serves(operations.MEASURE)
async def measure(request: ApiRequest) -> HttpReply:
    """Say what this process counted, to whoever asks it directly: not to those who come through the proxy."""
    if "x-forwarded-for" in request.headers:
        raise Refusal("not_found")
    metrics: Metrics = request.app.state.metrics
    return HttpReply(metrics.page(), media_type=MEDIA_TYPE, headers={"cache-control": "no-store"})


@serves(operations.DESCRIBE)
async def describe(request: ApiRequest) -> HttpReply:
    """Describe the API."""
    return tagged(request.headers.get("if-none-match"), document_bytes(), cache=_PUBLIC)


@serves(operations.SHOW_PAGE)
async def show_page(request: ApiRequest) -> HttpReply:
    """Show the API."""
    return _page(request, "page.html")


@serves(operations.SHOW_FILE)
async def show_file(request: ApiRequest) -> HttpReply:
    """Give a part of the page."""
    return _page(request, request.path_params["file"])


def _page(request: ApiRequest, name: str) -> HttpReply:
    if name not in PAGES:
        raise Refusal("not_found", f"the page has no part {name[:80]}")
    held = request.headers.get("if-none-match")
    policy = {"content-security-policy": _POLICY, "x-content-type-options": "nosniff"}
    return tagged(held, _bytes(name), cache=_PUBLIC, media_type=PAGES[name], headers=policy)


@cache
def _bytes(name: str) -> bytes:
    return (files("studbook_service.http") / "pages" / name).read_bytes()


ROUTES = [live, ready, measure, describe, show_page, show_file]
