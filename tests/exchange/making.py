"""Entries for the tests of exchange: invented revisions, hashed by the book's own rule."""

from collections.abc import Iterable, Sequence
from typing import Any

from studbook.history.canonical import Tree, canonical, encode
from studbook.history.ids import Header, entry_id, hash_content
from studbook_service.exchange.book import ExchangedEntry

BOOK = b"book one"


def entry(
    body: Tree,
    *,
    parents: Iterable[ExchangedEntry] = (),
    line: str = "car/7/sheet/baseline",
    kind: str = "sheet",
    author: str = "chief",
    at: int = 1_790_000_000_000,
    note: str = "",
    carried_from: str | None = None,
) -> ExchangedEntry:
    """Make an entry with the id that belongs to it."""
    header = Header(
        kind=kind,
        line=line,
        parents=tuple(sorted(parent.id for parent in parents)),
        author=author,
        at=at,
        content=hash_content(note=note, body=encode(canonical(body))),
        carried_from=carried_from,
    )
    return ExchangedEntry(id=entry_id(header), header=header, note=note, body=encode(canonical(body)))


def run(count: int, **header: Any) -> Sequence[ExchangedEntry]:
    """Make a line of revisions, each with one more turn of a perch."""
    made: list[ExchangedEntry] = []
    for turn in range(count):
        body = {"setup": {"front": {"rf": {"perch_turns": turn, "spring": {"rate_lb_per_in": 425}}}}}
        note = f"turn {turn}"
        made.append(entry(body, parents=made[-1:], at=1_790_000_000_000 + 60_000 * turn, note=note, **header))
    return made
