"""Who may: members and where they are kept, the bearers of tokens, and the epoch that says that they changed.

`audit` is everywhere the audit event of a change, as `audit_event` makes it; it is recorded in the same transaction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from studbook_service.store.auditing import AuditRow
from studbook_service.store.errors import driver_errors
from studbook_service.store.granting import GrantStore
from studbook_service.store.sql import QUERIES


@dataclass(frozen=True, slots=True)
class Bearer:
    """Who holds a live token.

    Attributes:
        team: the one team the token opens.
        member: member id; of a share, the share's id.
        role: what the token allows: `viewer`, `crew`, `chief`, `node` or `share`.
        name: the member's name; of a share, for whom it is.
        expires: when the token ends by itself, or None.
        scope: of a share, the line it shows with everything below it; None for the whole book.
        protected: it may bring revisions on protected sheets.
        introduces: it may bring entries by authors the team never had.
        token: the first 12 hexadecimal digits of the token's SHA-256.
    """

    team: UUID
    member: str
    role: str
    name: str
    expires: datetime | None
    scope: str | None
    protected: bool
    introduces: bool
    token: str


@dataclass(frozen=True, slots=True)
class MemberRow:
    """A member of a team.

    Attributes:
        id: opaque slug that entries carry as author.
        name: how the crew calls them; empty once it was erased.
        role: `viewer`, `crew`, `chief` or `node`.
        ended: they left; their tokens are dead.
        erased: their name was erased.
    """

    id: str
    name: str
    role: str
    ended: bool = False
    erased: bool = False


class AccessStore(GrantStore):
    """Members, tokens, shares and protection of all teams behind one pool, and the record of changes to them.

    Example::

        await book.access.bearer(secret_hash(token))
    """

    async def bearer(self, secret_hash: bytes) -> Bearer | None:
        """Find who holds a token by its SHA-256; None when it is unknown, expired or ended, or its member is."""
        with driver_errors():
            row = await self._pool.fetchrow(QUERIES["bearer"], secret_hash)
        return None if row is None else Bearer(**row, token=secret_hash.hex()[:12])

    async def epoch(self) -> int:
        """Read the count of changes of access and of erasures, of any team: while it stands, what was read holds.

        What was read before is of members, tokens, shares and protection, and of documents that are not erased.
        """
        with driver_errors():
            return int(await self._pool.fetchval(QUERIES["epoch"]))

    async def members(self, team: UUID) -> list[MemberRow]:
        """Read a team's members, those who left too, sorted by id."""
        with driver_errors():
            return [MemberRow(*row) for row in await self._pool.fetch(QUERIES["members"], team)]

    async def add_member(self, team: UUID, member: MemberRow, *, audit: bytes) -> None:
        """Add a member.

        Raises:
            MemberExists: the team has one of this id.
            NotHome: members are kept at the team's home.
        """
        with driver_errors():
            await self._pool.execute(
                QUERIES["add_member"], team, member.id, member.name, member.role, member.ended, audit
            )

    async def change_member(
        self,
        team: UUID,
        id: str,  # noqa: A002 - the book's own word
        *,
        name: str | None = None,
        role: str | None = None,
        ended: bool | None = None,
        audit: bytes,
    ) -> MemberRow:
        """Change what is given. The tokens of one who is ended are revoked for good.

        Returns:
            The member as they are now.

        Raises:
            UnknownMember: the team has no such member.
            LastChief: nobody would be left who may decide.
            NotHome: members are kept at the team's home.
        """
        with driver_errors():
            row = await self._pool.fetchrow(QUERIES["change_member"], team, id, name, role, ended, audit)
        return MemberRow(*row)

    async def audit(self, team: UUID, *, after: int, limit: int) -> list[AuditRow]:
        """Read the audit events after a number, oldest first."""
        with driver_errors():
            return [AuditRow(*row) for row in await self._pool.fetch(QUERIES["audit"], team, after, limit)]

    async def home(self, team: UUID) -> str | None:
        """Name the peer where the team's members are kept; None when that is here."""
        with driver_errors():
            home: str | None = await self._pool.fetchval(QUERIES["home"], team)
        return home

    async def set_home(self, team: UUID, peer: str | None, *, audit: bytes) -> None:
        """Let a peer be the team's home, or with None this node."""
        with driver_errors():
            await self._pool.execute(QUERIES["set_home"], team, peer, audit)

    async def take_home(self, team: UUID, members: Sequence[MemberRow], protected: Sequence[str]) -> None:
        """Take over the home node's members as they are there, and its protection, all of it.

        Members it does not know of stay as they are; nothing is audited here, for it was there.

        Raises:
            AtHome: this node is the team's home.
        """
        known = [(member.id, member.name, member.role, member.ended, member.erased) for member in members]
        with driver_errors():
            await self._pool.execute(QUERIES["take_home"], team, known, sorted(set(protected)))
