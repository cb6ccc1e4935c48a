"""Merging the tips of a line, leaf by leaf, with conflicts as values.

A leaf that one side alone changed is taken from that side; the same change on both is one change; two different changes
are a conflict. Where one side has a value and the other has fields inside a group of the same name, the conflict is
about the whole of it. Nothing is chosen here: a field in conflict is in no merged document, not even with its old
value. Pushed unread it would be missing, which shows, rather than quietly put back.

More than two tips are merged pairwise in id order. Sides that crossed have several bases; these are merged first, in
the same way, and a leaf on which they disagree is unknown: it equals nothing, so all that differs is a conflict. Of a
base whose content was erased, or which the plan does not look into, all is unknown: the cost of a merge is bounded, and
nothing is taken for granted.
"""

from collections.abc import Callable, Sequence
from typing import Any, Final

import msgspec
from msgspec import UNSET, UnsetType

from studbook.history.ancestry import Group, MergePlan
from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import Path, apart, at, grown

AUTHOR: Final = "merge"
"""The author of an accepted merge, no member: nothing in it is a choice, so it has one id on every node. A merge with a
note is an ordinary revision."""


class Unknown(msgspec.Struct, frozen=True):
    """The value of a leaf on which the bases disagree."""


class MergeConflict(msgspec.Struct, frozen=True, kw_only=True):
    """A leaf, or all that stands under one name, which the sides changed in different ways.

    Attributes:
        path: steps to it.
        base: what it was before the sides parted: absent if it was not there, `Unknown` if the bases disagree.
        sides: what it is on each side, in the sides' order; absent where it is not there.
    """

    path: Path
    base: Any | UnsetType
    sides: tuple[Any | UnsetType, ...]


class Merged(msgspec.Struct, frozen=True):
    """What the sides make together.

    Attributes:
        tree: all on which they agree.
        conflicts: the rest, by path.
    """

    tree: Tree
    conflicts: tuple[MergeConflict, ...]


Flat = dict[Path, Any]

_UNKNOWN: Final = Unknown()
_UNKNOWN_WHOLE: Final[Flat] = {(): _UNKNOWN}
"""Of what was erased or not looked into all is unknown: every leaf lies inside the whole."""


def merge(plan: MergePlan, document: Callable[[str], Tree | None]) -> Merged:
    """Merge tips as planned.

    Args:
        plan: from `ancestry.plan`.
        document: gives the canonical document of each of `plan.entries()`, and None of a base that was erased.

    Returns:
        The merge; its conflicts' sides stand in the order of `plan.tips`.

    Example:
        >>> from studbook.history.ancestry import plan
        >>> planned = plan(["x", "y"], {"a": (), "x": ("a",), "y": ("a",)}.__getitem__)
        >>> merge(planned, {"a": {"n": 1}, "x": {"n": 2}, "y": {"n": 1}}.__getitem__)
        Merged(tree={'n': 2}, conflicts=())
    """
    read = {id_: document(id_) for id_ in sorted(plan.entries())}
    held = {id_: tree for id_, tree in read.items() if tree is not None}
    flat = dict.fromkeys(read, _UNKNOWN_WHOLE) | dict(zip(held, apart(*held.values()), strict=True))
    joined: dict[Group, Flat] = {}
    for group, bases in plan.bases.items():
        first, *rest = [flat[id_] for id_ in group] or [{}]
        for base, other in zip(bases, rest, strict=True):
            first = _joined(joined.get(base, _UNKNOWN_WHOLE), first, other)
        joined[group] = first
    return _merged(joined[plan.tips], joined.get(plan.common, _UNKNOWN_WHOLE), [held[tip] for tip in plan.tips])


def _joined(base: Flat, one: Flat, other: Flat) -> Flat:
    """Merge leaves; what is in conflict is unknown."""
    kept = dict(one)
    differing = [path for path, yours in other.items() if not same(one.get(path, UNSET), yours)]
    differing += [path for path in one if path not in other]
    for path in differing:
        kept[path] = _taken(base, path, one.get(path, UNSET), other.get(path, UNSET))
        if kept[path] is UNSET:
            del kept[path]
    # Only what one side alone has can lie inside what the other alone has.
    alone = sorted(path for path in differing if path in kept and (path in one) is not (path in other))
    last = None
    for path in alone:  # so sorted, what lies inside a name follows right after it
        if last is not None and path[: len(last)] == last:
            kept[last] = _UNKNOWN
            del kept[path]
        else:
            last = path
    return kept


def _taken(base: Flat, path: Path, mine: Any, yours: Any) -> Any:
    if _is_unknown(path, base):
        return _UNKNOWN
    before = base.get(path, UNSET)
    if same(mine, before):
        return yours
    return mine if same(yours, before) else _UNKNOWN


def _is_unknown(path: Path, flat: Flat) -> bool:
    """Whether a leaf is unknown, or lies inside something that is."""
    return any(flat.get(path[:length]) is _UNKNOWN for length in range(len(path) + 1))


def _merged(flat: Flat, common: Flat, sides: Sequence[Tree]) -> Merged:
    found = sorted(path for path, value in flat.items() if value is _UNKNOWN)
    if not found:
        return Merged(grown(flat), ())
    known = _known(common)
    groups = {path[:length] for path in common if common[path] is _UNKNOWN for length in range(1, len(path))}

    def before(path: Path) -> Any:
        return _UNKNOWN if path in groups or _is_unknown(path, common) else _held(known, path)

    conflicts = (
        MergeConflict(path=path, base=before(path), sides=tuple(_held(side, path) for side in sides)) for path in found
    )
    return Merged(_known(flat), tuple(conflicts))


def _known(flat: Flat) -> Tree:
    return grown({path: value for path, value in flat.items() if value is not _UNKNOWN})


def _held(tree: Tree, path: Path) -> Any:
    value = at(tree, path)
    return UNSET if value is None else value
