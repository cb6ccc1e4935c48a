"""The audit record, checked in the client from its pages: a service that checks its own record proves nothing.

A line's chain is the SHA-256 of the chain before it (32 zero bytes before the first) and of the line's canonical JSON.
A line that was changed, removed or put in breaks it there; a record that was rewritten from some line on, or cut short,
no longer has the head noted down elsewhere.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from studbook.history.canonical import encode
from studbook.wire.access import AuditLine


@dataclass(frozen=True, slots=True)
class ChainCheck:
    """What a check of a record found.

    Attributes:
        lines: how many there are before the first that does not fit.
        head: chain of the last of them, hex.
        broken: the first line that does not fit.
        noted: number of the line with the head looked for.
    """

    lines: int
    head: str
    broken: AuditLine | None = None
    noted: int | None = None


def check_chain(record: Iterable[AuditLine], *, head: str | None = None) -> ChainCheck:
    """Compute the chain of a record again, and compare.

    Args:
        record: from its first line on.
        head: one noted down earlier, or its first digits, to look for.

    Example:
        >>> check_chain([]).head
        '0000000000000000000000000000000000000000000000000000000000000000'
    """
    chain, lines, noted = bytes(32), 0, None
    for line in record:
        following = sha256(chain + hashed_line(line)).digest()
        if line.seq != lines + 1 or line.chain != following.hex():
            return ChainCheck(lines, chain.hex(), line, noted)
        chain, lines = following, line.seq
        if head is not None and line.chain.startswith(head):
            noted = line.seq
    return ChainCheck(lines, chain.hex(), None, noted)


def hashed_line(line: AuditLine) -> bytes:
    """Write a line as it was hashed.

    Example:
        >>> import datetime as dt
        >>> at = dt.datetime(2026, 5, 2, 18, tzinfo=dt.UTC)
        >>> hashed_line(AuditLine(seq=1, at=at, actor="owner", action="team.found", subject="m-q3w7k2nh5d", chain=""))
        b'{"action":"team.found","actor":"owner","at":1777744800000,"subject":"m-q3w7k2nh5d"}'
    """
    fields = {
        "action": line.action,
        "actor": line.actor,
        "at": round(line.at.timestamp() * 1000),
        "subject": line.subject,
    }
    return encode(fields | ({"detail": line.detail} if line.detail else {}))
