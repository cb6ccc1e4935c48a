"""One function per address of the service: each makes a `Call`, nothing is sent here."""

import os
from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import msgspec
from msgspec import UNSET

from studbook.core.call import Call, as_json
from studbook.core.errors import local
from studbook.core.references import ID, SheetName
from studbook.history.canonical import SLUG, Tree
from studbook.wire.answers import Effects, FrontAnswer, Travels, WhatIf
from studbook.wire.entries import (
    Car,
    CarChange,
    Cars,
    Changes,
    Edit,
    History,
    NewCar,
    NewRevision,
    Pushed,
    Revision,
    Sheet,
    Sheets,
)

T = TypeVar("T")

NEW_LINE: Mapping[str, str] = {"If-None-Match": "*"}
"""What a push to a sheet that must not exist yet says."""


def seen(tag: str) -> Mapping[str, str]:
    """Say which state of a line the sender has seen.

    Example:
        >>> seen("3f9a")
        {'If-Match': '"3f9a"'}
    """
    return {"If-Match": f'"{tag}"'}


def edits_of(values: Mapping[str, Any], remove: Iterable[str] = ()) -> list[Edit]:
    """Spell values by dotted path, and paths to remove, as edits.

    Example:
        >>> edits_of({"notes": "tacky"}, ["measured.run"])[1].remove
        True
    """
    return [Edit(path=path, value=value) for path, value in values.items()] + [
        Edit(path=path, remove=True) for path in remove
    ]


def ready() -> Call[bool]:
    """Whether the service and its database answer."""
    return Call("GET", "/readyz", lambda _: True, repeatable=False)


def cars() -> Call[Cars]:
    """All cars of the team."""
    return _get("/v1/cars", Cars)


def car(slug: str) -> Call[Car]:
    """One car."""
    return _get(_path("cars", slug), Car)


def new_car(request: NewCar) -> Call[Car]:
    """Enter a car."""
    return _write("POST", "/v1/cars", request, Car, {})


def change_car(slug: str, request: CarChange, tag: str) -> Call[Car]:
    """Change a car whose state `tag` was seen."""
    return _write("PATCH", _path("cars", slug), request, Car, seen(tag))


def sheets(slug: str) -> Call[Sheets]:
    """A car's sheets."""
    return _get(_path("cars", slug, "sheets"), Sheets)


def sheet(name: SheetName) -> Call[Sheet]:
    """A sheet as it stands."""
    return _get(_path("cars", name.car, "sheets", name.sheet), Sheet)


def push(name: SheetName, request: NewRevision, precondition: Mapping[str, str]) -> Call[Pushed]:
    """Record a revision on a sheet in the state that `precondition` names (`seen`, or `NEW_LINE`)."""
    path = _path("cars", name.car, "sheets", name.sheet, "revisions")
    return _write("POST", path, request, Pushed, precondition)


def history(name: SheetName, *, limit: int, cursor: str | None = None) -> Call[History]:
    """A page of a sheet's revisions, newest first."""
    query = [("limit", str(limit)), *([("cursor", cursor)] if cursor else [])]
    return _get(_path("cars", name.car, "sheets", name.sheet, "history"), History, query)


def revision(ref: str) -> Call[Revision]:
    """A revision by its id or the beginning of it."""
    return _get(_path("revisions", ref), Revision)


def document(ref: str) -> Call[Tree]:
    """A revision's document."""
    return _get(_path("revisions", ref, "document"), dict[str, Any])


def changes(ref: str, since: str) -> Call[Changes]:
    """The leaves that differ between two revisions."""
    return _get(_path("revisions", ref, "changes"), Changes, [("since", since)])


def front(ref: str, travels: Travels | None = None) -> Call[FrontAnswer]:
    """How the front stands and moves."""
    return _get(_path("revisions", ref, "front"), FrontAnswer, _travels(travels))


def effects(ref: str, since: str, travels: Travels | None = None) -> Call[Effects]:
    """What the change from `since` does."""
    return _get(_path("revisions", ref, "effects"), Effects, [("since", since), *_travels(travels)])


def what_if(request: WhatIf) -> Call[Effects]:
    """What edits would do; nothing is stored, so it may be repeated without a key."""
    return Call(
        "POST",
        "/v1/what-if",
        as_json(Effects),
        headers={"Content-Type": "application/json"},
        body=msgspec.json.encode(request),
    )


def _get(path: str, form: type[T], query: Iterable[tuple[str, str]] = ()) -> Call[T]:
    return Call("GET", path, as_json(form), query=tuple(query))


def _write(method: str, path: str, request: msgspec.Struct, form: type[T], precondition: Mapping[str, str]) -> Call[T]:
    headers = {"Content-Type": "application/json", "Idempotency-Key": os.urandom(16).hex(), **precondition}
    return Call(method, path, as_json(form), headers=headers, body=msgspec.json.encode(request))


def _path(*steps: str) -> str:
    for step in steps:
        if not SLUG.fullmatch(step) and not ID.fullmatch(step):
            raise local("bad_reference", f"{step[:80]!r} is no name: 1 to 48 of a-z, 0-9, _ and -")
    return "/v1/" + "/".join(steps)


def _travels(travels: Travels | None) -> list[tuple[str, str]]:
    if travels is None:
        return []
    return [(name, f"{value:g}") for name, value in msgspec.structs.asdict(travels).items() if value is not UNSET]
