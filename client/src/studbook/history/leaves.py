"""Leaves of a document: objects are containers, every other value (arrays included) is one leaf."""

from collections.abc import Iterator
from typing import Any

from studbook.history.canonical import Tree

Path = tuple[str, ...]


def leaves(tree: Tree) -> dict[Path, Any]:
    """List every leaf with its path.

    Example:
        >>> leaves({"a": {"b": [1, 2]}, "c": "x"})
        {('a', 'b'): [1, 2], ('c',): 'x'}
    """
    return dict(_walk(tree, ()))


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


def _walk(tree: Tree, path: Path) -> Iterator[tuple[Path, Any]]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _walk(value, (*path, key))
        else:
            yield (*path, key), value
