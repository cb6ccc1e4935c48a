"""The OpenAPI 3.1 description, made from the table of operations and the wire's Structs: units and bounds included.

Write it with `python -m studbook_service.http.openapi > openapi/openapi.json`.
"""

import sys
from collections import defaultdict
from functools import cache
from importlib.metadata import version
from typing import Annotated, Any, Final

import msgspec

from studbook.wire.entries import ShortId, Slug
from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.records import one_of
from studbook.wire.operations.row import EVERYBODY, Operation
from studbook.wire.problem import TITLES, Problem
from studbook.wire.records import KINDS
from studbook.wire.setup import Setup
from studbook_service.http.links import links
from studbook_service.http.problems import MEDIA_TYPE, STATUS

Json = dict[str, Any]

_REF: Final = "#/components/schemas/{name}"
_EVERYWHERE: Final = ("too_large", "too_many", "too_slow", "internal")
_WITH_TOKEN: Final = ("bad_request", "token_needed", "token_refused", "unavailable")
_PATH: Final = {
    "car": (Slug, "the car", "7"),
    "sheet": (Slug, "the sheet", "baseline"),
    "ref": (ShortId, "a revision's id, or its first 6 or more digits", "0f3a9c"),
    "peer": (Slug, "another node, as this one calls it", "shop"),
    "member": (Slug, "a member's id", "m-7r2kq4xwza"),
    "token": (
        Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{12}$")],
        "a token's id: the first 12 digits of its SHA-256, never the token",
        "3f9a1c07be21",
    ),
    "share": (Slug, "a share's id", "s-q3n5t7vbcd"),
    **{
        step: (Slug, f"in the name of one {one_of(kind)}", example)
        for kind in KINDS.values()
        for step, example in kind.parts(kind.example[0]).items()
        if step != "car"
    },
    "table": (Slug, "a table, as the list of them says", "changes"),
    "file": (Annotated[str, msgspec.Meta(max_length=80)], "a part of the page", "swagger-ui.css"),
}
_TEXT: Final[Json] = {"type": "string"}
_KEY: Final[Json] = {"type": "string", "minLength": 1, "maxLength": 200, "pattern": "^[\\x21-\\x7e]+$"}
_SENT: Final = {
    "If-None-Match": (_TEXT, "entity tags the client holds; on a push, * for a new sheet", '"3f2a"'),
    "If-Match": (_TEXT, "the tag of the state that was seen, in double quotes; * is not taken", '"3f2a"'),
    "Idempotency-Key": (_KEY, "visible ASCII; the same key and request make one revision", "6f1c2b7e"),
}
_GIVEN: Final = {
    "ETag": "names this representation",
    "Location": "of what was made, when it was made now",
    "Studbook-Cursor": "where these rows end; as `after` of a later export it leaves them out",
    "Link": "the next page, rel=next (RFC 8288), while there is one",
    "RateLimit": "what is left: r requests, more in t seconds (draft-ietf-httpapi-ratelimit-headers)",
    "RateLimit-Policy": "what there is: q requests in w seconds, by token or by address",
    "X-Request-Id": "names this exchange in the service's log",
    "Retry-After": "seconds until trying again makes sense",
    "WWW-Authenticate": "how to identify (RFC 6750)",
}
_ALWAYS: Final = ("X-Request-Id", "RateLimit", "RateLimit-Policy")
_OF_PROBLEM: Final = {401: "WWW-Authenticate", 429: "Retry-After", 503: "Retry-After"}
_ABOUT: Final = (
    "Keeps race-car setups as immutable revisions and answers what a change does. Every numeric field's name ends in "
    "its unit; the schema gives `unit`, `unitName`, bounds, and the `usual` range outside which a value is flagged. "
    "Errors are RFC 9457 problems with a stable code. Readers ignore members they do not know. "
    "Figures are computed from what was measured and entered; they are no certificate."
)


def describe() -> Json:
    """Make the whole description.

    Example:
        >>> describe()["openapi"]
        '3.1.0'
    """
    schemas = _schemas()
    paths: dict[str, Json] = defaultdict(dict)
    for operation in OPERATIONS:
        paths[operation.path][operation.method.lower()] = _operation(operation)
    return {
        "openapi": "3.1.0",
        "info": {"title": "Studbook", "version": version("studbook-service"), "description": _ABOUT},
        "paths": dict(paths),
        "components": {
            "schemas": dict(sorted(schemas.items())),
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer", "description": "a token, sbk_…"}},
        },
        "security": [{"token": []}],
    }


@cache
def document_bytes() -> bytes:
    """Encode the description as it is served and committed."""
    return msgspec.json.format(msgspec.json.encode(describe()), indent=1) + b"\n"


def _schemas() -> Json:
    """Give the schema of every Struct that goes over the wire, with what types alone cannot say."""
    structs: set[Any] = {Problem, Setup, *(kind.body for kind in KINDS.values())}
    for operation in OPERATIONS:
        shown = () if operation.media else (operation.schema or operation.answer,)
        structs |= {*shown, *((operation.body,) if operation.body else ())}
    _, schemas = msgspec.json.schema_components(sorted(structs, key=str), ref_template=_REF)
    setup = {"$ref": _REF.format(name="Setup")}
    for name in ("NewRevision", "Sheet"):
        schemas[name]["properties"]["document"] = setup
    bodies = {kind.name: {"$ref": _REF.format(name=kind.body.__name__)} for kind in KINDS.values()}
    for kind in KINDS.values():
        schemas[f"New{kind.body.__name__}"]["properties"]["document"] = bodies[kind.name]
    schemas["Merge"]["properties"]["document"] = {"anyOf": [setup, *bodies.values()]}
    schemas["Record"]["properties"]["document"] = {"anyOf": list(bodies.values())}
    schemas["Returned"]["properties"]["document"] = bodies["check"]
    schemas["NewRevision"]["oneOf"] = [{"required": ["edits"]}, {"required": ["document"]}]
    schemas["Problem"]["properties"]["code"]["enum"] = sorted(TITLES)
    return dict(schemas)


def _operation(operation: Operation[Any]) -> Json:
    described: Json = {
        "operationId": operation.name,
        "summary": operation.about,
        "parameters": _parameters(operation),
        "responses": _responses(operation),
    }
    if operation.public:
        described["security"] = []
    if operation.reads is not None:
        described["requestBody"] = {"required": True, "content": {operation.reads: {"schema": {"type": "string"}}}}
    if operation.body is not None:
        content: Json = {"schema": {"$ref": _REF.format(name=operation.body.__name__)}}
        if operation.example is not None:
            content["example"] = operation.example
        described["requestBody"] = {"required": True, "content": {"application/json": content}}
    return described


def _parameters(operation: Operation[Any]) -> list[Json]:
    _, found = msgspec.json.schema_components([operation.query], ref_template=_REF)
    query = found[operation.query.__name__]
    return [
        *(
            _parameter("path", name, about, msgspec.json.schema(form), required=True, example=example)
            for name, (form, about, example) in _PATH.items()
            if f"{{{name}}}" in operation.path
        ),
        *(
            _parameter("query", name, schema.get("description", name), schema, required=name in query["required"])
            for name, schema in query["properties"].items()
        ),
        *(
            _parameter("header", name, about, form, required=False, example=example)
            for name, (form, about, example) in ((name, _SENT[name]) for name in operation.sends)
        ),
    ]


def _parameter(place: str, name: str, about: str, schema: Json, *, required: bool, **example: str) -> Json:
    return {"name": name, "in": place, "required": required, "description": about, "schema": schema, **example}


def _responses(operation: Operation[Any]) -> Json:
    responses: Json = {}
    for status in operation.statuses:
        about = "found recorded already" if status != operation.statuses[-1] else "as requested"
        responses[str(status)] = {
            "description": about,
            "headers": _headers(*operation.gives),
            "content": _content(operation),
        }
    if found := links(operation):
        responses[str(operation.statuses[-1])]["links"] = found
    if operation.method == "GET" and "If-None-Match" in operation.sends:
        responses["304"] = {"description": "the client has it", "headers": _headers("ETag")}
    codes: dict[int, list[str]] = defaultdict(list)
    for code in _codes(operation):
        codes[STATUS[code]].append(code)
    for status, several in sorted(codes.items()):
        extra = [_OF_PROBLEM[status]] if status in _OF_PROBLEM else []
        responses[str(status)] = {
            "description": "; ".join(f"{code}: {TITLES[code]}" for code in several),
            "headers": _headers(*extra),
            "content": {MEDIA_TYPE: {"schema": {"$ref": _REF.format(name="Problem")}}},
        }
    return responses


def _codes(operation: Operation[Any]) -> list[str]:
    common: tuple[str, ...] = (*_WITH_TOKEN, *_EVERYWHERE)
    if operation.public:
        common = _EVERYWHERE
    elif operation.roles != EVERYBODY:
        common = ("not_allowed", *common)
    of_body = ("media_type",) if operation.body or operation.reads else ()
    return list(dict.fromkeys((*operation.problems, *of_body, *common)))


def _content(operation: Operation[Any]) -> Json:
    if operation.media:
        return {media_type: {} for media_type in operation.media}
    return {"application/json": {"schema": {"$ref": _REF.format(name=(operation.schema or operation.answer).__name__)}}}


def _headers(*names: str) -> Json:
    return {name: {"description": _GIVEN[name], "schema": {"type": "string"}} for name in (*names, *_ALWAYS)}


if __name__ == "__main__":
    sys.stdout.buffer.write(document_bytes())
