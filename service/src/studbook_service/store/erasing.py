"""Erasing what somebody has a right to have forgotten: an entry's content, a member's name. With the owner's address.

Ids, headers, hashes and chains stay as they were and still verify. Each erasing leaves an audit event.
"""

from uuid import UUID

from studbook_service.store.connecting import connected
from studbook_service.store.entries import NewEntry, composite
from studbook_service.store.sql import QUERIES


async def erase_entries(owner_dsn: str, team: UUID, entry: NewEntry, *, audit: bytes) -> None:
    """Record an erasure and apply it.

    Args:
        owner_dsn: address of the role that owns the tables.
        team: whose book.
        entry: of kind `erasure`, on a line of its own; its body `{"entries": [id, ...]}` names what loses its note and
            body, ids in hexadecimal.
        audit: the audit event recorded with it.

    Raises:
        NotHome: a book is erased from at the team's home.
        UnknownTeam: no such team.
        StoreUnavailable: nothing answers there.
    """
    async with connected(owner_dsn) as connection:
        await connection.execute(QUERIES["erase_entries"], team, composite(entry), audit)


async def erase_name(owner_dsn: str, team: UUID, member: str, *, audit: bytes) -> None:
    """Forget what the crew calls a member; the id stays on what they recorded.

    Args:
        owner_dsn: address of the role that owns the tables.
        team: whose member.
        member: the member's id.
        audit: the audit event recorded with it.

    Raises:
        UnknownMember: the team has no such member.
        NotHome: members are kept at the team's home.
        UnknownTeam: no such team.
        StoreUnavailable: nothing answers there.
    """
    async with connected(owner_dsn) as connection:
        await connection.execute(QUERIES["erase_name"], team, member, audit)
