"""What is to be done at the car: the work card of a change, and a card started in the book."""

import datetime as dt
from typing import Any

from msgspec import UNSET

from studbook.core.call import Flow
from studbook.core.flows.book import compared, resolve
from studbook.core.flows.records import new_timed_record
from studbook.core.request import call, parameters
from studbook.wire.operations.revisions import READ_JOBS, READ_WORK
from studbook.wire.records import Record
from studbook.wire.work import JobTable, WorkCard, WorkQuery


def work(ref: str, *, since: str | None = None, wanted: WorkQuery | None = None) -> Flow[WorkCard]:
    """Make the work card of a change: jobs, who does which when, and what fits; nothing is recorded.

    Args:
        ref: the revision that the car shall have.
        since: the one that it has; its first parent unless given. With `undo` the way back to this one.
        wanted: crew, minutes, priorities, and the record of what is done.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    id_, before = yield from compared(ref, since)
    query = {"since": before, **parameters(wanted or WorkQuery())}
    return (yield from call(READ_WORK, id_, query=query))


def start_work(
    ref: str,
    *,
    since: str | None = None,
    wanted: WorkQuery | None = None,
    note: str = "",
    at: dt.datetime | None = None,
) -> Flow[Record]:
    """Start a card in the book, to be ticked off and signed, with the jobs planned on it and named by the time.

    Args:
        ref: the revision that the car shall have.
        since: the one that it has; its first parent unless given. With `undo` the way back to this one.
        wanted: crew, minutes, priorities.
        note: in the crew's words.
        at: when, if not now; with an offset.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    car = (yield from resolve(ref)).line.split("/")[1]
    card = yield from work(ref, since=since, wanted=wanted)
    document: dict[str, Any] = {
        "since": card.since,
        "revision": card.revision,
        "crew": card.crew,
        "planned": [job.id for job in card.jobs if job.state == "planned"],
    }
    if card.minutes_given is not UNSET:
        document["available_min"] = card.minutes_given
    return (yield from new_timed_record("work", car, document, at=at or dt.datetime.now().astimezone(), note=note))


def jobs() -> Flow[JobTable]:
    """Give the job table: what each kind of job takes, by the team's own figures where it gave any."""
    return call(READ_JOBS)
