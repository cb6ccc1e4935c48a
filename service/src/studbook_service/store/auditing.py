"""The audit: one event for every change of access, in a chain. The database itself numbers and chains them."""

import time
from dataclasses import dataclass
from typing import Any

from studbook.history.canonical import encode

OWNER = "owner"


@dataclass(frozen=True, slots=True)
class AuditRow:
    """One recorded audit event.

    Attributes:
        seq: from 1, without gaps.
        event: canonical JSON, as `audit_event` makes it.
        chain: SHA-256 over the chain before (32 zero bytes at first) and `event`.
    """

    seq: int
    event: bytes
    chain: bytes


def audit_event(*, actor: str, action: str, subject: str, **detail: Any) -> bytes:
    """Spell out who changed what, now.

    An event is kept for good: never put a token in it, nor a name or label, which somebody may ask to have erased.

    Args:
        actor: member id, or `owner` for what was done with the owner's address.
        action: such as `token.make`.
        subject: the member, token, share or line, or what else was changed.
        detail: whatever else belongs to it; left out when there is nothing.

    Returns:
        Canonical JSON with `action`, `actor`, `at` (ms since 1970, UTC), `detail` and `subject`.

    Example:
        >>> audit_event(actor="m-7r2kq4xwza", action="protection.on", subject="car/7/sheet/baseline")[:41]
        b'{"action":"protection.on","actor":"m-7r2k'
    """
    at = time.time_ns() // 1_000_000
    event: dict[str, Any] = {"action": action, "actor": actor, "at": at, "subject": subject}
    return encode(event | {"detail": detail} if detail else event)
