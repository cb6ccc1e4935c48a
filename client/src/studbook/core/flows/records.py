"""What is recorded beside setups: nights, parts, and everything the shop does.

Records of every kind (`studbook.wire.records.KINDS`) go by the same five methods; four kinds have shorter ones. A
record's name is what follows its kind in the book: `2026-05-02-north` of an event, `2026-05-02-north/7/heat-1` of an
outing, `s-041` of a part, `s-041/2026-05-02-fitted-1` of a shop record.
"""

import datetime as dt
import itertools
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from studbook.core.call import Flow, Walk
from studbook.core.edits import edits_of
from studbook.core.errors import local
from studbook.core.pulled import tree_of
from studbook.core.request import Cursor, call, paged
from studbook.history.canonical import Tree
from studbook.wire.entries import Revision
from studbook.wire.night import Event, Outing
from studbook.wire.operations.records import READ_SHELF, RECORD_OPERATIONS, OfKind
from studbook.wire.parts import Part, PartKind, ShopRecord
from studbook.wire.records import KINDS, NewRecord, Record, RecordChange, RecordKind, Records
from studbook.wire.shelf import Shelf
from studbook.wire.units import opt


def records(kind: str, *, page: int = 50, **wanted: str) -> Walk[Record]:
    """Walk the records of a kind by name; pages are fetched as the walk goes on.

    Args:
        kind: such as `event`, `outing`, `part`, `shop_record`, `scale_session`.
        page: records fetched at a time, 1 to 200.
        **wanted: only those with these steps of the name, or these values, such as `car="7"`.
    """
    return _walk(kind, wanted, page=page)


def record(kind: str, name: str) -> Flow[Record]:
    """Give a record as it stands: its document, or its tips with their merge; and what about it cannot be."""
    return call(_rows(kind).reading, *steps(kind, name))


def new_record(
    kind: str,
    name: str,
    document: Tree | Event | Outing | Part | ShopRecord,
    *,
    note: str = "",
    at: dt.datetime | None = None,
    allow_unknown: bool = False,
) -> Flow[Record]:
    """Enter a record.

    Args:
        kind: such as `event`.
        name: chosen once; the same, recorded elsewhere under the same name, meets it as one.
        document: its fields.
        note: why.
        at: when it was recorded, if not now; with an offset.
        allow_unknown: accept fields that the schema does not know.

    Raises:
        ExistsError: there is one by that name.
        BadDocumentError: some values cannot be, or cannot have been; `faults` has each.
    """
    steps(kind, name)
    request = NewRecord(name=name, document=tree_of(document), note=note, at=opt(at), allow_unknown=allow_unknown)
    return call(_rows(kind).adding, body=request)


def change_record(
    kind: str,
    name: str,
    edits: Mapping[str, Any],
    *,
    remove: Iterable[str] = (),
    note: str = "",
    at: dt.datetime | None = None,
    tag: str | None = None,
    allow_unknown: bool = False,
) -> Flow[Record]:
    """Correct a record. On a split one this settles it: with a value for each conflict, or none if there is none.

    Args:
        kind: such as `outing`.
        name: the record's.
        edits: new values by dotted path, such as `words.entry`.
        remove: paths to take away.
        note: why.
        at: when, if not now; with an offset.
        tag: of the record as it was seen; as it stands now, if not given.
        allow_unknown: accept fields that the schema does not know.

    Raises:
        ConflictsError: a conflict has no choice.
        StaleError: the record is not as it was seen any more.
    """
    seen = tag if tag is not None else (yield from record(kind, name)).tag
    request = RecordChange(edits=edits_of(edits, remove), note=note, at=opt(at), allow_unknown=allow_unknown)
    return (yield from call(_rows(kind).changing, *steps(kind, name), body=request, seen=seen))


def record_history(kind: str, name: str, *, page: int = 50) -> Walk[Revision]:
    """Walk what was recorded on a record's line, newest first."""
    row, named = _rows(kind).history, steps(kind, name)
    return paged(lambda cursor: call(row, *named, query={"limit": page, "cursor": cursor}))


def shelf(
    *, part: str | None = None, kind: PartKind | None = None, where: str | None = None, car: str | None = None
) -> Flow[Shelf]:
    """Say how parts stand: where each is, laps and nights, preloads, what wants doing; and the studs at hand.

    Args:
        part: this one alone.
        kind: such as `stud`.
        where: `shelf`, `trailer` or `car`.
        car: those on this car.
    """
    return call(READ_SHELF, query={"part": part, "kind": kind, "where": where, "car": car})


def events(*, surface: str | None = None) -> Walk[Record]:
    """Walk the race nights."""
    return _walk("event", {"surface": surface})


def event(event: str) -> Flow[Record]:
    """Give a race night."""
    return record("event", event)


def new_event(event: str, document: Tree | Event, *, note: str = "") -> Flow[Record]:
    """Enter a race night (`DATE-PLACE`)."""
    return new_record("event", event, document, note=note)


def outings(
    *, event: str | None = None, car: str | None = None, kind: str | None = None, track_state: str | None = None
) -> Walk[Record]:
    """Walk the outings."""
    return _walk("outing", {"event": event, "car": car, "kind": kind, "track_state": track_state})


def outing(outing: str) -> Flow[Record]:
    """Give an outing (`EVENT/CAR/RUN`)."""
    return record("outing", outing)


def new_outing(outing: str, document: Tree | Outing, *, note: str = "") -> Flow[Record]:
    """Enter an outing (`EVENT/CAR/RUN`)."""
    return new_record("outing", outing, document, note=note)


def parts(*, kind: PartKind | None = None) -> Walk[Record]:
    """Walk the parts; `shelf` says how they stand."""
    return _walk("part", {"kind": kind})


def part(part: str) -> Flow[Record]:
    """Give a part by its tag."""
    return record("part", part)


def new_part(part: str, document: Tree | Part, *, note: str = "") -> Flow[Record]:
    """Enter a part by its tag."""
    return new_record("part", part, document, note=note)


def shop_records(*, part: str | None = None, what: str | None = None) -> Walk[Record]:
    """Walk what was done with parts."""
    return _walk("shop_record", {"part": part, "what": what})


def shop_record(record: str) -> Flow[Record]:
    """Give the record of what was done with a part (`PART/DATE-WHAT-N`)."""
    return call(_rows("shop_record").reading, *steps("shop_record", record))


def new_shop_record(part: str, document: Tree | ShopRecord, *, note: str = "") -> Flow[Record]:
    """Enter what was done with a part, under the next free number of its day; it says `what` and `at`.

    Raises:
        BadDocumentError: it does not say what was done and when.
    """
    tree = tree_of(document)
    if not all(isinstance(tree.get(member), str) for member in ("what", "at")):
        raise local("bad_document", "a shop record says what was done, and at which time")
    taken = {each.name for each in (yield from every("shop_record", {"part": part}))}
    free = free_name(f"{part}/{tree['at'][:10]}-{tree['what']}-", taken)
    return (yield from new_record("shop_record", free, tree, note=note))


def new_timed_record(kind: str, car: str, document: Tree, *, at: dt.datetime, note: str = "") -> Flow[Record]:
    """Enter a record under the time of day."""
    name = yield from timed_name(kind, car, at)
    return (yield from new_record(kind, name, document, note=note))


def timed_name(kind: str, car: str, at: dt.datetime) -> Flow[str]:
    """Find a free name `CAR/DATE-HHMM`."""
    taken = {record.name for record in (yield from every(kind, {"car": car}))}
    return free_name(f"{car}/{at.date().isoformat()}-", taken, first=100 * at.hour + at.minute, digits=4)


def every(kind: str, wanted: Mapping[str, str | None]) -> Flow[list[Record]]:
    """List all records of a kind that have these values."""
    found: list[Record] = []
    cursor: Cursor = None
    while True:
        page = yield from _page(kind, wanted, limit=200, cursor=cursor)
        found += page.items
        if not page.next:
            return found
        cursor = page.next


def free_name(begin: str, taken: Collection[str], *, first: int = 1, digits: int = 1) -> str:
    """Give the first name that is not taken, by its number at the end.

    Example:
        >>> free_name("s-041/2026-05-02-play-", {"s-041/2026-05-02-play-1"})
        's-041/2026-05-02-play-2'
    """
    return next(name for number in itertools.count(first) if (name := f"{begin}{number:0{digits}}") not in taken)


def kind_of(name: str) -> RecordKind:
    """Find a kind of record.

    Raises:
        BadReferenceError: there is none by that name.

    Example:
        >>> kind_of("event").path
        '/v1/events'
    """
    if name not in KINDS:
        raise local("bad_reference", f"{name[:80]!r} is no kind of record: {', '.join(KINDS)}")
    return KINDS[name]


def steps(kind: str, name: str) -> list[str]:
    """Take a record's name apart into the steps of its address.

    Raises:
        BadReferenceError: that can be no name of this kind.

    Example:
        >>> steps("outing", "2026-05-02-north/7/heat-1")
        ['2026-05-02-north', '7', 'heat-1']
    """
    try:
        kind_of(kind).line(name)
    except ValueError as error:
        raise local("bad_reference", str(error)) from None
    return name.split("/")


def _walk(kind: str, wanted: Mapping[str, str | None], *, page: int = 50) -> Walk[Record]:
    return paged(lambda cursor: _page(kind, wanted, limit=page, cursor=cursor))


def _page(kind: str, wanted: Mapping[str, str | None], *, limit: int, cursor: Cursor) -> Flow[Records]:
    return call(_rows(kind).listing, query={"limit": limit, **wanted, "cursor": cursor})


def _rows(kind: str) -> OfKind:
    return RECORD_OPERATIONS[kind_of(kind).name]
