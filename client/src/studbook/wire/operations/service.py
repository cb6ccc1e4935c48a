"""What the service says of itself, to anyone."""

from typing import Final

from studbook.wire.operations.row import PUBLIC, Operation, reading
from studbook.wire.service import ServiceState

LIVE: Final = Operation(
    name="live",
    method="GET",
    path="/livez",
    about="Say that the process answers",
    roles=PUBLIC,
    answer=ServiceState,
)

READY: Final = Operation(
    name="ready",
    method="GET",
    path="/readyz",
    about="Say that the database answers and its schema is current",
    roles=PUBLIC,
    answer=ServiceState,
    problems=("unavailable",),
)

MEASURE: Final = Operation(
    name="measure",
    method="GET",
    path="/metrics",
    about="Say what this process counted, as Prometheus reads it; not found through a proxy",
    roles=PUBLIC,
    answer=bytes,
    media=("text/plain",),
    problems=("not_found",),
)

DESCRIBE: Final = reading(
    "describe", "/openapi.json", roles=PUBLIC, answer=bytes, media=("application/json",), about="Describe the API"
)

SHOW_PAGE: Final = reading(
    "show_page", "/docs", roles=PUBLIC, answer=bytes, media=("text/html",), about="Show the API as a page"
)

SHOW_FILE: Final = reading(
    "show_file",
    "/docs/{file}",
    roles=PUBLIC,
    answer=bytes,
    media=("*/*",),
    problems=("not_found",),
    about="Give a part of that page; needs nothing from any other place",
)
