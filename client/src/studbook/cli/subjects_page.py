"""What a change does to a subject, figure by figure."""

from collections.abc import Sequence
from typing import Final

from msgspec import UNSET

from studbook.cli.environment import bold
from studbook.cli.numbers import fixed
from studbook.cli.printing import table
from studbook.wire.figures import SubjectEffect

DECIMALS: Final = 3
NOTICED: Final = 0.005
MOST: Final = 16


def subjects(effects: Sequence[SubjectEffect]) -> list[str]:
    """Lay out every subject that moves, and name those that do not."""
    page = []
    for effect in effects:
        if lines := figures(effect, most=MOST):
            page += ["", *lines]
    still = [_said(effect.subject) for effect in effects if not _told(effect)]
    return [*page, "", f"As before: {', '.join(still)}."] if still else page


def figures(effect: SubjectEffect, *, most: int | None = None) -> list[str]:
    """Set a subject's figures before and after side by side; none where nothing moves to speak of.

    Args:
        effect: the subject.
        most: lines at the most; None for all.
    """
    rows = _told(effect)
    if not rows:
        return []
    lines = table([_said(effect.subject).upper(), "before", "after", "change"], rows[:most], right=frozenset({1, 2, 3}))
    more = len(rows) - len(rows[:most])
    return [bold(lines[0]), *lines[1:], *([f"  and {more} more: see --json"] if more else [])]


def _told(effect: SubjectEffect) -> list[list[str]]:
    rows = []
    for figure in effect.figures:
        if figure.difference is UNSET or abs(figure.difference) >= NOTICED:
            name = _said(figure.name.removeprefix("now.").replace(".", " "))
            change = "" if figure.difference is UNSET else f"{figure.difference:+.{DECIMALS}f}"
            rows.append([f"  {name}", fixed(figure.before, DECIMALS), fixed(figure.after, DECIMALS), change])
    return rows


def _said(name: str) -> str:
    return name.replace("_", " ")
