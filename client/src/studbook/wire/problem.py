"""Errors as RFC 9457 has them, with a stable code, and each bad field by JSON pointer."""

from typing import Any, Final

import msgspec
from msgspec import UNSET

from studbook.wire.units import Opt

TITLES: Final = {
    "bad_request": "The request cannot be read",
    "bad_document": "The document holds values that cannot be recorded",
    "bad_reference": "That is no revision, sheet or car name",
    "bad_frames": "These are no frames of a book",
    "cannot_close": "The linkage cannot be assembled there",
    "fields_missing": "The document lacks fields that this answer needs",
    "key_reused": "This idempotency key was used for another request",
    "method_not_allowed": "This address does not take that method",
    "not_acceptable": "This address cannot answer in that form",
    "not_found": "There is nothing by that name",
    "ambiguous": "More than one revision begins like that",
    "conflicts": "The sides differ on some fields: choose a value for each",
    "precondition_missing": "Say what you have seen: send If-Match, or If-None-Match: * for a new one",
    "split": "The line is split: name the parents",
    "stale": "Someone pushed before you",
    "exists": "There is one by that name already",
    "token_needed": "A token is needed",
    "token_refused": "This token is not valid",
    "not_allowed": "This token may not do that",
    "protected": "Only a chief records on this sheet",
    "not_home": "That is decided at the book's home",
    "erased": "The content of this entry was erased",
    "last_chief": "A team keeps one chief",
    "too_large": "The request is too large",
    "media_type": "The body must be of the type that this address reads",
    "other_book": "That is another team's book",
    "no_peers": "This service exchanges with no other",
    "peer_failed": "The other node cannot be exchanged with now",
    "too_many": "Too many requests in too short a time",
    "too_costly": "That would take more computing than one request may",
    "too_slow": "The answer took longer than one may",
    "busy": "Too many requests at once",
    "unavailable": "The database cannot be reached",
    "internal": "Something failed inside the service",
}
"""Every problem code with its title; a code never changes its meaning."""


class FieldFault(msgspec.Struct, omit_defaults=True, frozen=True, kw_only=True):
    """One field that was refused or is missing.

    Attributes:
        pointer: JSON pointer (RFC 6901) into the request body, or the query parameter's name.
        path: dotted path in the setup document, where the field is of one.
        detail: what is wrong, with value, bound and unit, in words.
        value: the value as received, shortened.
        least, most: the bound that was passed.
        unit: the field's unit.
        nearest: the known field that an unknown name resembles.
    """

    detail: str
    pointer: Opt[str] = UNSET
    path: Opt[str] = UNSET
    value: Opt[Any] = UNSET
    least: Opt[float] = UNSET
    most: Opt[float] = UNSET
    unit: Opt[str] = UNSET
    nearest: Opt[str] = UNSET


class Problem(msgspec.Struct, omit_defaults=True, frozen=True, kw_only=True):
    """The body of every 4xx and 5xx answer.

    Attributes:
        type: `urn:studbook:problem:` and the code.
        code: a key of `TITLES`.
        errors: each bad field.
        tag, tips: present state of a line, with `stale` and `split`.
        candidates: full ids, with `ambiguous`.
    """

    type: str
    title: str
    status: int
    code: str
    request_id: str
    detail: Opt[str] = UNSET
    errors: Opt[list[FieldFault]] = UNSET
    tag: Opt[str] = UNSET
    tips: Opt[list[str]] = UNSET
    candidates: Opt[list[str]] = UNSET
