"""Who descends from whom on one line, over a callable that gives an entry's parents; a dict's `__getitem__` will do."""

import math
from collections import deque
from collections.abc import Callable, Collection, Iterable, Sequence

import msgspec

Parents = Callable[[str], Collection[str]]
Group = tuple[str, ...]
"""Ids of entries to be merged with each other, sorted."""


class MergePlan(msgspec.Struct, frozen=True, kw_only=True):
    """How tips are merged: pairwise in id order, and the bases likewise wherever there are several.

    Attributes:
        tips: sorted.
        common: the last entries from which every tip descends.
        bases: groups to merge, each after those it needs. The first of a group's bases are those of its second entry
            and its first, the next those of its third and the first two, and so on. A base that is no group here is
            not looked into: what it holds counts as unknown.
    """

    tips: Group
    common: Group
    bases: dict[Group, Sequence[Group]]

    def entries(self) -> set[str]:
        """Name all entries whose documents the merge reads."""
        return {id_ for group in self.bases for id_ in group}


def ancestors(ids: Iterable[str], parents: Parents) -> set[str]:
    """Collect entries and all that they descend from.

    Args:
        ids: the entries.
        parents: gives an entry's parents; what it raises for one it does not know is let through.

    Example:
        >>> sorted(ancestors(["c"], {"a": (), "b": ("a",), "c": ("b",), "d": ("b",)}.__getitem__))
        ['a', 'b', 'c']
    """
    found: set[str] = set()
    todo = list(ids)
    while todo:
        here = todo.pop()
        if here not in found:
            found.add(here)
            todo += parents(here)
    return found


def merge_bases(sides: Iterable[Iterable[str]], parents: Parents) -> Group:
    """Find the last entries that all sides have in common: none of them descends from another.

    Args:
        sides: each of one or more entries; what any of these descends from is the side's.
        parents: gives an entry's parents.

    Returns:
        Their ids, sorted: none when the sides began apart, several when they crossed.

    Example:
        >>> crossed = {"a": (), "b": (), "x": ("a", "b"), "y": ("a", "b")}
        >>> merge_bases([["x"], ["y"]], crossed.__getitem__)
        ('a', 'b')
    """
    shared = set.intersection(*(ancestors(side, parents) for side in sides))
    older = ancestors((parent for each in shared for parent in parents(each)), parents)
    return tuple(sorted(shared - older))


def plan(tips: Iterable[str], parents: Parents, *, most: int | None = None) -> MergePlan:
    """Lay out how tips of one line are merged.

    Args:
        tips: their ids.
        parents: gives an entry's parents.
        most: look into groups of so many entries together, the tips' own aside; None for all. Sides that crossed often
            have bases that crossed, and so on.

    Example:
        >>> plan(["y", "x"], {"a": (), "x": ("a",), "y": ("a",)}.__getitem__).bases
        {('a',): (), ('x', 'y'): (('a',),)}
    """
    group = tuple(sorted(set(tips)))
    common = merge_bases([[tip] for tip in group], parents)
    steps = _steps(group, common, parents, most)
    ready: dict[Group, Sequence[Group]] = {}
    todo = [common, group] if common in steps else [group]
    while todo:
        here = todo[-1]
        lacking = [bases for bases in steps[here] if bases in steps and bases not in ready]
        if not lacking:
            ready[here] = steps[here]
            todo.pop()
        todo += lacking
    return MergePlan(tips=group, common=common, bases=ready)


def unplanned(tips: Iterable[str]) -> MergePlan:
    """Lay out the merge of tips of whose common past nothing is known.

    Example:
        >>> unplanned(["y", "x"])
        MergePlan(tips=('x', 'y'), common=(), bases={('x', 'y'): ((),)})
    """
    group = tuple(sorted(set(tips)))
    return MergePlan(tips=group, common=(), bases={group: ((),) * (len(group) - 1)})


def _steps(group: Group, common: Group, parents: Parents, most: int | None) -> dict[Group, Sequence[Group]]:
    """Find the bases of each group, those nearest to the tips first."""
    steps: dict[Group, Sequence[Group]] = {}
    left = math.inf if most is None else most + len(group)
    todo = deque([group, common])
    while todo:
        here = todo.popleft()
        if here not in steps and len(here) <= left:
            left -= len(here)
            steps[here] = tuple(merge_bases([here[:n], [here[n]]], parents) for n in range(1, len(here)))
            todo += steps[here]
    return steps
