"""The lines of a history: small histories and what is drawn for them."""

import msgspec
import pytest

from studbook.cli.history_graph import draw_graph
from studbook.wire.entries import Revision


def drawn(*entries: str) -> list[str]:
    """Draw a history told as `child: parents`, newest first, a letter for each."""
    told = [entry.partition(":") for entry in entries]
    common = {"kind": "sheet", "line": "car/7/sheet/baseline", "car": "7", "generation": 0, "author": {"id": "m1"}}
    common |= {"at": "2026-05-02T18:30:00Z", "received_at": "2026-05-02T18:30:00Z", "note": "", "content": ""}
    return draw_graph(
        [msgspec.convert({**common, "id": name, "parents": parents.split()}, Revision) for name, _, parents in told]
    )


@pytest.mark.parametrize(
    ("entries", "drawing"),
    [
        (["c: b", "b: a", "a:"], ["*", "*", "*"]),
        (["y: b", "x: b", "b: a", "a:"], ["*", "| *", "*-'", "*"]),
        (["m: x y", "y: b", "x: b", "b:"], ["*-.", "| *", "* |", "*-'"]),
        (["m: x y z", "z: b", "y: b", "x: b", "b:"], ["*-.-.", "| | *", "| * |", "* | |", "*-'-'"]),
        # Two who settled the same split, each in their own way.
        (["n: x y", "m: y x", "y: b", "x: b", "b:"], ["*-.", "+-|-*", "| *-'", "* |", "*-'"]),
        # A line that is crossed goes on.
        (
            ["n: x z", "m: x y", "z: b", "y: b", "x: b", "b:"],
            ["*-.", "| | *-.", "| * | |", "| | | *", "*-|-' |", "*-'---'"],
        ),
        # Cut off at the end of a page: lines lead down out of it.
        (["m: x y", "y: b"], ["*-.", "| *"]),
        # Begun apart.
        (["y:", "x:"], ["*", "*"]),
        ([], []),
    ],
)
def test_sides_run_beside_each_other(entries: list[str], drawing: list[str]) -> None:
    assert drawn(*entries) == drawing
