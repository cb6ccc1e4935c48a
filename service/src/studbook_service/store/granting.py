"""What is granted: tokens to members, shares to other teams, protection to sheets."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import asyncpg

from studbook_service.store.errors import driver_errors
from studbook_service.store.sql import QUERIES


@dataclass(frozen=True, slots=True)
class TokenRow:
    """What is known of a token; never the token.

    Attributes:
        id: the first 12 hexadecimal digits of its SHA-256.
        member: id of the member who holds it.
        role: what it allows at most.
        label: what the member calls it.
        created_at: when it was made.
        expires_at: when it ends by itself, or None.
        revoked_at: when it was ended, or None.
        protected: a node's: it may bring revisions on protected sheets.
        introduces: a node's: it may bring entries by authors the team never had.
    """

    id: str
    member: str
    role: str
    label: str
    created_at: datetime
    expires_at: datetime | None
    revoked_at: datetime | None
    protected: bool
    introduces: bool


@dataclass(frozen=True, slots=True)
class ShareRow:
    """What is known of a share; never its token.

    Attributes:
        id: opaque.
        line: the line it shows, with everything below it, such as `car/7` or `car/7/sheet/baseline`.
        label: for whom.
        made_by: id of the member who made it.
        made_at: when it was made.
        until: when it ends by itself.
        ended_at: when it was ended before, or None.
    """

    id: str
    line: str
    label: str
    made_by: str
    made_at: datetime
    until: datetime
    ended_at: datetime | None


class GrantStore:
    """Tokens, shares and protection of all teams behind one pool.

    Every change records its audit event, `audit`, in its own transaction; one that changes nothing does not. Every
    method raises StoreUnavailable when PostgreSQL does not answer.
    """

    def __init__(self, pool: asyncpg.Pool) -> None:
        self._pool = pool

    async def tokens(self, team: UUID) -> list[TokenRow]:
        """Read all tokens of a team, dead ones too, the newest first."""
        with driver_errors():
            return [TokenRow(*row) for row in await self._pool.fetch(QUERIES["tokens"], team)]

    async def add_token(
        self,
        team: UUID,
        *,
        secret_hash: bytes,
        member: str,
        role: str,
        label: str,
        expires: datetime | None = None,
        protected: bool = False,
        introduces: bool = False,
        audit: bytes,
    ) -> None:
        """Let a minted token in.

        It allows the lesser of its role and its member's. A `node` is beside the others, not among them: a node's
        token is for a node member, and one of another role for a person; any other opens nothing.

        Args:
            team: the team it opens.
            secret_hash: SHA-256 of the token.
            member: id of the member who holds it.
            role: what it allows at most.
            label: what the member calls it.
            expires: when it ends by itself, or None.
            protected: it may bring revisions on protected sheets.
            introduces: it may bring entries by authors the team never had.
            audit: the audit event recorded with it.

        Raises:
            UnknownMember: the team has no such member.
            NotHome: it is a node's, and those are made at the team's home.
        """
        row = (secret_hash, member, role, label, expires, protected, introduces)
        with driver_errors():
            await self._pool.execute(QUERIES["add_token"], team, *row, audit)

    async def revoke_token(self, team: UUID, id: str, *, audit: bytes) -> bool:  # noqa: A002 - the book's own word
        """End a token now; False when the team has no such live token."""
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["revoke_token"], team, id, audit))

    async def shares(self, team: UUID) -> list[ShareRow]:
        """Read all shares of a team, ended ones too, the newest first."""
        with driver_errors():
            return [ShareRow(*row) for row in await self._pool.fetch(QUERIES["shares"], team)]

    async def add_share(
        self,
        team: UUID,
        *,
        id: str,  # noqa: A002 - the book's own word
        secret_hash: bytes,
        line: str,
        label: str,
        until: datetime,
        by: str,
        audit: bytes,
    ) -> None:
        """Let another team see a line and everything below it.

        Args:
            team: whose book.
            id: the share's, new.
            secret_hash: SHA-256 of the share's token.
            line: what it shows.
            label: for whom.
            until: when it ends by itself.
            by: id of the member who makes it.
            audit: the audit event recorded with it.

        Raises:
            UnknownMember: the team has no member `by`.
            NotHome: shares are made at the team's home.
        """
        with driver_errors():
            await self._pool.execute(QUERIES["add_share"], team, id, secret_hash, line, label, until, by, audit)

    async def end_share(self, team: UUID, id: str, *, audit: bytes) -> bool:  # noqa: A002 - the book's own word
        """End a share now; False when the team has no such share that goes on.

        Raises:
            NotHome: shares are ended at the team's home.
        """
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["end_share"], team, id, audit))

    async def protected(self, team: UUID) -> frozenset[str]:
        """Read the lines that only a chief may record on."""
        with driver_errors():
            return frozenset(await self._pool.fetchval(QUERIES["protected"], team))

    async def protect(self, team: UUID, line: str, *, by: str, audit: bytes) -> bool:
        """Let only a chief record on a line from now on; False when it is so already.

        Raises:
            NotHome: protection is decided at the team's home.
        """
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["protect"], team, line, by, audit))

    async def unprotect(self, team: UUID, line: str, *, audit: bytes) -> bool:
        """Let all who write record on a line again; False when it is so already.

        Raises:
            NotHome: protection is decided at the team's home.
        """
        with driver_errors():
            return bool(await self._pool.fetchval(QUERIES["unprotect"], team, line, audit))
