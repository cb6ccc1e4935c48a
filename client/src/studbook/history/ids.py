"""Names in the book: lines by slug, entries by the hash of what they say.

The content id covers note and body; the entry id covers the header with the content id in it. So content can be
erased by need and ids and chain still verify. Version 1 of this rule is frozen from 0.2.0 on, with the golden ids of
`tests/golden/ids.json`: books hold ids made by it.
"""

import hashlib
import re
from collections.abc import Iterable
from typing import Any, Final

import msgspec

from studbook.history.canonical import SLUG, UnrecordableError, encode

VERSION: Final = 1
LINE: Final = re.compile(rf"{SLUG.pattern}(/{SLUG.pattern}){{1,7}}")


class Header(msgspec.Struct, frozen=True, kw_only=True):
    """What an entry's id covers.

    Attributes:
        kind: what the line is: `car` or `sheet`.
        line: the line's name, such as `car/7/sheet/baseline`.
        parents: ids of the entries it follows, on the same line; none for a first entry.
        author: opaque id of the member who wrote it.
        at: when, in ms since 1970 UTC, by the author's clock.
        content: content id, 64 hex digits.
        carried_from: id of the entry whose content was carried here; it is no parent.
    """

    kind: str
    line: str
    parents: tuple[str, ...]
    author: str
    at: int
    content: str
    carried_from: str | None = None


def hash_content(*, note: str, body: bytes) -> str:
    """Give the content id: SHA-256 of note and body, 64 hex digits.

    Args:
        note: why, in the author's words; may be empty.
        body: the document as canonical JSON.

    Example:
        >>> hash_content(note="", body=b'{"a":1}')[:12]
        '0583d6484909'
    """
    return hashlib.sha256(b'{"body":%b,"note":%b}' % (body, encode(note))).hexdigest()


def entry_id(header: Header) -> str:
    """Hash the header: author, time, line, parents and content.

    Returns:
        64 hex digits of SHA-256.

    Raises:
        UnrecordableError: the line's name is not one.

    Example:
        >>> head = Header(kind="car", line="car/7", parents=(), author="m1", at=0, content="00" * 32)
        >>> len(entry_id(head))
        64
    """
    check_line(header.line)
    fields: dict[str, Any] = {
        "v": VERSION,
        "kind": header.kind,
        "line": header.line,
        "parents": sorted(header.parents),
        "author": header.author,
        "at": header.at,
        "content": header.content,
    }
    if header.carried_from is not None:
        fields["from"] = header.carried_from
    return hashlib.sha256(encode(fields)).hexdigest()


def check_line(line: str) -> None:
    """Refuse a line name that is not slugs joined by `/`.

    Example:
        >>> check_line("car/7/sheet/baseline")
    """
    if not LINE.fullmatch(line):
        raise UnrecordableError(("line",), f"{line[:80]!r} is not slugs (a-z, 0-9, _, -) joined by /")


def tips_tag(tips: Iterable[str]) -> str:
    """Name a line's present state: the hash of its sorted tips, used as its ETag.

    Example:
        >>> tips_tag(["b", "a"]) == tips_tag(["a", "b"])
        True
    """
    return hashlib.sha256(",".join(sorted(tips)).encode()).hexdigest()[:32]
