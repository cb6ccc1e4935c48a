"""`studbook history CAR/SHEET`."""

import itertools
from collections.abc import Sequence
from typing import Annotated

import msgspec
from cyclopts import Parameter

from studbook.cli.connection import open_book_of
from studbook.cli.history_graph import draw_graph
from studbook.cli.options import Json
from studbook.cli.printing import print_answer, short, table, when, who
from studbook.wire.entries import Revision


def history(
    sheet: Annotated[str, Parameter(help="CAR/SHEET; of a source, SOURCE:CAR/SHEET.")],
    /,
    *,
    limit: Annotated[int, Parameter(name=["-n", "--limit"], help="How many at most; 0 for all.")] = 20,
    json: Json = False,
) -> None:
    """List a sheet's revisions, newest first, with lines where it was split."""
    with open_book_of(sheet) as (book, [there]):
        found = list(itertools.islice(book.history(there, page=min(limit or 200, 200)), limit or None))
    more = [f"(the last {limit}; -n 0 for all)"] if limit and len(found) == limit else []
    print_answer({"items": found}, lambda _: _page(found) + more, json=json)


def _page(found: Sequence[Revision]) -> list[str]:
    names: tuple[str, ...] = ("revision", "when", "who", "note")
    rows = [_row(revision) for revision in found]
    drawing = draw_graph(found)
    if any(line != "*" for line in drawing):
        names = ("", *names)
        rows = [(line, *row) for line, row in zip(drawing, rows, strict=True)]
    return table(names, rows)


def _row(revision: Revision) -> tuple[str, ...]:
    note = "[erased]" if revision.erased else revision.note
    if revision.carried_from is not msgspec.UNSET:
        note = f"[from {revision.carried_from[:12]}] {note}"
    if len(revision.parents) > 1:
        note = f"[settles {len(revision.parents)} sides] {note}"
    return revision.id[:12], when(revision.at), who(revision.author), short(note, 200)
