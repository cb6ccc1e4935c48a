"""The lines of a history, drawn beside it: where it split, what ran side by side, where it was settled."""

from collections.abc import Iterable, Sequence

from studbook.wire.entries import Revision


def draw_graph(revisions: Sequence[Revision]) -> list[str]:
    """Draw a mark for each revision, its side's line up and down from there, and level strokes to other sides.

    Args:
        revisions: children before their parents, as a history gives them.

    Returns:
        A drawing for each: `*` the revision; `.` a further parent's line begins, `+` it runs there already;
        `'` the line of a further child ends.
    """
    waiting: list[str | None] = []  # for each column, the revision its line leads down to
    return [_row(waiting, revision) for revision in revisions]


def _row(waiting: list[str | None], revision: Revision) -> str:
    here, *ending = [column for column, id_ in enumerate(waiting) if id_ == revision.id] or [_free(waiting, ())]
    others = revision.parents[1:]
    beginning, meeting = [], []
    for parent in others:
        if parent in waiting:
            meeting.append(waiting.index(parent))
        else:
            column = _free(waiting, (here, *ending))
            waiting[column] = parent
            beginning.append(column)
    signs = {here: "*"} | dict.fromkeys(ending, "'") | dict.fromkeys(beginning, ".") | dict.fromkeys(meeting, "+")
    row = _drawn(waiting, signs)
    waiting[here] = revision.parents[0] if revision.parents else None
    for column in ending:
        waiting[column] = None
    return row


def _free(waiting: list[str | None], taken: Iterable[int]) -> int:
    for column, id_ in enumerate(waiting):
        if id_ is None and column not in taken:
            return column
    waiting.append(None)
    return len(waiting) - 1


def _drawn(waiting: Sequence[str | None], signs: dict[int, str]) -> str:
    row = ""
    for column, id_ in enumerate(waiting):
        level = min(signs) <= column < max(signs)
        row += signs.get(column, "|" if id_ is not None else "-" if level else " ") + ("-" if level else " ")
    return row.rstrip()
