"""Documents as TOML, which is what people edit by hand.

It is written here, not by a library: those at hand spread a point over five lines, and a crew reads these files.
"""

import datetime as dt
import re
import tomllib
from collections.abc import Iterator
from typing import Any, Final

from studbook.formats.faults import FormatError, RowFault, checked, in_reading_order, raise_any
from studbook.history.canonical import MAX_DEPTH, Tree, encode
from studbook.history.leaves import Path, dotted

_STEP: Final = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
_DEEP_KEY: Final = re.compile(rf"(?:^|[{{,\[])[ \t]*+{_STEP}(?:[ \t]*+\.[ \t]*+{_STEP}){{{MAX_DEPTH},}}", re.MULTILINE)
"""A key of so many steps where a key may begin: the reader takes minutes for one of thousands."""


def read(text: str) -> Tree:
    """Read TOML. Its own dates are refused: the book keeps dates as text.

    Raises:
        FormatError: with every fault.
    """
    if _DEEP_KEY.search(text):
        raise FormatError([RowFault(detail=f"nested deeper than {MAX_DEPTH} levels")])
    try:
        value = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FormatError([RowFault(detail=f"not TOML: {error}")]) from None
    except ValueError:  # Python reads no number of more than 4300 digits
        raise FormatError([RowFault(detail="not TOML: a number has too many digits")]) from None
    except RecursionError:
        raise FormatError([RowFault(detail=f"nested deeper than {MAX_DEPTH} levels")]) from None
    raise_any(
        RowFault(detail=f'{path}: write the date as text, in quotes: "{date.isoformat()}"', path=path)
        for path, date in _dates(value, ())
    )
    return checked(value)


def write(tree: Tree) -> str:
    """Write a canonical tree, its fields in the schema's order, a point or curve on one line.

    Example:
        >>> print(write({"survey": {"by": "Ada"}, "notes": "tacky"}), end="")
        notes = "tacky"
        <BLANKLINE>
        [survey]
        by = "Ada"
    """
    groups: dict[Path, list[str]] = {(): []}
    for path, value in in_reading_order(tree):
        groups.setdefault(path[:-1], []).append(f"{path[-1]} = {_value(value)}\n")
    return "\n".join(
        (f"[{dotted(path)}]\n" if path else "") + "".join(lines) for path, lines in groups.items() if lines
    )


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    # JSON spells text, numbers and flags as TOML does, but for one character that TOML wants escaped.
    return encode(value).decode().replace("\x7f", "\\u007f")


def _dates(value: Any, path: tuple[str, ...]) -> Iterator[tuple[str, dt.date | dt.time]]:
    if len(path) > MAX_DEPTH:
        return  # too deep to be recorded, which is reported next
    if isinstance(value, dt.date | dt.time):
        yield dotted(path), value
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _dates(item, (*path, key))
    elif isinstance(value, list):
        for place, item in enumerate(value):
            yield from _dates(item, (*path, str(place)))
