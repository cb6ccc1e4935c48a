"""Which changes fit: first those with priority, in their order, then as many as possible."""

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

TRIES_MOST: Final = 1_000
"""More sets of changes are not tried; the answer then says that it is not proven."""


class ChangeChoice(NamedTuple):
    """Changes chosen by number; `proven` when no better choice exists."""

    chosen: frozenset[int]
    proven: bool


def choose(
    *,
    priorities: Sequence[int],
    work: Sequence[int],
    fits: Callable[[frozenset[int]], bool],
    tries_most: int = TRIES_MOST,
) -> ChangeChoice:
    """Choose changes, exactly.

    Of two choices the one with the first priority is better, of those with it the one with the second, and so on; then
    the one with more changes; then the one with those that come first.

    Args:
        priorities: numbers of changes, the most wanted first; others need not be named.
        work: what each change takes, for a first guess; their count is that of the changes.
        fits: whether a set of changes can be done; a part of one that can be done can be done too.
        tries_most: sets that may be tried.

    Example:
        >>> minutes = (20, 6, 5, 9)
        >>> def fits(some): return sum(minutes[each] for each in some) <= 25
        >>> sorted(choose(priorities=[3], work=minutes, fits=fits).chosen)
        [1, 2, 3]
    """
    tries = 0
    wanted = frozenset[int]()

    def may(chosen: frozenset[int]) -> bool:
        nonlocal tries
        tries += 1
        return tries <= tries_most and fits(chosen)

    for one in priorities:
        if may(wanted | {one}):
            wanted |= {one}
    possible = [one for one in range(len(work)) if one not in priorities and may(wanted | {one})]
    best = wanted
    for one in sorted(possible, key=lambda each: work[each]):
        if may(best | {one}):
            best |= {one}
    least = len(best)

    def with_more(chosen: frozenset[int], possible: Sequence[int]) -> None:
        """Try all that may be added; each of `possible` fits with what is chosen, if not together."""
        nonlocal best, least
        if len(chosen) >= least:
            best, least = chosen, len(chosen) + 1
        for place, one in enumerate(possible):
            if len(chosen) + len(possible) - place < least:
                return
            more = chosen | {one}
            with_more(more, [other for other in possible[place + 1 :] if may(more | {other})])

    with_more(wanted, possible)
    return ChangeChoice(best, proven=tries <= tries_most)
