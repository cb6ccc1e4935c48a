"""Records beside setups, in more than one call: corrected on what stands, numbered as they are entered. No I/O."""

import datetime as dt
import itertools
from collections.abc import Collection, Iterable, Mapping
from typing import Any

import msgspec

from studbook.core import operations
from studbook.core.call import Flow
from studbook.core.errors import local
from studbook.core.pulled import tree_of
from studbook.history.canonical import Tree
from studbook.wire.part_states import PartsQuery
from studbook.wire.parts import PartKind, ShopRecord
from studbook.wire.records import KINDS, NewRecord, Record, RecordChange, RecordKind
from studbook.wire.units import opt


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


def new_record(
    kind: str, name: str, document: Tree | msgspec.Struct, *, note: str, at: dt.datetime | None, allow_unknown: bool
) -> Flow[Record]:
    """Enter a record."""
    request = NewRecord(name=name, document=tree_of(document), note=note, at=opt(at), allow_unknown=allow_unknown)
    return (yield from operations.new_record(kind_of(kind), request))


def new_shop_record(
    part: str, document: Tree | ShopRecord, *, note: str, at: dt.datetime | None, allow_unknown: bool
) -> Flow[Record]:
    """Enter what was done with a part, under the next free number of its day.

    Raises:
        BadDocumentError: it does not say what was done and when.
    """
    kind, tree = KINDS["shop_record"], tree_of(document)
    if not all(isinstance(tree.get(member), str) for member in ("what", "at")):
        raise local("bad_document", "a shop record says what was done, and at which time")
    taken = {record.name for record in (yield from every(kind, {"part": part}))}
    free = free_name(f"{part}/{tree['at'][:10]}-{tree['what']}-", taken)
    return (yield from new_record("shop_record", free, tree, note=note, at=at, allow_unknown=allow_unknown))


def every(kind: RecordKind, wanted: Mapping[str, str]) -> Flow[list[Record]]:
    """List all records of a kind that have these values."""
    found: list[Record] = []
    cursor: str | None = None
    while True:
        page = yield from operations.records(kind, wanted, limit=200, cursor=cursor)
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


def timed_name(kind: RecordKind, car: str, at: dt.datetime) -> Flow[str]:
    """Find a free name `CAR/DATE-HHMM`: by the time of day, so that two laptops seldom choose one for two things."""
    taken = {record.name for record in (yield from every(kind, {"car": car}))}
    return free_name(f"{car}/{at.date().isoformat()}-", taken, first=100 * at.hour + at.minute, digits=4)


def change_record(
    kind: str,
    name: str,
    edits: Mapping[str, Any],
    *,
    remove: Iterable[str],
    note: str,
    at: dt.datetime | None,
    tag: str | None,
    allow_unknown: bool,
) -> Flow[Record]:
    """Correct a record in its present state, or in the state that was seen."""
    if tag is None:
        tag = (yield from operations.record(kind_of(kind), name)).tag
    request = RecordChange(edits=operations.edits_of(edits, remove), note=note, at=opt(at), allow_unknown=allow_unknown)
    return (yield from operations.change_record(kind_of(kind), name, request, tag))


def asked(*, part: str | None, kind: PartKind | None, where: str | None, car: str | None) -> PartsQuery:
    """Ask for some parts; None asks for any."""
    given = {"part": part, "kind": kind, "where": where, "car": car}
    return PartsQuery(**{name: value for name, value in given.items() if value is not None})  # type: ignore[arg-type] # each by its name


def narrowed(**wanted: str | None) -> dict[str, str]:
    """Keep what a list is narrowed by.

    Example:
        >>> narrowed(car="7", event=None)
        {'car': '7'}
    """
    return {name: value for name, value in wanted.items() if value is not None}
