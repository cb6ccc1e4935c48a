"""Every operation about records beside setups, made from the table of kinds."""

from collections.abc import Iterator
from typing import Final

import msgspec

from studbook.wire.entries import History, Slug
from studbook.wire.part_states import PartsQuery, PartStates
from studbook.wire.records import KINDS, NewRecord, Record, RecordChange, RecordKind, Records
from studbook_service.http.operation import OF_BODY, Operation
from studbook_service.http.queries import Page, list_of

_ONE: Final = {
    "rules": "set of rules",
    "work": "work card",
    "shop_times": "set of shop times",
    "tolerances": "set of tolerances",
}
_MANY: Final = {"work": "work cards"}
"""What to call one, and many, in a sentence where the kind's own name is no noun for it."""


def _one(kind: RecordKind) -> str:
    return _ONE.get(kind.name, kind.one.replace("_", " "))


STEPS: Final = {
    step: (Slug, f"in the name of one {_one(kind)}", example)
    for kind in KINDS.values()
    for step, example in kind.parts(kind.example[0]).items()
    if step != "car"
}
"""Path parameters: form, meaning, example."""


def _new(kind: RecordKind) -> type[msgspec.Struct]:
    """Make the form of a record to enter, so that each kind's is described with its own fields."""
    said = f"{kind.about[0].upper()}{kind.about[1:]}, to be entered by a name. {kind.body.__name__} has its fields."
    return msgspec.defstruct(f"New{kind.body.__name__}", [], bases=(NewRecord,), namespace={"__doc__": said})


NEW: Final = {name: _new(kind) for name, kind in KINDS.items()}


def _operations(kind: RecordKind) -> Iterator[Operation]:
    listing, reading, history = kind.reading
    adding, changing = kind.writing
    one = "/".join([kind.path, *(f"{{{step}}}" for step in kind.steps)])
    said = _one(kind)
    name, body = kind.example
    yield Operation(
        method="get",
        path=kind.path,
        name=listing,
        about=f"List {_MANY.get(kind.name, kind.many.replace('_', ' '))} by name, with what about each cannot be",
        answer=Records,
        query=list_of(kind),
        problems=("busy",),
        gives=("ETag", "Link"),
    )
    yield Operation(
        method="post",
        path=kind.path,
        name=adding,
        about=f"Enter {kind.about}. Its name is {kind.like}. What cannot have been is refused",
        answer=Record,
        body=NEW[kind.name],
        example={"name": name, "document": body},
        statuses=(200, 201),
        problems=("bad_reference", "bad_document", "exists", "key_reused", "busy", *OF_BODY),
        sends=("Idempotency-Key",),
        gives=("ETag", "Location"),
    )
    yield Operation(
        method="get",
        path=one,
        name=reading,
        about=f"Read one {said}: its document while its tips hold one, else their merge; and its flags",
        answer=Record,
        problems=("bad_reference", "not_found", "busy"),
    )
    yield Operation(
        method="patch",
        path=one,
        name=changing,
        about=f"Correct one {said} by an entry more on its line; a split one is settled so, with an edit for each "
        "conflict, or with none where there is no conflict",
        answer=Record,
        body=RecordChange,
        example={"edits": [{"path": "notes", "value": "wrong line in turn two"}], "note": "as told on Monday"},
        problems=(
            *("bad_reference", "not_found", "precondition_missing", "stale", "split", "conflicts", "bad_document"),
            *("key_reused", "erased", "busy", *OF_BODY),
        ),
        sends=("If-Match", "Idempotency-Key"),
    )
    yield Operation(
        method="get",
        path=f"{one}/history",
        name=history,
        about=f"Read a page of what was recorded on one {said}'s line, newest first",
        answer=History,
        query=Page,
        problems=("bad_reference", "not_found"),
        gives=("ETag", "Link"),
    )


RECORD_OPERATIONS: Final = (
    *(operation for kind in KINDS.values() for operation in _operations(kind)),
    Operation(
        method="get",
        path="/v1/shelf",
        name="read_shelf",
        about="Say how parts stand, of what was recorded: where each is, laps and nights, preloads, what wants doing; "
        "the studs at hand by size",
        answer=PartStates,
        query=PartsQuery,
        problems=("busy",),
    ),
)
