"""What an action returns where an answer alone does not say enough: its tag, or whether it was recorded just now."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

import msgspec


@dataclass(frozen=True, slots=True)
class Tagged:
    """An answer with a tag of its own.

    Attributes:
        answer: a Struct, or bytes encoded already.
        tag: what names it.
        forever: at this address there will never be another.
    """

    answer: Any
    tag: str
    forever: bool = False


@dataclass(frozen=True, slots=True)
class LazyAnswer:
    """An answer that is computed only for a client that lacks it.

    Attributes:
        tag: names it before it is known.
        compute: gives it: a Struct, or bytes encoded already.
    """

    tag: str
    compute: Callable[[], Awaitable[Any]]


@dataclass(frozen=True, slots=True)
class Written:
    """What a change came to.

    Attributes:
        answer: a Struct.
        tag: of the line as it stands now.
        made: name of what was made, where its address is sent.
        now: recorded now, rather than by an earlier try.
    """

    answer: Any
    tag: str
    made: str = ""
    now: bool = False


def state_tag(tag: str, shown: Any) -> str:
    """Name how a line is shown: by its state, and by what is shown beside it, such as its authors' names.

    Args:
        tag: of the line's tips; a change is made on that alone.
        shown: what is shown.

    Example:
        >>> state_tag("3f2a", {})
        '3f2a.44136fa355b3'
    """
    return f"{tag}.{sha256(msgspec.json.encode(shown)).hexdigest()[:12]}"
