"""Asking for a work card. No I/O."""

import msgspec
from msgspec import UNSET

from studbook.core.call import Call, Flow, as_json
from studbook.core.errors import local
from studbook.core.flows import resolve
from studbook.wire.work import WorkCard, WorkWanted


def work(ref: str, *, since: str | None, wanted: WorkWanted | None) -> Flow[WorkCard]:
    """Ask for the work card of a change; from the first parent unless `since` is given.

    Raises:
        BadReferenceError: the revision is a first one and `since` is not given.
    """
    found = yield from resolve(ref)
    if since is not None:
        before = (yield from resolve(since)).id
    elif found.parents:
        before = found.parents[0]
    else:
        raise local("bad_reference", f"{ref} is the first revision: say since which other one")
    given = msgspec.structs.asdict(wanted or WorkWanted())
    query = [("since", before), *((name, _spelt(value)) for name, value in given.items() if value is not UNSET)]
    return (yield from Call("GET", f"/v1/revisions/{found.id}/work", as_json(WorkCard), query=tuple(query)))


def _spelt(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:.10g}"
