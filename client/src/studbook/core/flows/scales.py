"""Around the scales: sessions, checks, the race, the log, and the sheet for the wall."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from msgspec import UNSET
from msgspec.structs import asdict

from studbook.core.call import Flow
from studbook.core.errors import UnchangedError, local
from studbook.core.flows.answers import edited
from studbook.core.flows.book import pull, resolve
from studbook.core.flows.pushing import push
from studbook.core.flows.records import change_record, every, new_timed_record, steps
from studbook.core.logbook import named, named_in, put_in, read_log
from studbook.core.pulled import Pulled, tree_of
from studbook.core.request import call
from studbook.history.canonical import Tree
from studbook.wire.around_scales import (
    Race,
    RaceAnswer,
    RaceTerms,
    Returned,
    ReturnedAnswer,
    SensitivityAnswer,
    SensitivityQuery,
    SessionWeights,
)
from studbook.wire.entries import Pushed, Revision
from studbook.wire.operations.cars import READ_HISTORY
from studbook.wire.operations.revisions import READ_SENSITIVITY
from studbook.wire.operations.searches import READ_CHECK_FINDINGS, READ_SESSION_WEIGHTS, TRY_CHECK, TRY_RACE
from studbook.wire.records import Record, typed
from studbook.wire.shop import Check

LOOKED_BACK = 200
"""So many revisions of a sheet are looked through for logs that they were made from already."""

NOTE_MOST = 2000


def sensitivity(ref: str, *, sizes: SensitivityQuery | None = None) -> Flow[SensitivityAnswer]:
    """Tell what one step of each perch, shim, stud and pressure does to a revision's car.

    Args:
        ref: the revision.
        sizes: of the steps.

    Raises:
        FieldsMissingError: scales, springs or tires are not known.
    """
    found = yield from resolve(ref)
    return (yield from call(READ_SENSITIVITY, found.id, query=sizes))


def after_race(
    ref: str,
    conditions: RaceTerms,
    *,
    edits: Mapping[str, Any] | None = None,
    remove: Iterable[str] = (),
    allow_unknown: bool = False,
) -> Flow[RaceAnswer]:
    """Tell what a revision's car weighs after the race, against its rules; nothing is recorded.

    Args:
        ref: the revision.
        conditions: the fuel burned, the rules, the driver.
        edits: new values by dotted path, to try first, such as a ballast's place.
        remove: paths to take away first.
        allow_unknown: accept fields that the schema does not know.
    """
    tried = yield from edited(ref, edits, remove, allow_unknown=allow_unknown)
    return (yield from call(TRY_RACE, body=Race(**tried, **asdict(conditions))))


def try_check(car: str, document: Tree, *, allow_unknown: bool = False) -> Flow[ReturnedAnswer]:
    """Hold the readings of a car that came back against the book; nothing is recorded.

    Args:
        car: whose.
        document: as a check's record: `measured`, and `revision` if not what the car raced last was left.
        allow_unknown: accept fields that the schema does not know.

    Raises:
        NotFoundError: the book has no outing of the car, and no revision is named.
    """
    return call(TRY_CHECK, body=Returned(car=car, document=document, allow_unknown=allow_unknown))


def new_check(car: str, document: Tree | Check, *, note: str = "") -> Flow[Record]:
    """Record what a car read that came back, under the time of day; it says `at`.

    Raises:
        BadDocumentError: it does not, or holds values that cannot be recorded.
    """
    tree = tree_of(document)
    try:
        at = dt.datetime.fromisoformat(tree["at"])
    except (KeyError, TypeError, ValueError):
        raise local("bad_document", "a check says at which time it was made") from None
    return (yield from new_timed_record("check", car, tree, at=at, note=note))


def check_findings(check: str) -> Flow[ReturnedAnswer]:
    """Tell what a recorded check (`CAR/DATE-HHMM`) found."""
    return call(READ_CHECK_FINDINGS, *steps("check", check))


def weigh(
    car: str,
    readings_lb: Sequence[Sequence[float]],
    *,
    revision: str | None = None,
    basis: Mapping[str, Any] | None = None,
    settled: str = "",
    at: dt.datetime | None = None,
) -> Flow[Record]:
    """Record a session on the scales, under the time of day.

    Args:
        car: whose.
        readings_lb: LF, RF, LR, RR of each settled reading, two or more.
        revision: the setup that was on the scales.
        basis: what was aboard and set, such as `{"driver_aboard": True}`.
        settled: how it was settled before each reading.
        at: when, if not now; with an offset.

    Raises:
        BadDocumentError: fewer than two readings.
    """
    at = at or dt.datetime.now().astimezone()
    document: Tree = {"readings_lb": [list(reading) for reading in readings_lb], "at": _to_the_second(at)}
    document |= {"settled": settled} if settled else {}
    document |= {"basis": dict(basis)} if basis else {}
    if revision is not None:
        document["revision"] = (yield from resolve(revision)).id
    return (yield from new_timed_record("scale_session", car, document, at=at))


def session_weights(session: str) -> Flow[SessionWeights]:
    """Tell what a scale session (`CAR/DATE-HHMM`) comes to: average, spread, and what had not settled."""
    return call(READ_SESSION_WEIGHTS, *steps("scale_session", session))


def log(car: str, words: str, *, at: dt.datetime | None = None) -> Flow[Record]:
    """Note down what was turned or let out, before there is time for a revision.

    Args:
        car: whose.
        words: such as `RR perch +2 turns, LR pressure -1`.
        at: when, if not now; with an offset.

    Raises:
        BadRequestError: with everything that cannot be read, and why.
    """
    at = at or dt.datetime.now().astimezone()
    document = {"at": _to_the_second(at), "words": words, "changes": read_log(words)}
    return (yield from new_timed_record("log", car, document, at=at))


def open_logs(car: str) -> Flow[list[Record]]:
    """List what was logged of a car and is in no revision yet, in order of time."""
    found = yield from every("log", {"car": car})
    return sorted((each for each in found if not each.erased and typed(each).taken_into is UNSET), key=_when)


def on_the_car(ref: str) -> Flow[tuple[Pulled, Tree]]:
    """Give a setup as it is recorded, and its document as it really is on the car: with everything logged since.

    Raises:
        BadRequestError: the setup does not tell what is needed, such as the pitch of a thread.
    """
    base = yield from pull(ref)
    logs, taken = yield from _logged(base)
    return base, _with(base, [each for each in logs if each.name not in taken])


def take_logs(sheet: str, *, note: str = "", at: dt.datetime | None = None) -> Flow[Pushed | None]:
    """Make a revision of everything that is logged of a car, and mark it taken.

    Its note names the logs: should marking them be cut off, the next try marks them and does not put them in twice.

    Args:
        sheet: `CAR/SHEET`.
        note: why; the words of the logs unless given.
        at: when, if not now; with an offset.

    Returns:
        What was recorded; None where all that is logged was in the sheet already, and is marked now.

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
    words = note or "; ".join(str(typed(each).words or "") for each in left)
    pushed = yield from push(base, document, note=f"{named([each.name for each in left])}: {words}"[:NOTE_MOST], at=at)
    for each in left:
        yield from _mark(each, pushed.revision)
    return pushed


def _logged(base: Pulled) -> Flow[tuple[list[Record], dict[str, Revision]]]:
    """Read the open logs of a setup's car, and which of them its sheet's revisions say they were made from."""
    logs = yield from open_logs(base.car)
    page = yield from call(READ_HISTORY, base.car, base.sheet, query={"limit": LOOKED_BACK})
    made = {log: revision for revision in page.items for log in named_in(revision.note)}
    return logs, {each.name: made[each.name] for each in logs if each.name in made}


def _with(base: Pulled, logs: Sequence[Record]) -> Tree:
    split = [each.name for each in logs if each.split]
    if split:
        raise local("split", f"the log {', '.join(split)} was written in two places: settle it first")
    return put_in([change for each in logs for change in _changes(each)], base.document())


def _mark(record: Record, revision: Revision) -> Flow[Record]:
    return change_record("log", record.name, {"taken_into": revision.id}, tag=record.tag)


def _changes(record: Record) -> list[str]:
    changes = typed(record).changes
    return changes if isinstance(changes, list) else []


def _when(record: Record) -> tuple[str, str]:
    at = typed(record).at
    moment = dt.datetime.fromisoformat(at).astimezone(dt.UTC).isoformat() if isinstance(at, str) else ""
    return moment, record.name


def _to_the_second(at: dt.datetime) -> str:
    """Write a time with its offset."""
    return at.astimezone(at.tzinfo or dt.UTC).isoformat(timespec="seconds")
