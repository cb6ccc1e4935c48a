"""`studbook token`: tokens of this node's own book."""

import asyncio
import sys
from pathlib import Path
from typing import TypedDict

from studbook.history.canonical import SLUG
from studbook.history.merge import AUTHOR
from studbook_service.commands.failing import ending_well
from studbook_service.commands.own_book import OwnBook, own_book, settings_of
from studbook_service.commands.speaking import say
from studbook_service.exchange import erasures
from studbook_service.settings import BadSetting, Settings
from studbook_service.store import MemberRow, audit_event, mint, opaque_id, secret_hash

ROLES = ("viewer", "crew", "chief", "node")
LABEL = "studbook token new"


def new(
    member: str,
    *,
    role: str | None = None,
    id: str | None = None,  # noqa: A002 - the book's own word
    protected: bool = False,
    introduces: bool = False,
    data: Path | None = None,
    database: str | None = None,
) -> None:
    """Make a token for a member, who is added when new; shown this once.

    Args:
        member: a member's id or name; for a laptop, what to call it: 1 to 48 of a-z, 0-9, _ and -.
        role: what it allows: viewer, crew, chief, or node for a laptop that exchanges; a new member has it too. The
            member's role if not given, crew for a new one.
        id: for somebody new whose entries carry it already; one is made if not given.
        protected: a laptop's: it may bring revisions on protected sheets.
        introduces: a laptop's that began alone: it may bring entries by authors new to the team.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a PostgreSQL database to use instead. STUDBOOK_DATABASE.
    """
    with ending_well():
        if role not in {None, *ROLES}:
            raise BadSetting(f"{role!r} is no role: {', '.join(ROLES)}")
        flags = Flags(protected=protected, introduces=introduces)
        asyncio.run(_new(settings_of(data, database), member, role, id, flags))


class Flags(TypedDict):
    """What a laptop's token may beside exchanging."""

    protected: bool
    introduces: bool


async def _new(settings: Settings, wanted: str, role: str | None, id_: str | None, flags: Flags) -> None:
    async with own_book(settings, begins=True) as own:
        if own.role != "chief":
            raise BadSetting(f"a {own.role} makes no tokens: a chief does")
        member = await _known(own, wanted) or await _added(own, wanted, role or "crew", id_)
        allows = role or member.role
        if (allows == "node") is not (member.role == "node"):
            raise BadSetting(f"{member.id} is a {member.role}: a laptop's token is a laptop's, a person's a person's")
        if any(flags.values()) and allows != "node":
            raise BadSetting("--protected and --introduces are for a laptop's token: --role node")
        token = mint()
        hashed = secret_hash(token)
        recorded = audit_event(
            actor=own.actor, action="token.make", subject=hashed.hex()[:12], member=member.id, role=allows, **flags
        )
        await own.books.access.add_token(
            own.team, secret_hash=hashed, member=member.id, role=allows, label=LABEL, audit=recorded, **flags
        )
        say(token)


async def _known(own: OwnBook, wanted: str) -> MemberRow | None:
    """Find a member by id, or by a name that only one has."""
    members = await own.books.access.members(own.team)
    found = [each for each in members if each.id == wanted] or [each for each in members if each.name == wanted]
    if len(found) > 1:
        raise BadSetting(f"several are called {wanted}: give an id, of {', '.join(each.id for each in found)}")
    return found[0] if found else None


async def _added(own: OwnBook, wanted: str, role: str, id_: str | None) -> MemberRow:
    chosen = id_ or (wanted if role == "node" else opaque_id("m"))
    if not SLUG.fullmatch(chosen):
        raise BadSetting(f"{chosen!r} is no id: 1 to 48 of a-z, 0-9, _ and -")
    if chosen in {AUTHOR, erasures.AUTHOR}:
        raise BadSetting(f"{chosen!r} signs what nobody in particular wrote; no member may be called so")
    member = MemberRow(chosen, wanted, role)
    recorded = audit_event(actor=own.actor, action="member.add", subject=member.id, role=role)
    await own.books.access.add_member(own.team, member, audit=recorded)
    if role != "node":
        print(f"{wanted} is {member.id}, by which entries know them", file=sys.stderr)  # noqa: T201 - a command speaks to its user
    return member
