"""A row of the table of operations: where it is, who may, what is sent, what is answered."""

from dataclasses import dataclass
from typing import Any, Final, Generic, Literal, TypeVar

from studbook.wire.entries import Request

A = TypeVar("A")
Method = Literal["GET", "POST", "PUT", "PATCH", "DELETE"]

PEOPLE: Final = frozenset({"viewer", "crew", "chief"})
"""Each of them may what the one before may."""

MEMBERS: Final = PEOPLE | {"node"}
"""With the laptops that exchange."""

EVERYBODY: Final = MEMBERS | {"share"}
"""With other teams that were shown a car or a sheet: all roles that a token may have."""

RECORDING: Final = frozenset({"crew", "chief"})
EXCHANGING: Final = frozenset({"node", "chief"})
DECIDING: Final = frozenset({"chief"})

PUBLIC: Final = frozenset({"anyone"})
"""No token is needed. No token has this role, so where one is needed all the same nobody may."""

OF_REFERENCE: Final = ("bad_reference", "not_found", "ambiguous")
OF_DOCUMENT: Final = (*OF_REFERENCE, "erased")
OF_ENGINE: Final = (*OF_DOCUMENT, "bad_document", "fields_missing", "cannot_close", "too_costly", "busy")
"""Problems that come together: a revision named, its document read, the engine's answer computed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Operation(Generic[A]):
    """One operation. Routing, rights, description and the client's calls follow from it.

    Attributes:
        name: of the operation in the description, and of its example.
        path: with its steps in braces.
        about: one line for the reader.
        roles: who may. `PUBLIC`: no token is needed.
        answer: what a success holds: the Struct of a JSON answer, or the type that the client reads it as.
        schema: the Struct that describes the answer, where the client reads it as a tree.
        media: media types of the answer, or the one requested of several, where it is no JSON of ours.
        query: its query parameters.
        body: its request body, with `example` of one.
        reads: the media type of its request body, where that is no JSON of ours.
        statuses: of a success; of two the first says that it was there already.
        problems: codes of the problems particular to it; what every operation may answer is added.
        sends: request headers it reads, beside the token's.
        gives: response headers beside the request id's.
        made_at: address of what it makes, before its name.
    """

    name: str
    method: Method
    path: str
    about: str
    roles: frozenset[str]
    answer: type[A]
    schema: type[Any] | None = None
    media: tuple[str, ...] = ()
    query: type[Request] = Request
    body: type[Request] | None = None
    reads: str | None = None
    example: dict[str, Any] | None = None
    statuses: tuple[int, ...] = (200,)
    problems: tuple[str, ...] = ()
    sends: tuple[str, ...] = ()
    gives: tuple[str, ...] = ()
    made_at: str = ""

    @property
    def public(self) -> bool:
        """Whether no token is needed."""
        return self.roles == PUBLIC


def reading(
    name: str,
    path: str,
    *,
    about: str,
    answer: type[A],
    roles: frozenset[str],
    query: type[Request] = Request,
    problems: tuple[str, ...] = (),
    gives: tuple[str, ...] = ("ETag",),
    schema: type[Any] | None = None,
    media: tuple[str, ...] = (),
) -> Operation[A]:
    """Make the row of a read whose answer has an entity tag: a client that holds it gets 304."""
    return Operation(
        name=name,
        method="GET",
        path=path,
        about=about,
        roles=roles,
        answer=answer,
        schema=schema,
        media=media,
        query=query,
        problems=problems,
        sends=("If-None-Match",),
        gives=gives,
    )


def trying(
    name: str, path: str, *, about: str, body: type[Request], answer: type[A], example: dict[str, Any]
) -> Operation[A]:
    """Make the row of a computation about a revision, sent as a body: nothing is stored."""
    return Operation(
        name=name,
        method="POST",
        path=path,
        about=about,
        roles=PEOPLE,
        answer=answer,
        body=body,
        example=example,
        problems=OF_ENGINE,
    )
