"""Leaves of a document: objects are containers, every other value (arrays included) is one leaf."""

from collections.abc import Mapping
from typing import Any

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
