"""How long the algebra of the book takes on documents of real size: a plain script, never a timed test.

`python tests/bench/history.py`. The bare limit is the standard library reading the same two documents.
"""

import datetime as dt
import json
from collections.abc import Callable
from time import perf_counter

from studbook.history.ancestry import plan
from studbook.history.canonical import canonical, encode
from studbook.history.changes import FieldChange, apply, diff
from studbook.history.ids import hash_content
from studbook.history.merge import merge
from studbook_service.demo.scenario import base

Row = tuple[str, str, str, str]


def best(work: Callable[[], object], *, times: int = 50) -> float:
    """Shortest wall time of some runs, ms."""
    taken = []
    for _ in range(times):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return min(taken) * 1e3


def rows() -> list[Row]:
    """Time diff, apply, canonical bytes and ids of a full document against reading it as JSON."""
    one = base("7", today=dt.date(2026, 6, 1))
    other = apply([FieldChange(("setup", "front", "rf", "upper_stud", "length_in"), after=1.7)], one)
    stud = ("setup", "front", "rf", "upper_stud", "length_in")
    third = apply([FieldChange(stud, after=1.5), FieldChange(("notes",))], one)
    held = {"a": one, "x": other, "y": third}
    fork = plan(["x", "y"], {"a": (), "x": ("a",), "y": ("a",)}.__getitem__)
    text = [encode(tree) for tree in (one, other)]
    bare = best(lambda: [json.loads(each) for each in text])
    limit = f"json.loads of both {bare:.2f} ms"

    def row(what: str, work: Callable[[], object], reach: float | None = None) -> Row:
        ours = best(work)
        goal = f", reach {reach:g} ms" if reach else ""
        return (f"{what}{goal}", f"{ours:.2f} ms", limit, f"{ours / bare:.1f}×")

    changes = diff(one, other)
    return [
        row("diff of two documents", lambda: diff(one, other), 1),
        row("merge of three with a conflict", lambda: merge(fork, held.__getitem__), 1),
        row("apply a change", lambda: apply(changes, one)),
        row("canonical bytes", lambda: encode(canonical(one))),
        row("content id", lambda: hash_content(note="", body=encode(one))),
    ]


def main() -> None:
    """Print the rows."""
    for row in rows():
        print("  ".join(row))


if __name__ == "__main__":
    main()
