"""Founding a team: its book, its chief and the first token. Done with the owner's address."""

import secrets
from dataclasses import dataclass
from uuid import UUID, uuid4

from studbook_service.store.auditing import OWNER, audit_event
from studbook_service.store.connecting import connected
from studbook_service.store.sql import QUERIES
from studbook_service.store.tokens import mint, opaque_id, secret_hash


@dataclass(frozen=True, slots=True)
class Founded:
    """A new team.

    Attributes:
        team: its local id.
        member: id of its chief.
        token: the chief's token, shown this once.
    """

    team: UUID
    member: str
    token: str


async def found_team(
    owner_dsn: str, *, team_name: str, chief_name: str, chief_id: str | None = None, token: str | None = None
) -> Founded:
    """Found a team.

    Args:
        owner_dsn: address of the role that owns the tables.
        team_name: how the team calls itself.
        chief_name: how the crew calls its chief.
        chief_id: the chief's member id, which entries carry; a new one by default.
        token: the chief's token, minted before; a new one by default.

    Returns:
        The team and its only token.

    Raises:
        StoreUnavailable: nothing answers there.
    """
    founded = Founded(team=uuid4(), member=chief_id or opaque_id("m"), token=token or mint())
    async with connected(owner_dsn) as connection:
        await connection.execute(
            QUERIES["found_team"],
            founded.team,
            team_name,
            secrets.token_bytes(8),
            founded.member,
            chief_name,
            secret_hash(founded.token),
            audit_event(actor=OWNER, action="team.found", subject="team", chief=founded.member),
        )
    return founded


async def any_team(owner_dsn: str) -> bool:
    """Say whether any team was founded here."""
    async with connected(owner_dsn) as connection:
        return bool(await connection.fetchval(QUERIES["any_team"]))


async def only_team(owner_dsn: str) -> UUID | None:
    """Find the one team here; None when there is none or there are several."""
    async with connected(owner_dsn) as connection:
        teams = [row["team_id"] for row in await connection.fetch(QUERIES["teams"])]
    return teams[0] if len(teams) == 1 else None
