"""A request from a row of the table of operations: address, key, preconditions and repeats follow from the row."""

import os
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final, Protocol, TypeVar

import msgspec
from msgspec import UNSET, UnsetType

from studbook.core.call import Call, Flow, Items, Walk
from studbook.core.errors import local
from studbook.core.references import ID
from studbook.history.canonical import SLUG
from studbook.wire.operations.row import Operation

A = TypeVar("A")
T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)

Query = Mapping[str, Any] | msgspec.Struct | None
Cursor = str | int | None

_WRITING: Final = frozenset({"PUT", "PATCH", "DELETE"})
_STEP: Final = re.compile(r"\{\w+\}")


class _Paged(Protocol[T_co]):
    """A page of a list, and the cursor of the next one if there is one."""

    @property
    def items(self) -> Sequence[T_co]: ...
    @property
    def next(self) -> str | int | UnsetType: ...


def call(
    row: Operation[A],
    *steps: str,
    query: Query = None,
    body: msgspec.Struct | None = None,
    seen: str | None = None,
    renews: bool = False,
) -> Flow[A]:
    """Make the flow of one call, by the row of its operation.

    Args:
        row: of the operation.
        steps: what stands in its path, in order.
        query: its parameters; None and UNSET leave one out.
        body: its request body.
        seen: the tag of the line as it was seen; None where it must not exist yet, or the row reads no tag.
        renews: whether the time allowed begins again with it.

    Raises:
        BadReferenceError: a step is no name.

    Example:
        >>> from studbook.wire.operations.cars import READ_SHEET
        >>> next(call(READ_SHEET, "7", "baseline")).path
        '/v1/cars/7/sheets/baseline'
    """
    keyed = "Idempotency-Key" in row.sends
    headers = {} if body is None else {"Content-Type": "application/json"}
    if keyed:
        headers["Idempotency-Key"] = os.urandom(16).hex()
    if seen is not None:
        headers["If-Match"] = f'"{seen}"'
    elif {"If-Match", "If-None-Match"} <= set(row.sends):
        headers["If-None-Match"] = "*"
    # A POST without a key may be sent twice only where it computes from its body and makes nothing. A public row says
    # how the service is at this moment, so nobody waits for a better answer.
    harmless = row.method != "POST" or keyed or (body is not None and row.statuses == (200,))
    made = Call(
        row.method,
        _path(row.path, steps),
        row.answer,
        query=tuple(parameters(query).items()),
        headers=headers,
        body=None if body is None else msgspec.json.encode(body),
        repeatable=harmless and not row.public,
        renews=renews,
        writes=keyed or row.method in _WRITING or 201 in row.statuses,
    )
    return iter(made)


def streamed(row: Operation[bytes], *steps: str, query: Query = None) -> Flow[Any]:
    """Make the flow of one call whose response is read by and by; it returns what `NextChunk` takes."""
    path, given = _path(row.path, steps), tuple(parameters(query).items())
    return iter(Call(row.method, path, object, query=given, streamed=True))


def paged(fetch: Callable[[Cursor], Flow[_Paged[T]]]) -> Walk[T]:
    """Make the walk over a list of pages.

    Args:
        fetch: gives the page at a cursor, the first one at None.
    """
    cursor: Cursor = None
    while True:
        page = yield from fetch(cursor)
        yield Items(page.items)
        if page.next is UNSET or not page.next:
            return
        cursor = page.next


def parameters(query: Query) -> dict[str, str]:
    """Spell query parameters; what is None or UNSET is left out.

    Example:
        >>> parameters({"limit": 50, "within_s": 0.25, "cursor": None})
        {'limit': '50', 'within_s': '0.25'}
    """
    if isinstance(query, msgspec.Struct):
        query = {each.encode_name: getattr(query, each.name) for each in msgspec.structs.fields(query)}
    given = {name: value for name, value in (query or {}).items() if value is not None and value is not UNSET}
    return {name: value if isinstance(value, str) else f"{value:.10g}" for name, value in given.items()}


def _path(template: str, steps: tuple[str, ...]) -> str:
    for name, step in zip(_STEP.findall(template), steps, strict=True):
        if not SLUG.fullmatch(step) and not ID.fullmatch(step):
            raise local("bad_reference", f"{step[:80]!r} is no name: 1 to 48 of a-z, 0-9, _ and -")
        template = template.replace(name, step, 1)
    return template
