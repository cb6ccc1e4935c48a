"""Things that never change, kept in the process: bounded by bytes, the longest unused leaves first."""

from collections import OrderedDict
from collections.abc import Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Cache(Generic[K, V]):
    """A bounded store of values with their sizes. Who may read is checked before anyone looks here.

    Example:
        >>> cache = Cache[str, bytes](most_bytes=10)
        >>> cache.put("a", b"123456", 6)
        >>> cache.put("b", b"123456", 6)
        >>> cache.get("a") is None, cache.get("b")
        (True, b'123456')
    """

    def __init__(self, *, most_bytes: int) -> None:
        self._most = most_bytes
        self._held = 0
        self._values: OrderedDict[K, tuple[V, int]] = OrderedDict()

    def get(self, key: K) -> V | None:
        """Give what is kept under a key, or None."""
        found = self._values.get(key)
        if found is None:
            return None
        self._values.move_to_end(key)
        return found[0]

    def put(self, key: K, value: V, size: int) -> None:
        """Keep a value; one bigger than the whole cache is not kept."""
        if key in self._values or size > self._most:
            return
        self._values[key] = (value, size)
        self._held += size
        while self._held > self._most:
            _, (_, freed) = self._values.popitem(last=False)
            self._held -= freed
