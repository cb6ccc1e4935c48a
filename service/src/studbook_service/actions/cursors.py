"""Cursors of paged lists: where a page ended, marked with whose list it was, so that no other takes it."""

import base64
from hashlib import sha256

from studbook_service.actions.refusals import unfit

_MARK_BYTES = 8


def cursor_of(place: bytes, *, of: str) -> str:
    """Write a cursor.

    Args:
        place: where the page ended.
        of: what list it is, with all that it was narrowed by.

    Example:
        >>> place_in(cursor_of(b"7", of="car/7"), of="car/7", name="history")
        b'7'
    """
    return base64.urlsafe_b64encode(_mark(place, of) + place).rstrip(b"=").decode()


def place_in(cursor: str, *, of: str, name: str) -> bytes:
    """Read a cursor.

    Args:
        cursor: as it was sent.
        of: what list it must be of.
        name: what to call the list.

    Raises:
        Refusal: `bad_request`, another list gave it.
    """
    try:
        read = base64.b64decode(cursor.encode("ascii") + b"=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
    except ValueError:
        read = b""
    mark, place = read[:_MARK_BYTES], read[_MARK_BYTES:]
    if mark != _mark(place, of):
        raise unfit("cursor", f"cursor: is none that this {name} gave")
    return place


def _mark(place: bytes, of: str) -> bytes:
    return sha256(place + b"\n" + of.encode()).digest()[:_MARK_BYTES]
