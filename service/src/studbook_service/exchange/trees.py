"""Documents at hand while a stream is written or read: the next entry's parent is usually one of the last."""

from collections import OrderedDict
from typing import Final

import msgspec

from studbook.history.canonical import Tree

_KEPT: Final = 512
_KEPT_BYTES: Final = 32 * 1024 * 1024
"""Enough for the entries of the largest frame and what they follow, each as large as it may be."""


class Trees:
    """The last documents by entry id.

    Example:
        >>> trees = Trees()
        >>> trees.keep("a", {"n": 1}, 7)
        >>> "a" in trees, trees["a"]
        (True, {'n': 1})
    """

    def __init__(self) -> None:
        self._trees: OrderedDict[str, tuple[Tree, int]] = OrderedDict()
        self._bytes = 0

    def __contains__(self, id_: str) -> bool:
        return id_ in self._trees

    def __getitem__(self, id_: str) -> Tree:
        self._trees.move_to_end(id_)
        return self._trees[id_][0]

    def keep(self, id_: str, tree: Tree, size: int) -> None:
        """Keep one more, so many bytes when written, and forget those longest unused."""
        _, before = self._trees.pop(id_, (tree, 0))
        self._trees[id_] = tree, size
        self._bytes += size - before
        while len(self._trees) > _KEPT or self._bytes > _KEPT_BYTES:
            _, (_, gone) = self._trees.popitem(last=False)
            self._bytes -= gone


def read(body: bytes) -> Tree:
    """Read a stored document; a damaged one is empty here, so that whoever rebuilds it finds its hash wrong.

    Example:
        >>> read(b'{"n":1}'), read(b'{"n')
        ({'n': 1}, {})
    """
    try:
        return msgspec.json.decode(body, type=Tree)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return {}
