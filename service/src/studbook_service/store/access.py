"""Who may: tokens, members, and the epoch that says they changed."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import asyncpg

from studbook_service.store.errors import driver_errors
from studbook_service.store.sql import QUERIES


@dataclass(frozen=True, slots=True)
class Bearer:
    """The holder of a live token.

    Attributes:
        team: the one team the token opens.
        member: member id.
        role: what the token allows: `viewer`, `crew`, `chief` or `node`.
        name: the member's name.
        expires: when the token ends by itself, or None.
    """

    team: UUID
    member: str
    role: str
    name: str
    expires: datetime | None


@dataclass(frozen=True, slots=True)
class Member:
    """A member of a team.

    Attributes:
        id: opaque slug that entries carry as author.
        name: how the crew calls them.
        role: `viewer`, `crew`, `chief` or `node`.
    """

    id: str
    name: str
    role: str


class Access:
    """Tokens and members of all teams behind one pool.

    Every method raises StoreUnavailable when PostgreSQL does not answer.

    Example::

        await book.access.bearer(secret_hash(token))
    """

    def __init__(self, pool: asyncpg.Pool) -> None:
        self._pool = pool

    async def bearer(self, secret_hash: bytes) -> Bearer | None:
        """Find who holds a token by its SHA-256; None when it is unknown, expired or revoked."""
        with driver_errors():
            row = await self._pool.fetchrow(QUERIES["bearer"], secret_hash)
        return None if row is None else Bearer(*row)

    async def epoch(self) -> int:
        """Read the count of changes to tokens and members, of any team: while it stands, what was read before holds."""
        with driver_errors():
            return int(await self._pool.fetchval(QUERIES["epoch"]))

    async def members(self, team: UUID) -> list[Member]:
        """Read a team's members, sorted by id."""
        with driver_errors():
            return [Member(*row) for row in await self._pool.fetch(QUERIES["members"], team)]

    async def add_member(self, team: UUID, member: Member) -> None:
        """Add a member.

        Raises:
            MemberExists: the team has one of this id.
        """
        with driver_errors():
            await self._pool.execute(QUERIES["add_member"], team, member.id, member.name, member.role)

    async def add_token(
        self, team: UUID, *, secret_hash: bytes, member: str, role: str, label: str, expires: datetime | None = None
    ) -> None:
        """Let a minted token in.

        Args:
            team: the team it opens.
            secret_hash: SHA-256 of the token.
            member: id of the member who holds it.
            role: what it allows.
            label: what the member calls it.
            expires: when it ends by itself, or None.

        Raises:
            UnknownMember: the team has no such member.
        """
        with driver_errors():
            await self._pool.execute(QUERIES["add_token"], team, secret_hash, member, role, label, expires)

    async def revoke_token(self, team: UUID, secret_hash: bytes) -> bool:
        """End a token now; False when the team has no such live token."""
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["revoke_token"], team, secret_hash))
