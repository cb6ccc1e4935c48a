"""What the service says about itself: alive, ready, how it is talked to."""

from functools import cache
from importlib.resources import files
from typing import Final

from litestar import get
from litestar.params import FromPath

from studbook_service.actions.refusals import Refusal
from studbook_service.http.asked import Asked
from studbook_service.http.metrics import MEDIA_TYPE, Metrics
from studbook_service.http.openapi import document_bytes
from studbook_service.http.replies import Reply, plain, tagged

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


@get("/livez")
async def live(request: Asked) -> Reply:  # noqa: ARG001 - the framework asks for a handler's request by name
    """Say that the process answers."""
    return plain(b'{"status":"alive"}')


@get("/readyz")
async def ready(request: Asked) -> Reply:
    """Say that the database answers and fits."""
    await request.app.state.readiness.check()
    return plain(b'{"status":"ready"}')


@get("/metrics")
async def measure(request: Asked) -> Reply:
    """Say what this process counted, to whoever asks it directly: not to those who come through the proxy."""
    if "x-forwarded-for" in request.headers:
        raise Refusal("not_found")
    metrics: Metrics = request.app.state.metrics
    return Reply(metrics.page(), media_type=MEDIA_TYPE, headers={"cache-control": "no-store"})


@get("/openapi.json")
async def describe(request: Asked) -> Reply:
    """Describe the API."""
    return tagged(request.headers.get("if-none-match"), document_bytes(), cache=_PUBLIC)


@get("/docs")
async def show_page(request: Asked) -> Reply:
    """Show the API."""
    return _page(request, "page.html")


@get("/docs/{file:str}")
async def show_file(request: Asked, file: FromPath[str]) -> Reply:
    """Give a part of the page."""
    return _page(request, file)


def _page(request: Asked, name: str) -> Reply:
    if name not in PAGES:
        raise Refusal("not_found", f"the page has no part {name[:80]}")
    asked = request.headers.get("if-none-match")
    policy = {"content-security-policy": _POLICY, "x-content-type-options": "nosniff"}
    return tagged(asked, _bytes(name), cache=_PUBLIC, media_type=PAGES[name], headers=policy)


@cache
def _bytes(name: str) -> bytes:
    return (files("studbook_service.http") / "pages" / name).read_bytes()


HANDLERS = [live, ready, measure, describe, show_page, show_file]
