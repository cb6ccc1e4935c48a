"""Records beside setups: for each kind the same five rows, made from the table of kinds."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Final, cast

from msgspec import UNSET, Meta, UnsetType, defstruct

from studbook.wire.entries import History, Page, Request, Slug
from studbook.wire.operations.row import MEMBERS, RECORDING, Operation, reading
from studbook.wire.records import KINDS, NewRecord, Record, RecordChange, RecordKind, Records
from studbook.wire.shelf import Shelf, ShelfQuery

_ONE: Final = {
    "rules": "set of rules",
    "work": "work card",
    "shop_times": "set of shop times",
    "tolerances": "set of tolerances",
}
_MANY: Final = {"work": "work cards"}
"""What to call one, and many, in a sentence where the kind's own name is no noun for it."""

_STEP: Any = Slug | UnsetType
_TEXT: Any = Annotated[str, Meta(max_length=200)] | UnsetType

READ_SHELF: Final = reading(
    "read_shelf",
    "/v1/shelf",
    roles=MEMBERS,
    answer=Shelf,
    query=ShelfQuery,
    problems=("busy",),
    about="Say how parts stand, of what was recorded: where each is, laps and nights, preloads, what wants doing; "
    "the studs at hand by size",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OfKind:
    """The operations about one kind of record."""

    listing: Operation[Records]
    adding: Operation[Record]
    reading: Operation[Record]
    changing: Operation[Record]
    history: Operation[History]


def one_of(kind: RecordKind) -> str:
    """Name one record of a kind in a sentence.

    Example:
        >>> one_of(KINDS["scale_session"])
        'scale session'
    """
    return _ONE.get(kind.name, kind.one.replace("_", " "))


@cache
def list_of(kind: RecordKind) -> type[Page]:
    """Make the form of what a list of a kind of record may be narrowed by.

    Example:
        >>> list_of(KINDS["outing"]).__struct_fields__
        ('limit', 'cursor', 'event', 'car', 'kind', 'track_state', 'driver')
    """
    narrowed = dict.fromkeys(kind.steps[:-1], _STEP) | dict.fromkeys(kind.filters, _TEXT)
    form = defstruct(f"{kind.body.__name__}Page", [(*each, UNSET) for each in narrowed.items()], bases=(Page,))
    return cast("type[Page]", form)


def _new(kind: RecordKind) -> type[Request]:
    """Make the form of a record to enter, so that each kind's is described with its own fields."""
    about = f"{kind.about[0].upper()}{kind.about[1:]}, to be entered by a name. {kind.body.__name__} has its fields."
    form = defstruct(f"New{kind.body.__name__}", [], bases=(NewRecord,), namespace={"__doc__": about})
    return cast("type[Request]", form)


def _of(kind: RecordKind) -> OfKind:
    one, path = one_of(kind), "/".join([kind.path, *(f"{{{step}}}" for step in kind.steps)])
    name, document = kind.example
    return OfKind(
        listing=reading(
            f"list_{kind.many}",
            kind.path,
            roles=MEMBERS,
            answer=Records,
            query=list_of(kind),
            problems=("busy",),
            gives=("ETag", "Link"),
            about=f"List {_MANY.get(kind.name, kind.many.replace('_', ' '))} by name, with what about each cannot be",
        ),
        adding=Operation(
            name=f"add_{kind.one}",
            method="POST",
            path=kind.path,
            about=f"Enter {kind.about}. Its name is {kind.like}. What cannot have been is refused",
            roles=RECORDING,
            answer=Record,
            body=_new(kind),
            example={"name": name, "document": document},
            statuses=(200, 201),
            problems=("bad_reference", "bad_document", "exists", "key_reused", "busy"),
            sends=("Idempotency-Key",),
            gives=("ETag", "Location"),
            made_at=f"{kind.path}/",
        ),
        reading=reading(
            f"read_{kind.one}",
            path,
            roles=MEMBERS,
            answer=Record,
            problems=("bad_reference", "not_found", "busy"),
            about=f"Read one {one}: its document while its tips hold one, else their merge; and its flags",
        ),
        changing=Operation(
            name=f"change_{kind.one}",
            method="PATCH",
            path=path,
            about=f"Correct one {one} by an entry more on its line; a split one is settled so, with an edit for each "
            "conflict, or with none where there is no conflict",
            roles=RECORDING,
            answer=Record,
            body=RecordChange,
            example={
                "edits": [{"path": "notes", "value": "wrong line in turn two"}],
                "note": "as the driver remembers it",
            },
            problems=(
                *("bad_reference", "not_found", "precondition_missing", "stale", "split", "conflicts"),
                *("bad_document", "key_reused", "erased", "busy"),
            ),
            sends=("If-Match", "Idempotency-Key"),
            gives=("ETag",),
        ),
        history=reading(
            f"read_{kind.one}_history",
            f"{path}/history",
            roles=MEMBERS,
            answer=History,
            query=Page,
            problems=("bad_reference", "not_found"),
            gives=("ETag", "Link"),
            about=f"Read a page of what was recorded on one {one}'s line, newest first",
        ),
    )


RECORD_OPERATIONS: Final[Mapping[str, OfKind]] = {name: _of(kind) for name, kind in KINDS.items()}
"""By name of the kind."""
