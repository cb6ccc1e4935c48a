"""The scenario's people let in: the team founded, its members added, a token for each."""

from collections.abc import Mapping

from studbook_service.demo.scenario import Team
from studbook_service.store import MemberRow, audit_event, found_team, mint, open_book, secret_hash


async def let_in(team: Team, *, owner_dsn: str, serving_dsn: str) -> Mapping[str, str]:
    """Found the team in a migrated database.

    Args:
        team: who they are.
        owner_dsn: address of the role that owns the tables.
        serving_dsn: address of the role that serves.

    Returns:
        A token for each member id, the chief's first.

    Raises:
        StoreUnavailable: nothing answers there.

    Example::

        tokens = await let_in(team(), owner_dsn=owner_dsn, serving_dsn=serving_dsn)
    """
    founded = await found_team(owner_dsn, team_name=team.name, chief_name=team.members[team.chief], chief_id=team.chief)
    tokens = {team.chief: founded.token}
    book = await open_book(serving_dsn, size=1)
    try:
        for member, name in team.members.items():
            if member == team.chief:
                continue
            tokens[member] = mint()
            await book.access.add_member(
                founded.team,
                MemberRow(member, name, "crew"),
                audit=audit_event(actor=team.chief, action="member.add", subject=member, role="crew"),
            )
            await book.access.add_token(
                founded.team,
                secret_hash=(hashed := secret_hash(tokens[member])),
                member=member,
                role="crew",
                label="demo",
                audit=audit_event(
                    actor=team.chief, action="token.make", subject=hashed.hex()[:12], member=member, role="crew"
                ),
            )
    finally:
        await book.close()
    return tokens
