"""`studbook diff A B`."""

from collections.abc import Sequence

from studbook.cli.connection import open_book_of
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import leaf, print_answer, short, table, unit_text
from studbook.history.leaves import is_number
from studbook.wire.entries import LeafChange


def diff(since: ReadRef, revision: ReadRef, /, *, json: Json = False) -> None:
    """List what differs from one revision to another, of any cars of one book."""
    with open_book_of(since, revision) as (book, [before, after]):
        found = book.diff(before, after)
    print_answer(found, lambda _: change_table(found.changes) if found.changes else ["Nothing differs."], json=json)


def change_table(found: Sequence[LeafChange]) -> list[str]:
    """Lay changed leaves out: path, before, after, unit, and by how much where both are numbers."""
    rows = [
        (each.path, short(leaf(each.before), 20), short(leaf(each.after), 20), unit_text(each.unit or ""), _by(each))
        for each in found
    ]
    return table(("field", "before", "after", "unit", "by"), rows, right=frozenset({1, 2, 4}))


def _by(change: LeafChange) -> str:
    before, after = change.before, change.after
    if is_number(before) and is_number(after):
        return f"{round(after - before, 6):+g}"
    return ""
