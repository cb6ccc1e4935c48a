"""What the description tells of one operation, and which problems come in groups."""

from dataclasses import dataclass
from typing import Any, Final

import msgspec

from studbook_service.http.queries import Nothing

Struct = type[msgspec.Struct]

OF_REFERENCE: Final = ("bad_reference", "not_found", "ambiguous")
OF_DOCUMENT: Final = (*OF_REFERENCE, "erased")
OF_BODY: Final = ("media_type",)
OF_ENGINE: Final = ("bad_document", "fields_missing", "cannot_close", "too_costly", "busy")


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One operation.

    Attributes:
        name: the handler's name.
        about: one line for the reader.
        answer: what a success holds; a media type, or the one asked for of several, where it is no JSON of ours.
        problems: codes of the problems particular to it; what every operation may answer is added.
        query: its query parameters.
        body: its request body, with `example` of one.
        reads: the media type of its request body, where that is no JSON of ours.
        statuses: of a success.
        sends: request headers it reads, beside the token's.
        gives: response headers beside the request id's.
        public: no token is needed.
    """

    method: str
    path: str
    name: str
    about: str
    answer: Struct | str | tuple[str, ...]
    problems: tuple[str, ...] = ()
    query: Struct = Nothing
    body: Struct | None = None
    reads: str | None = None
    example: dict[str, Any] | None = None
    statuses: tuple[int, ...] = (200,)
    sends: tuple[str, ...] = ("If-None-Match",)
    gives: tuple[str, ...] = ("ETag",)
    public: bool = False
