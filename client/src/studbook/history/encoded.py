"""The difference of two documents as they are kept: only groups whose bytes differ are read at all.

Canonical JSON makes equal groups equal bytes, and two setups of a car differ in few: a season's report, which compares
every revision raced with the one before, is fast by this.
"""

from typing import Any, Final

import msgspec
from msgspec import UNSET, Raw

from studbook.history.changes import FieldChange, same
from studbook.history.leaves import Path, leaves

_parts: Final = msgspec.json.Decoder(dict[str, Raw])
_value: Final = msgspec.json.Decoder()


def parts(group: bytes) -> dict[str, bytes]:
    """Take a group of fields apart, and read nothing inside.

    Example:
        >>> parts(b'{"a":{"b":1},"c":[1]}')
        {'a': b'{"b":1}', 'c': b'[1]'}
    """
    return {key: bytes(part) for key, part in _parts.decode(group).items()}


def diff_encoded(before: bytes, after: bytes) -> list[FieldChange]:
    """List the leaves that differ between two documents in canonical JSON, by path, as `diff` does of trees.

    Equal content has equal bytes, and most of two setups of one car is equal.

    Example:
        >>> diff_encoded(b'{"a":{"b":1},"c":[1]}', b'{"a":{"b":2},"c":[1]}')
        [FieldChange(path=('a', 'b'), before=1, after=2)]
    """
    found: list[FieldChange] = []
    if before != after:
        _collect(before, after, (), found)
    return sorted(found, key=lambda change: change.path)


def _collect(before: bytes, after: bytes, path: Path, found: list[FieldChange]) -> None:
    """Find what differs under a path; empty bytes stand for what is not there."""
    if before[:1] == after[:1] == b"{":
        old, new = parts(before), parts(after)
        for key in old.keys() | new.keys():
            one, other = old.get(key, b""), new.get(key, b"")
            if one != other:
                _collect(one, other, (*path, key), found)
        return
    old_leaves, new_leaves = _leaves(before, path), _leaves(after, path)
    for each in old_leaves.keys() | new_leaves.keys():
        change = FieldChange(each, old_leaves.get(each, UNSET), new_leaves.get(each, UNSET))
        if not same(change.before, change.after):
            found.append(change)


def _leaves(data: bytes, path: Path) -> dict[Path, Any]:
    if not data:
        return {}
    value = _value.decode(data)
    return {(*path, *rest): leaf for rest, leaf in leaves(value).items()} if isinstance(value, dict) else {path: value}
