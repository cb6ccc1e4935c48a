"""The scenario's people: the team founded, its members added, a token for each."""

from collections.abc import Mapping

from studbook import AsyncStudbook
from studbook_service.demo.scenario import DemoTeam
from studbook_service.store import found_team


async def add_crew(team: DemoTeam, *, owner_dsn: str, url: str) -> Mapping[str, str]:
    """Found the team in a service's database, and add its members.

    Args:
        team: who they are.
        owner_dsn: address of the role that owns the tables.
        url: the service's address.

    Returns:
        A token for each member id, the chief's first.

    Raises:
        StoreUnavailable: the database does not answer.
        StudbookError: the service refused a member or does not answer.

    Example::

        tokens = await add_crew(team(), owner_dsn=owner_dsn, url="http://127.0.0.1:8710")
    """
    founded = await found_team(owner_dsn, team_name=team.name, chief_name=team.members[team.chief], chief_id=team.chief)
    tokens = {team.chief: founded.token}
    async with AsyncStudbook(url, founded.token) as book:
        for member, name in team.members.items():
            if member != team.chief:
                await book.add_member(name, id=member)
                tokens[member] = (await book.make_token(member, label="demo")).token
    return tokens
