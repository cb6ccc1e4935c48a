"""The record of every change to who may what: what is said of a change, and how it is kept."""

import time
from dataclasses import dataclass
from typing import Any

from studbook.history.canonical import encode

OWNER = "owner"


@dataclass(frozen=True, slots=True)
class AuditRow:
    """One recorded change.

    Attributes:
        seq: from 1, without gaps.
        said: canonical JSON, as `said` makes it.
        chain: SHA-256 over the chain before (32 zero bytes at first) and `said`.
    """

    seq: int
    said: bytes
    chain: bytes


def said(*, actor: str, action: str, subject: str, **detail: Any) -> bytes:
    """Say who changed what, now.

    What is said is kept for good: never a token, and no name or label, which somebody may ask to have erased.

    Args:
        actor: member id, or `owner` for what was done with the owner's address.
        action: such as `token.make`.
        subject: the member, token, share or line, or what else was changed.
        detail: what else there is to say; left out when there is nothing.

    Returns:
        Canonical JSON with `action`, `actor`, `at` (ms since 1970, UTC), `detail` and `subject`.

    Example:
        >>> said(actor="m-7r2kq4xwza", action="protection.on", subject="car/7/sheet/baseline")[:41]
        b'{"action":"protection.on","actor":"m-7r2k'
    """
    at = time.time_ns() // 1_000_000
    told: dict[str, Any] = {"action": action, "actor": actor, "at": at, "subject": subject}
    return encode(told | {"detail": detail} if detail else told)
