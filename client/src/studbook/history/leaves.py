"""Leaves of a document: objects are containers, every other value (arrays included) is one leaf."""

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import Any, TypeGuard

import msgspec

from studbook.history.canonical import Tree

Path = tuple[str, ...]


def leaves(tree: Tree) -> dict[Path, Any]:
    """List every leaf with its path.

    Example:
        >>> leaves({"a": {"b": [1, 2]}, "c": "x"})
        {('a', 'b'): [1, 2], ('c',): 'x'}
    """
    found: dict[Path, Any] = {}
    _collect(tree, (), found)
    return found


def is_number(value: Any) -> TypeGuard[float]:
    """Return whether a leaf is a number; true and false are none.

    Example:
        >>> is_number(1.5), is_number(True)
        (True, False)
    """
    return isinstance(value, int | float) and not isinstance(value, bool)


def apart(*trees: Tree) -> list[dict[Path, Any]]:
    """List the leaves of documents that are to be compared; a group that is the same in all counts as one leaf.

    Most of two revisions is the same, so this is much less to look at.

    Example:
        >>> apart({"a": {"b": 1}, "c": {"d": 1}}, {"a": {"b": 1}, "c": {"d": 2}})
        [{('a',): {'b': 1}, ('c', 'd'): 1}, {('a',): {'b': 1}, ('c', 'd'): 2}]
    """
    found: list[dict[Path, Any]] = [{} for _ in trees]
    _part(trees, (), found)
    return found


def grown(found: Mapping[Path, Any]) -> Tree:
    """Put leaves together to a document; `grown(leaves(tree)) == tree`. No leaf may lie inside another.

    Example:
        >>> grown({("a", "b"): [1, 2], ("c",): "x"})
        {'a': {'b': [1, 2]}, 'c': 'x'}
    """
    groups: dict[Path, Tree] = {(): {}}
    for path, value in found.items():
        _group(groups, path[:-1])[path[-1]] = value
    return groups[()]


def dotted(path: Path) -> str:
    """Write a path as people do: steps joined by dots (slugs hold none).

    Example:
        >>> dotted(("setup", "front"))
        'setup.front'
    """
    return ".".join(path)


def steps(path: str) -> Path:
    """Read a dotted path.

    Example:
        >>> steps("setup.front")
        ('setup', 'front')
    """
    return tuple(path.split("."))


def at(tree: Tree, path: Path) -> Any:
    """Give the value at a path, a leaf or a container, or None where there is none (the book holds no null).

    Example:
        >>> at({"a": {"b": 1}}, ("a", "b"))
        1
    """
    here: Any = tree
    for step in path:
        if not isinstance(here, dict) or step not in here:
            return None
        here = here[step]
    return here


def _part(groups: Sequence[Tree], path: Path, found: Sequence[dict[Path, Any]]) -> None:
    for key in dict.fromkeys(chain(*groups)):
        here, held = (*path, key), [group.get(key) for group in groups]
        inside = [value if isinstance(value, dict) else {} for value in held]
        if all(inside) and _equal(inside):
            for leaves_ in found:
                leaves_[here] = inside[0]
            continue
        for leaves_, value in zip(found, held, strict=True):
            if value is not None and not isinstance(value, dict):
                leaves_[here] = value
        if any(inside):
            _part(inside, here, found)


def _equal(groups: Sequence[Tree]) -> bool:
    """Compare fast: as Python does, to which true is 1, and then what is equal so as it is written."""
    first, *rest = groups
    if any(each != first for each in rest):
        return False
    written = msgspec.json.encode(first)
    return all(msgspec.json.encode(each) == written for each in rest)


def _group(groups: dict[Path, Tree], path: Path) -> Tree:
    if path not in groups:
        groups[path] = _group(groups, path[:-1])[path[-1]] = {}
    return groups[path]


def _collect(tree: Tree, path: Path, found: dict[Path, Any]) -> None:
    for key, value in tree.items():
        if isinstance(value, dict):
            _collect(value, (*path, key), found)
        else:
            found[*path, key] = value
