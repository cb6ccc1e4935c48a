"""Replies: encoded once, named by an entity tag, and left out when the client has them."""

from collections.abc import Mapping
from hashlib import sha256
from typing import Any

import msgspec
from litestar.types import Receive, Scope, Send

JSON = "application/json"
REVALIDATED = "private, no-cache"
IMMUTABLE = "private, immutable, max-age=31536000"


class HttpReply:
    """Status, headers and bytes, ready to be sent.

    Example:
        >>> HttpReply(b"{}").status
        200
    """

    __slots__ = ("body", "headers", "status")

    def __init__(
        self, body: bytes = b"", *, status: int = 200, media_type: str = JSON, headers: Mapping[str, str] | None = None
    ) -> None:
        self.status = status
        self.body = body
        self.headers = [(name.encode(), value.encode()) for name, value in (headers or {}).items()]
        if status != 304:
            self.headers += [(b"content-type", media_type.encode()), (b"content-length", b"%d" % len(body))]

    async def __call__(self, _scope: Scope, _receive: Receive, send: Send) -> None:
        """Send it."""
        await send({"type": "http.response.start", "status": self.status, "headers": self.headers})
        await send({"type": "http.response.body", "body": self.body, "more_body": False})


def encoded(answer: Any) -> bytes:
    """Encode a Struct; bytes are encoded already."""
    return answer if isinstance(answer, bytes) else msgspec.json.encode(answer)


def plain(
    answer: Any, *, status: int = 200, media_type: str = JSON, headers: Mapping[str, str] | None = None
) -> HttpReply:
    """Reply with what is true at this moment only.

    Args:
        answer: a Struct, or bytes encoded already.
        status: the status.
        media_type: of the bytes.
        headers: further headers.
    """
    sent = {"cache-control": "no-store", **(headers or {})}
    return HttpReply(encoded(answer), status=status, media_type=media_type, headers=sent)


def tagged(
    held_tags: str | None,
    body: bytes,
    *,
    tag: str | None = None,
    cache: str = REVALIDATED,
    media_type: str = JSON,
    headers: Mapping[str, str] | None = None,
) -> HttpReply:
    """Reply with an entity tag, or 304 when the client has just this.

    Args:
        held_tags: the request's If-None-Match.
        body: the representation.
        tag: its name; a hash of the body when not given.
        cache: Cache-Control.
        media_type: of the body.
        headers: further headers.

    Example:
        >>> tagged('"a"', b"{}", tag="a").status
        304
    """
    name = tag or sha256(body).hexdigest()[:32]
    sent = named(name, cache=cache) | dict(headers or {})
    if holds(held_tags, name):
        return HttpReply(status=304, headers=sent)
    return HttpReply(body, media_type=media_type, headers=sent)


def named(tag: str, *, cache: str = REVALIDATED) -> dict[str, str]:
    """Give the headers of a representation with a tag."""
    return {"etag": f'"{tag}"', "cache-control": cache, "vary": "authorization"}


def holds(held_tags: str | None, tag: str) -> bool:
    """Say whether If-None-Match names a tag, by weak comparison (RFC 9110, 13.1.2).

    Example:
        >>> holds('W/"a", "b"', "b"), holds("*", "b"), holds(None, "b")
        (True, True, False)
    """
    if held_tags is None:
        return False
    if held_tags == f'"{tag}"':
        return True
    return held_tags.strip() == "*" or f'"{tag}"' in (each.strip().removeprefix("W/") for each in held_tags.split(","))
