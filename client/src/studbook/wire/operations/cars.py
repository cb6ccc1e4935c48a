"""Cars, their sheets, and what is recorded on them."""

from typing import Final

from studbook.wire.entries import (
    Car,
    CarChange,
    Cars,
    History,
    NewCar,
    NewRevision,
    Page,
    Pushed,
    Sheet,
    Sheets,
)
from studbook.wire.operations.row import EVERYBODY, RECORDING, Operation, reading

_SHEET: Final = "/v1/cars/{car}/sheets/{sheet}"
_NAMED: Final = ("bad_reference", "not_found")

LIST_CARS: Final = reading("list_cars", "/v1/cars", roles=EVERYBODY, answer=Cars, about="List the team's cars")

ADD_CAR: Final = Operation(
    name="add_car",
    method="POST",
    path="/v1/cars",
    about="Enter a car in the book",
    roles=RECORDING,
    answer=Car,
    body=NewCar,
    example={"car": "7", "name": "Old blue", "number": "7"},
    statuses=(200, 201),
    problems=("bad_reference", "exists", "key_reused"),
    sends=("Idempotency-Key",),
    gives=("ETag", "Location"),
    made_at="/v1/cars/",
)

READ_CAR: Final = reading(
    "read_car", "/v1/cars/{car}", roles=EVERYBODY, answer=Car, problems=_NAMED, about="Read one car"
)

CHANGE_CAR: Final = Operation(
    name="change_car",
    method="PATCH",
    path="/v1/cars/{car}",
    about="Change a car's name or number, or retire it",
    roles=RECORDING,
    answer=Car,
    body=CarChange,
    example={"retired": True, "note": "sold the motor"},
    problems=(
        *(*_NAMED, "precondition_missing", "stale", "split", "conflicts", "key_reused", "erased"),
        *("too_costly", "busy"),
    ),
    sends=("If-Match", "Idempotency-Key"),
    gives=("ETag",),
)

LIST_SHEETS: Final = reading(
    "list_sheets",
    "/v1/cars/{car}/sheets",
    roles=EVERYBODY,
    answer=Sheets,
    problems=_NAMED,
    about="List a car's sheets, without their documents",
)

READ_SHEET: Final = reading(
    "read_sheet",
    _SHEET,
    roles=EVERYBODY,
    answer=Sheet,
    problems=(*_NAMED, "busy"),
    about="Read a sheet: its tips, and its document while they hold one, else their merge with its conflicts; "
    "neither where it was erased",
)

PUSH_REVISION: Final = Operation(
    name="push_revision",
    method="POST",
    path=f"{_SHEET}/revisions",
    about="Push a revision: edits on the tip, or a whole document. If-Match names the tag that was seen; "
    "If-None-Match: * makes a new sheet",
    roles=RECORDING,
    answer=Pushed,
    body=NewRevision,
    example={
        "note": "longer upper stud",
        "edits": [{"path": "setup.front.rf.upper_stud.length_in", "value": 1.7}],
    },
    statuses=(200, 201),
    problems=(
        *(*_NAMED, "precondition_missing", "stale", "split", "bad_document", "key_reused"),
        *("protected", "erased"),
    ),
    sends=("If-Match", "If-None-Match", "Idempotency-Key"),
    gives=("ETag", "Location"),
    made_at="/v1/revisions/",
)

ACCEPT_MERGE: Final = Operation(
    name="accept_merge",
    method="POST",
    path=f"{_SHEET}/merge",
    about="Record the merge of a split sheet as it is read, when nothing in it is in conflict; whoever accepts the "
    "same merge makes the same revision. If-Match names the tag that was seen. Conflicts are settled by pushing a "
    "document with all tips as parents",
    roles=RECORDING,
    answer=Pushed,
    statuses=(200, 201),
    problems=(
        *(*_NAMED, "precondition_missing", "stale", "conflicts", "key_reused", "protected", "erased"),
        *("too_costly", "busy"),
    ),
    sends=("If-Match", "Idempotency-Key"),
    gives=("ETag", "Location"),
    made_at="/v1/revisions/",
)

READ_HISTORY: Final = reading(
    "read_history",
    f"{_SHEET}/history",
    roles=EVERYBODY,
    answer=History,
    query=Page,
    problems=_NAMED,
    gives=("ETag", "Link"),
    about="Read a page of a sheet's revisions, newest first",
)
