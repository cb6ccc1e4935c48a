"""Documents at hand while a stream is written or read: the next entry's parent is usually one of the last."""

from collections import OrderedDict
from typing import Final

import msgspec

from studbook.history.canonical import Tree

_KEPT: Final = 512


class Trees:
    """The last documents by entry id.

    Example:
        >>> trees = Trees()
        >>> trees.keep("a", {"n": 1})
        >>> "a" in trees, trees["a"]
        (True, {'n': 1})
    """

    def __init__(self) -> None:
        self._trees: OrderedDict[str, Tree] = OrderedDict()

    def __contains__(self, id_: str) -> bool:
        return id_ in self._trees

    def __getitem__(self, id_: str) -> Tree:
        self._trees.move_to_end(id_)
        return self._trees[id_]

    def keep(self, id_: str, tree: Tree) -> None:
        """Keep one more, and forget the one longest unused."""
        self._trees[id_] = tree
        if len(self._trees) > _KEPT:
            self._trees.popitem(last=False)


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
