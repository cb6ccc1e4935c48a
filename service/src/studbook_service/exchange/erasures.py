"""Erasing: an entry that names others, whose note and document are gone from then on. Ids and chain still verify.

An erasure goes from home outward only, in responses. An erased entry travels as its header with the content's hash.
What was erased is kept by id, so it stays erased whoever brings it again. A home restored to before an erasure learns
of it by a refusal at the laptops, and its owner erases again.
"""

from collections.abc import Sequence
from typing import Final

import msgspec

from studbook.history.canonical import encode
from studbook.history.ids import Header, entry_id, hash_content
from studbook_service.exchange.book import ExchangedEntry

KIND: Final = "erasure"
AUTHOR: Final = "owner"
"""Who erases: whoever has the address of the database's owner."""

MOST: Final = 1000
"""Entries that one erasure names at most; its document stays far below what an entry may hold."""

_NAMED_DIGITS: Final = 12


class _ErasureDocument(msgspec.Struct):
    """The document of an erasure, as far as it is read."""

    entries: list[str] = []


def erasure(ids: Sequence[str], *, reason: str, at_ms: int) -> ExchangedEntry:
    """Make an erasure, on a line of its own.

    Args:
        ids: entries to erase, at least one.
        reason: kept as its note.
        at_ms: now.

    Example:
        >>> erasure(["ab" * 32], reason="requested", at_ms=0).header.line
        'erasure/abababababab-0'
    """
    body = encode({"entries": list(ids)})
    header = Header(
        kind=KIND,
        line=f"{KIND}/{ids[0][:_NAMED_DIGITS]}-{at_ms}",
        parents=(),
        author=AUTHOR,
        at=at_ms,
        content=hash_content(note=reason, body=body),
    )
    return ExchangedEntry(id=entry_id(header), header=header, note=reason, body=body)


def erased_ids(entry: ExchangedEntry) -> Sequence[str]:
    """Give the ids that an erasure names; none for any other entry.

    Example:
        >>> list(erased_ids(erasure(["ab" * 32], reason="", at_ms=0))) == ["ab" * 32]
        True
    """
    if entry.header.kind != KIND:
        return ()
    try:
        return msgspec.json.decode(entry.body, type=_ErasureDocument).entries
    except msgspec.DecodeError:
        return ()
