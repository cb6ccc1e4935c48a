"""Replies: encoded once, named by an entity tag, and left out when the client has them."""

from collections.abc import Mapping
from hashlib import sha256
from typing import Any

import msgspec
from litestar.types import Receive, Scope, Send

JSON = "application/json"
REVALIDATED = "private, no-cache"
IMMUTABLE = "private, immutable, max-age=31536000"


class Reply:
    """Status, headers and bytes, ready to be sent.

    Example:
        >>> Reply(b"{}").status
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


def plain(answer: Any, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Reply:
    """Reply with what is true at this moment only.

    Args:
        answer: a Struct, or bytes encoded already.
        status: the status.
        headers: further headers.
    """
    body = answer if isinstance(answer, bytes) else msgspec.json.encode(answer)
    return Reply(body, status=status, headers={"cache-control": "no-store", **(headers or {})})


def tagged(
    asked_tags: str | None,
    body: bytes,
    *,
    tag: str | None = None,
    cache: str = REVALIDATED,
    media_type: str = JSON,
    headers: Mapping[str, str] | None = None,
) -> Reply:
    """Reply with an entity tag, or 304 when the client has just this.

    Args:
        asked_tags: the request's If-None-Match.
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
    if holds(asked_tags, name):
        return Reply(status=304, headers=sent)
    return Reply(body, media_type=media_type, headers=sent)


def state_tag(tag: str, shown: Any) -> str:
    """Name how a line is shown: by its state, and by what else is said of it, such as its authors' names.

    Args:
        tag: of the line's tips; a change is made on that alone.
        shown: what is shown.

    Example:
        >>> state_tag("3f2a", {})
        '3f2a.44136fa355b3'
    """
    return f"{tag}.{sha256(msgspec.json.encode(shown)).hexdigest()[:12]}"


def named(tag: str, *, cache: str = REVALIDATED) -> dict[str, str]:
    """Give the headers of a representation with a tag."""
    return {"etag": f'"{tag}"', "cache-control": cache, "vary": "authorization"}


def holds(asked_tags: str | None, tag: str) -> bool:
    """Say whether If-None-Match names a tag, by weak comparison (RFC 9110, 13.1.2).

    Example:
        >>> holds('W/"a", "b"', "b"), holds("*", "b"), holds(None, "b")
        (True, True, False)
    """
    if asked_tags is None:
        return False
    if asked_tags == f'"{tag}"':
        return True
    return asked_tags.strip() == "*" or f'"{tag}"' in (
        each.strip().removeprefix("W/") for each in asked_tags.split(",")
    )
