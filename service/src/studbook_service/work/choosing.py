"""Which changes fit: as many as possible in the order of the crew's wishes, then simply as many as possible."""

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

ASKED_MOST: Final = 1_000
"""More sets of changes are not tried; the answer then says that it is not proven."""


class Choice(NamedTuple):
    """Changes chosen by number; `proven` when no better choice exists."""

    chosen: frozenset[int]
    proven: bool


def choose(
    *, wishes: Sequence[int], work: Sequence[int], fits: Callable[[frozenset[int]], bool], asked_most: int = ASKED_MOST
) -> Choice:
    """Choose changes, exactly.

    Of two choices the one with the first wish is better, of those with it the one with the second, and so on; then the
    one with more changes; then the one with those that come first.

    Args:
        wishes: numbers of changes, the most wanted first; others need not be named.
        work: what each change takes, for a first guess; their count is that of the changes.
        fits: whether a set of changes can be done; a part of one that can be done can be done too.
        asked_most: sets that may be tried.

    Example:
        >>> minutes = (20, 6, 5, 9)
        >>> sorted(choose(wishes=[3], work=minutes, fits=lambda some: sum(minutes[each] for each in some) <= 25).chosen)
        [1, 2, 3]
    """
    asked = 0
    wished = frozenset[int]()

    def may(chosen: frozenset[int]) -> bool:
        nonlocal asked
        asked += 1
        return asked <= asked_most and fits(chosen)

    for wish in wishes:
        if may(wished | {wish}):
            wished |= {wish}
    possible = [one for one in range(len(work)) if one not in wishes and may(wished | {one})]
    best = wished
    for one in sorted(possible, key=lambda each: work[each]):
        if may(best | {one}):
            best |= {one}
    wanted = len(best)

    def with_more(chosen: frozenset[int], possible: Sequence[int]) -> None:
        """Try all that may be added; each of `possible` fits with what is chosen, if not together."""
        nonlocal best, wanted
        if len(chosen) >= wanted:
            best, wanted = chosen, len(chosen) + 1
        for place, one in enumerate(possible):
            if len(chosen) + len(possible) - place < wanted:
                return
            more = chosen | {one}
            with_more(more, [other for other in possible[place + 1 :] if may(more | {other})])

    with_more(wished, possible)
    return Choice(best, proven=asked <= asked_most)
