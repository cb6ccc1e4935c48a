"""The difference of two documents, leaf by leaf, and how to apply it."""

from collections.abc import Iterable
from typing import Any

import msgspec
from msgspec import UNSET, UnsetType

from studbook.history.canonical import Tree, UnrecordableError
from studbook.history.leaves import Path, apart, dotted


class FieldChange(msgspec.Struct, frozen=True, omit_defaults=True):
    """One leaf that differs; a side that does not have it is absent.

    Example:
        >>> FieldChange(("a",), before=1, after=2).after
        2
    """

    path: Path
    before: Any | UnsetType = UNSET
    after: Any | UnsetType = UNSET


def diff(before: Tree, after: Tree) -> list[FieldChange]:
    """List the leaves that differ between two canonical documents, by path.

    Example:
        >>> diff({"a": 1, "b": 2}, {"a": 1, "b": 3})
        [FieldChange(path=('b',), before=2, after=3)]
    """
    old, new = apart(before, after)
    return [
        FieldChange(path, old.get(path, UNSET), new.get(path, UNSET))
        for path in sorted(old.keys() | new.keys())
        if not same(old.get(path, UNSET), new.get(path, UNSET))
    ]


def apply(changes: Iterable[FieldChange], tree: Tree) -> Tree:
    """Set each change's `after` in a copy of a document; `apply(diff(a, b), a) == b`.

    Removals come first, so a leaf may give way to a group of fields of the same name and the other way round.

    Raises:
        UnrecordableError: a change goes through something that is no group of fields, or removes what is not there.

    Example:
        >>> apply([FieldChange(("a", "b"), after=5)], {"c": 1})
        {'c': 1, 'a': {'b': 5}}
    """
    todo = list(changes)
    result = _copy(tree)
    for change in todo:
        if change.after is UNSET:
            _remove(result, change.path)
    for change in todo:
        if change.after is not UNSET:
            _set(result, change.path, change.after)
    return result


def same(one: Any, other: Any) -> bool:
    """Compare two leaves as the book does: true and 1 are different values.

    Example:
        >>> same(True, 1), same(1.0, 1)
        (False, True)
    """
    if one is other:
        return True
    if one != other:
        return False
    if isinstance(one, list):
        return all(map(same, one, other))
    if isinstance(one, dict):
        return all(same(one[key], other[key]) for key in one)
    return isinstance(one, bool) is isinstance(other, bool)


def _copy(tree: Tree) -> Tree:
    return {key: _copy(value) if isinstance(value, dict) else value for key, value in tree.items()}


def _remove(tree: Tree, path: Path) -> None:
    trail: list[tuple[Tree, str]] = []
    here: Any = tree
    for step in path:
        if not isinstance(here, dict) or step not in here:
            raise UnrecordableError(path, f"there is no {dotted(path)} to remove")
        trail.append((here, step))
        here = here[step]
    for group, step in reversed(trail):
        del group[step]
        if group:
            return


def _set(tree: Tree, path: Path, value: Any) -> None:
    here = tree
    for place, step in enumerate(path[:-1]):
        below = here.setdefault(step, {})
        if not isinstance(below, dict):
            held = dotted(path[: place + 1])
            raise UnrecordableError(path, f"{held} holds a value; remove it before setting fields inside it")
        here = below
    if isinstance(here.get(path[-1]), dict) and not isinstance(value, dict):
        raise UnrecordableError(path, f"{dotted(path)} is a group of fields; set the fields inside it")
    here[path[-1]] = value
