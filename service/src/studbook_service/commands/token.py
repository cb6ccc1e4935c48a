"""`studbook token`: tokens of this node's own book."""

import asyncio
from pathlib import Path

from studbook.history.canonical import SLUG
from studbook.history.merge import AUTHOR
from studbook_service.commands.failing import ending_well
from studbook_service.commands.own_book import own_book, settings_of
from studbook_service.commands.speaking import say
from studbook_service.settings import BadSetting, Settings
from studbook_service.store import Member, mint, secret_hash

ROLES = ("viewer", "crew", "chief", "node")


def new(
    member: str, *, role: str = "crew", name: str | None = None, data: Path | None = None, database: str | None = None
) -> None:
    """Make a token for a member, who is added when new; shown this once.

    Args:
        member: the member's id, which entries carry: 1 to 48 of a-z, 0-9, _ and -. For a laptop, the laptop's.
        role: what it allows: viewer, crew, chief, or node for a laptop that exchanges.
        name: how the crew calls the member.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a PostgreSQL database to use instead. STUDBOOK_DATABASE.
    """
    with ending_well():
        if role not in ROLES:
            raise BadSetting(f"{role!r} is no role: {', '.join(ROLES)}")
        if not SLUG.fullmatch(member):
            raise BadSetting(f"{member!r} is no member: 1 to 48 of a-z, 0-9, _ and -")
        if member == AUTHOR:
            raise BadSetting(f"{member!r} signs merges that two nodes accept apart; no member may be called so")
        asyncio.run(_new(settings_of(data, database), Member(member, name or member, role)))


async def _new(settings: Settings, member: Member) -> None:
    async with own_book(settings) as own:
        if own.role != "chief":
            raise BadSetting(f"a {own.role} makes no tokens: a chief does")
        access, token = own.books.access, mint()
        if member.id not in {known.id for known in await access.members(own.team)}:
            await access.add_member(own.team, member)
        await access.add_token(
            own.team, secret_hash=secret_hash(token), member=member.id, role=member.role, label="studbook token new"
        )
        say(token)
