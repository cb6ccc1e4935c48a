"""Around the scales, in more than one call: a session recorded, a race predicted, the log kept and taken. No I/O."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from msgspec import UNSET, structs

from studbook.core import keeping, operations
from studbook.core.call import Flow
from studbook.core.errors import UnchangedError, local
from studbook.core.flows import pull, push, resolve
from studbook.core.logbook import named, named_in, put_in, read_log
from studbook.core.pulled import Pulled, tree_of
from studbook.core.references import SheetName
from studbook.history.canonical import Tree
from studbook.wire.around_scales import (
    Race,
    RaceAnswer,
    RaceConditions,
    Returned,
    ReturnedAnswer,
    SensitivityAnswer,
    SensitivityQuery,
)
from studbook.wire.entries import Pushed, Revision
from studbook.wire.records import KINDS, Record, typed
from studbook.wire.shop import Check

LOOKED_BACK = 200
"""So many revisions of a sheet are looked through for logs that they were made from already."""

NOTE_MOST = 2000


def sensitivity(ref: str, *, asked: SensitivityQuery | None) -> Flow[SensitivityAnswer]:
    """Ask what one step of each thing does to a revision's car."""
    found = yield from resolve(ref)
    return (yield from operations.sensitivity(found.id, asked))


def after_race(
    ref: str, asked: RaceConditions, *, edits: Mapping[str, Any] | None, remove: Iterable[str], allow_unknown: bool
) -> Flow[RaceAnswer]:
    """Ask what a revision's car weighs after the race, with edits tried on it."""
    found = yield from resolve(ref)
    request = Race(
        revision=found.id,
        edits=operations.edits_of(edits or {}, remove),
        allow_unknown=allow_unknown,
        **structs.asdict(asked),
    )
    return (yield from operations.after_race(request))


def try_check(car: str, document: Tree, *, allow_unknown: bool) -> Flow[ReturnedAnswer]:
    """Ask what readings of a car that came back tell."""
    return (yield from operations.try_check(Returned(car=car, document=document, allow_unknown=allow_unknown)))


def new_check(car: str, document: Tree | Check, *, note: str) -> Flow[Record]:
    """Record what a car read that came back, under the time of day.

    Raises:
        BadDocumentError: it does not say when.
    """
    tree = tree_of(document)
    try:
        at = dt.datetime.fromisoformat(tree["at"])
    except (KeyError, TypeError, ValueError):
        raise local("bad_document", "a check says at which time it was made") from None
    name = yield from keeping.timed_name(KINDS["check"], car, at)
    return (yield from keeping.new_record("check", name, tree, note=note, at=None, allow_unknown=False))


def weigh(
    car: str,
    readings_lb: Sequence[Sequence[float]],
    *,
    revision: str | None,
    basis: Mapping[str, Any] | None,
    settled: str,
    at: dt.datetime,
) -> Flow[Record]:
    """Record a session on the scales, under the time of day."""
    document: Tree = {"readings_lb": [list(reading) for reading in readings_lb], "at": _moment(at)}
    document |= {"settled": settled} if settled else {}
    document |= {"basis": dict(basis)} if basis else {}
    if revision is not None:
        document["revision"] = (yield from resolve(revision)).id
    name = yield from keeping.timed_name(KINDS["scale_session"], car, at)
    return (yield from keeping.new_record("scale_session", name, document, note="", at=None, allow_unknown=False))


def log(car: str, words: str, *, at: dt.datetime) -> Flow[Record]:
    """Note down what was turned, under the time of day.

    Raises:
        BadRequestError: with everything that cannot be read, and why.
    """
    document = {"at": _moment(at), "words": words, "changes": read_log(words)}
    name = yield from keeping.timed_name(KINDS["log"], car, at)
    return (yield from keeping.new_record("log", name, document, note="", at=None, allow_unknown=False))


def open_logs(car: str) -> Flow[list[Record]]:
    """List what was logged of a car and is in no revision yet, in order of time."""
    found = yield from keeping.every(KINDS["log"], {"car": car})
    return sorted((each for each in found if not each.erased and _open(each)), key=_when)


def on_the_car(ref: str) -> Flow[tuple[Pulled, Tree]]:
    """Put what is logged of a car into one of its setups; nothing is recorded.

    Returns:
        The setup as it is recorded, and its document as it really is on the car.

    Raises:
        BadRequestError: the setup does not tell what is needed, such as the pitch of a thread.
    """
    base = yield from pull(ref)
    logs, taken = yield from _logged(base)
    return base, _with(base, [each for each in logs if each.name not in taken])


def take_logs(sheet: str, *, note: str, at: dt.datetime | None) -> Flow[Pushed | None]:
    """Make a revision of everything that is logged, and mark it taken.

    Its note names the logs: should marking them be cut off, the next try marks them and does not put them in twice.

    Returns:
        What was recorded; None where all that is logged was in the sheet already.

    Raises:
        UnchangedError: nothing is logged, or nothing differs.
        BadRequestError: the setup does not tell what is needed, such as the pitch of a thread.
    """
    base = yield from pull(sheet)
    logs, taken = yield from _logged(base)
    if not logs:
        raise UnchangedError(f"nothing is logged of car {base.car} that is in no revision")
    left = [each for each in logs if each.name not in taken]
    document = _with(base, left)
    for each in logs:
        if each.name in taken:
            yield from _mark(each, taken[each.name])
    if taken and not left:
        return None
    said = note or "; ".join(str(typed(each).words or "") for each in left)
    told = f"{named([each.name for each in left])}: {said}"[:NOTE_MOST]
    pushed = yield from push(base, document, note=told, at=at, allow_unknown=False)
    for each in left:
        yield from _mark(each, pushed.revision)
    return pushed


def _logged(base: Pulled) -> Flow[tuple[list[Record], dict[str, Revision]]]:
    """Read the open logs of a setup's car, and which of them its sheet's revisions say they were made from."""
    logs = yield from open_logs(base.car)
    page = yield from operations.history(SheetName(base.car, base.sheet), limit=LOOKED_BACK)
    made = {log: revision for revision in page.items for log in named_in(revision.note)}
    return logs, {each.name: made[each.name] for each in logs if each.name in made}


def _with(base: Pulled, logs: Sequence[Record]) -> Tree:
    split = [each.name for each in logs if each.split]
    if split:
        raise local("split", f"the log {', '.join(split)} was written in two places: settle it first")
    return put_in([change for each in logs for change in _changes(each)], base.document())


def _mark(record: Record, revision: Revision) -> Flow[Record]:
    edits = {"taken_into": revision.id}
    return (
        yield from keeping.change_record(
            "log", record.name, edits, remove=(), note="", at=None, tag=record.tag, allow_unknown=False
        )
    )


def _open(record: Record) -> bool:
    return typed(record).taken_into is UNSET


def _changes(record: Record) -> list[str]:
    changes = typed(record).changes
    return changes if isinstance(changes, list) else []


def _when(record: Record) -> tuple[str, str]:
    at = typed(record).at
    moment = dt.datetime.fromisoformat(at).astimezone(dt.UTC).isoformat() if isinstance(at, str) else ""
    return moment, record.name


def _moment(at: dt.datetime) -> str:
    """Write a time to the second with its offset."""
    return at.astimezone(at.tzinfo or dt.UTC).isoformat(timespec="seconds")
