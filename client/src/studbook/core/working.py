"""Asking for a work card, and starting one in the book. No I/O."""

import datetime as dt

import msgspec
from msgspec import UNSET

from studbook.core import keeping
from studbook.core.call import Call, Flow, as_json
from studbook.core.flows import compared, resolve
from studbook.wire.records import KINDS, Record
from studbook.wire.work import WorkCard, WorkQuery


def work(ref: str, *, since: str | None, wanted: WorkQuery | None) -> Flow[WorkCard]:
    """Ask for the work card of a change; from the first parent unless `since` is given.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    id_, before = yield from compared(ref, since)
    given = msgspec.structs.asdict(wanted or WorkQuery())
    query = [("since", before), *((name, _spelled(value)) for name, value in given.items() if value is not UNSET)]
    return (yield from Call("GET", f"/v1/revisions/{id_}/work", as_json(WorkCard), query=tuple(query)))


def start_work(ref: str, *, since: str | None, wanted: WorkQuery | None, note: str, at: dt.datetime) -> Flow[Record]:
    """Start a card in the book with the jobs that are planned on it, under the time of day.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    wanted = wanted or WorkQuery()
    car = (yield from resolve(ref)).line.split("/")[1]
    card = yield from work(ref, since=since, wanted=wanted)
    document: dict[str, object] = {
        "since": card.since,
        "revision": card.revision,
        "crew": card.crew,
        "planned": [job.id for job in card.jobs if job.state == "planned"],
    }
    if card.minutes_given is not UNSET:
        document["available_min"] = card.minutes_given
    name = yield from keeping.timed_name(KINDS["work"], car, at)
    return (yield from keeping.new_record("work", name, document, note=note, at=None, allow_unknown=False))


def _spelled(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:.10g}"
