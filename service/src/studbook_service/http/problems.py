"""The one door for errors: everything raised becomes problem+json here (RFC 9457)."""

import logging
from typing import Any, Final, NoReturn

import msgspec
from litestar import Request
from litestar.exceptions import HTTPException
from msgspec import UNSET

from studbook.wire.problem import TITLES, Problem
from studbook_service.actions.refusals import Refusal
from studbook_service.http.denials import hidden
from studbook_service.http.replies import HttpReply
from studbook_service.store import SchemaError, StoreUnavailable

MEDIA_TYPE: Final = "application/problem+json"

STATUS: Final = {
    "bad_frames": 400,
    "bad_request": 400,
    "bad_reference": 400,
    "token_needed": 401,
    "token_refused": 401,
    "not_allowed": 403,
    "protected": 403,
    "not_found": 404,
    "method_not_allowed": 405,
    "not_acceptable": 406,
    "ambiguous": 409,
    "conflicts": 409,
    "exists": 409,
    "last_chief": 409,
    "no_peers": 409,
    "not_home": 409,
    "other_book": 409,
    "split": 409,
    "erased": 410,
    "stale": 412,
    "too_large": 413,
    "media_type": 415,
    "bad_document": 422,
    "cannot_close": 422,
    "fields_missing": 422,
    "key_reused": 422,
    "too_costly": 422,
    "precondition_missing": 428,
    "too_many": 429,
    "internal": 500,
    "peer_failed": 502,
    "busy": 503,
    "too_slow": 503,
    "unavailable": 503,
}
"""Every code with its status."""

_CHALLENGE = {
    "token_needed": 'Bearer realm="studbook"',
    "token_refused": 'Bearer realm="studbook", error="invalid_token"',
}
_OF_FRAMEWORK = {404: "not_found", 405: "method_not_allowed", 413: "too_large"}

_log = logging.getLogger("studbook")


def reply(error: Exception, *, request_id: str, target: str) -> HttpReply:
    """Turn what was raised into the answer the client gets.

    Args:
        error: what was raised.
        request_id: names the exchange, in the answer and in the log.
        target: method and path, for the log.
    """
    refused = refusal(error)
    if refused.code == "internal" or isinstance(error, SchemaError):
        _log.error("request %s failed: %s", request_id, target, exc_info=error)
    headers = {"cache-control": "no-store"}
    if isinstance(error, HTTPException):
        headers |= error.headers or {}
    if refused.code in _CHALLENGE:
        headers["www-authenticate"] = _CHALLENGE[refused.code]
    if refused.retry_after_s is not None:
        headers["retry-after"] = str(refused.retry_after_s)
    body = hidden(msgspec.json.encode(problem(refused, request_id)).decode())
    return HttpReply(body.encode(), status=STATUS[refused.code], media_type=MEDIA_TYPE, headers=headers)


def pass_on(_: Request[Any, Any, Any], error: Exception) -> NoReturn:
    """Let an error out of the framework, to the one door that all go through."""
    raise error


def problem(refusal: Refusal, request_id: str) -> Problem:
    """Spell a refusal as the wire has it.

    Example:
        >>> problem(Refusal("not_found", "there is no car 7"), "r1").type
        'urn:studbook:problem:not_found'
    """
    return Problem(
        type=f"urn:studbook:problem:{refusal.code}",
        title=TITLES[refusal.code],
        status=STATUS[refusal.code],
        code=refusal.code,
        request_id=request_id,
        detail=refusal.detail or UNSET,
        errors=list(refusal.errors) or UNSET,
        tag=refusal.tag or UNSET,
        tips=list(refusal.tips) or UNSET,
        candidates=list(refusal.candidates) or UNSET,
    )


def refusal(error: Exception) -> Refusal:
    """Say in the service's words what was raised."""
    match error:
        case Refusal():
            return error
        case StoreUnavailable():
            return Refusal("unavailable", retry_after_s=1)
        case SchemaError():
            return Refusal("unavailable", "the database is not one to serve from; the service's log says why")
        case HTTPException() if error.status_code < 500:
            return Refusal(_OF_FRAMEWORK.get(error.status_code, "bad_request"))
        case _:
            return Refusal("internal")
