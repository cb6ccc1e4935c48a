"""One spelling for every document, so that equal content has equal bytes on every machine.

Keys are slugs, numbers are rounded to six decimals and written the shortest way, there is no null, no NaN and no
empty object. On that subset sorted compact JSON is RFC 8785 (JSON Canonicalization Scheme), but for numbers below
1e-5: RFC 8785 writes 0.000002 where the encoder writes 2e-6, so these are spelled here. `rfc8785` agrees in tests.
"""

import json
import re
from collections import Counter
from collections.abc import Mapping
from typing import Any, Final, NamedTuple, NoReturn

import msgspec

Tree = dict[str, Any]

SLUG: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,47}")
MAX_DEPTH: Final = 64
MAX_NUMBER: Final = 1e9
DECIMALS: Final = 6

_encoder: Final = msgspec.json.Encoder(order="sorted")


class UnrecordableError(ValueError):
    """A value that the book cannot hold.

    Attributes:
        path: steps from the root to the value.
        reason: what is wrong, with the value and the bound.
    """

    def __init__(self, path: tuple[str, ...], reason: str) -> None:
        """Keep where and why."""
        super().__init__(f"{'.'.join(path) or 'document'}: {reason}")
        self.path = path
        self.reason = reason


def parse(data: bytes | str) -> Any:
    """Read JSON strictly: no duplicate keys, no NaN, no bottomless nesting.

    Args:
        data: UTF-8 JSON text.

    Raises:
        UnrecordableError: the text is not such JSON; the reason says what.

    Example:
        >>> parse(b'{"a": 1.0}')
        {'a': 1.0}
    """
    bad: list[_Bad] = []

    def mark(reason: str, *inside: str) -> _Bad:
        bad.append(_Bad(reason, inside))
        return bad[-1]

    def group(pairs: list[tuple[str, Any]]) -> Any:
        found = dict(pairs)
        if len(found) == len(pairs):
            return found
        twice = next(key for key, times in Counter(key for key, _ in pairs).items() if times > 1)
        return mark(f"the key {twice!r} stands twice in one object", twice)

    def constant(name: str) -> Any:
        return mark(f"{name} is not a number the book can hold")

    try:
        text = data.decode() if isinstance(data, bytes) else data  # the reader itself would pass half a surrogate pair
        tree = json.loads(text, object_pairs_hook=group, parse_constant=constant)
        if bad:
            # The last one marked is in the tree: what is marked later than another stands beside or around it.
            _refuse(bad[-1], tree)
    except UnrecordableError:
        raise
    except RecursionError:
        raise UnrecordableError((), f"nested deeper than {MAX_DEPTH} levels") from None
    except ValueError as error:
        raise UnrecordableError((), f"not JSON: {error}") from None
    return tree


def canonical(value: Any, *, depth: int = 0) -> Any:
    """Bring a tree to its one form: rounded numbers, integers where whole, no empty objects.

    Args:
        value: what a JSON, TOML or CSV reader gave.
        depth: levels that it stands under in its document.

    Returns:
        A new tree; equal content gives equal trees.

    Raises:
        UnrecordableError: null, NaN, a number of 1e9 or more, a key that is no slug, text with a lone surrogate,
            or nesting below 64 levels.

    Example:
        >>> canonical({"b": -0.0, "a": {"c": 1.00000049}, "d": {}})
        {'b': 0, 'a': {'c': 1}}
    """
    if depth > MAX_DEPTH:
        raise UnrecordableError((), f"nested deeper than {MAX_DEPTH} levels")
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, Mapping):
        return _group(value, depth + 1)
    if isinstance(value, list | tuple):
        return [_inside(place, item, depth + 1) for place, item in enumerate(value)]
    what = "null" if value is None else f"a {type(value).__name__}"
    raise UnrecordableError((), f"{what} cannot be recorded; leave the field out, or write text or a number")


def encode(tree: Any) -> bytes:
    """Write a canonical tree as RFC 8785 bytes.

    Args:
        tree: what `canonical` returned.

    Example:
        >>> encode({"b": 0.000002, "a": [1, "x"]})
        b'{"a":[1,"x"],"b":0.000002}'
    """
    written = _encoder.encode(tree)
    # The encoder writes 2e-6 where RFC 8785 writes 0.000002; a text may hold e- too, which costs only time.
    return _encoder.encode(_spelled(tree)) if b"e-" in written else written


class _Bad(NamedTuple):
    """Stands in a parsed tree for what cannot be held, until its place is known."""

    reason: str
    inside: tuple[str, ...]


def _refuse(bad: _Bad, tree: Any) -> NoReturn:
    raise UnrecordableError((*(_path_to(bad, tree) or ()), *bad.inside), bad.reason)


def _path_to(wanted: _Bad, tree: Any) -> tuple[str, ...] | None:
    if tree is wanted:
        return ()
    items = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for step, below in items:
        found = _path_to(wanted, below)
        if found is not None:
            return (str(step), *found)
    return None


def _group(value: Mapping[Any, Any], depth: int) -> Tree:
    kept = ((_key(key), _inside(key, item, depth)) for key, item in value.items())
    return {key: item for key, item in kept if item != {}}


def _inside(step: Any, value: Any, depth: int) -> Any:
    """Bring what is inside to its one form; a refusal learns its path on the way out, so a clean tree pays nothing."""
    try:
        return canonical(value, depth=depth)
    except UnrecordableError as error:
        raise UnrecordableError((str(step)[:60], *error.path), error.reason) from None


def _key(key: Any) -> str:
    if not isinstance(key, str) or not SLUG.fullmatch(key):
        raise UnrecordableError(
            (str(key)[:60],), "a name is 1 to 48 of a-z, 0-9, _ and -, beginning with a letter or digit"
        )
    return key


def _text(value: str) -> str:
    try:
        value.encode()
    except UnicodeEncodeError:
        raise UnrecordableError((), "text holds half of a surrogate pair") from None
    return value


def _number(value: float) -> int | float:
    rounded = round(value, DECIMALS)
    if not abs(rounded) < MAX_NUMBER:  # so written, NaN is refused too
        raise UnrecordableError((), f"{value!r:.40} is not a number below {MAX_NUMBER:g} in size")
    return int(rounded) if rounded == int(rounded) else rounded


def _spelled(value: Any) -> Any:
    """Spell out numbers below 1e-5: RFC 8785 writes 0.000002 where the encoder would write 2e-6."""
    if isinstance(value, float) and abs(value) < 1e-5:
        return msgspec.Raw(f"{value:.{DECIMALS}f}".encode())
    if isinstance(value, dict):
        return {key: _spelled(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_spelled(item) for item in value]
    return value
