"""`studbook token recover`: a new token for a chief, made where the book is kept, when no chief's token is left."""

import asyncio
from typing import Annotated
from uuid import UUID

from cyclopts import Parameter

from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.node import OwnerBook, open_as_owner, owner_settings
from studbook_service.commands.options import Data, OwnerDatabase, Team
from studbook_service.commands.output import print_line, print_note
from studbook_service.settings import BadSetting, Settings
from studbook_service.store import MemberRow, any_team, audit_event, mint, secret_hash
from studbook_service.store.auditing import OWNER

LABEL = "studbook token recover"


def recover(
    member: Annotated[str | None, Parameter(help="A chief's id or name; not needed where there is one chief.")] = None,
    *,
    team: Team = None,
    data: Data = None,
    database: OwnerDatabase = None,
) -> None:
    """Make a new token for a chief when no chief's token is left; it is shown this once.

    For the machine that holds the book: it takes the data folder, or the address of the role that owns the tables. The
    service may run meanwhile.
    """
    with exit_on_error():
        asyncio.run(_recover(owner_settings(data, database), team, member))


async def _recover(settings: Settings, team: UUID | None, wanted: str | None) -> None:
    async with open_as_owner(settings, team) as owner:
        # The serving role could add a token too; only the owner of the tables may look across teams.
        await any_team(owner.owner_dsn)
        chief = await _chief(owner, wanted)
        token = mint()
        hashed = secret_hash(token)
        recorded = audit_event(
            actor=OWNER, action="token.make", subject=hashed.hex()[:12], member=chief.id, role="chief", recovered=True
        )
        await owner.books.access.add_token(
            owner.team, secret_hash=hashed, member=chief.id, role="chief", label=LABEL, audit=recorded
        )
    print_line(token)
    print_note(
        f"this token, shown only now, opens the book to {chief.name or chief.id} as chief\n"
        "  end the ones that were lost: studbook token list, studbook token end ID"
    )


async def _chief(owner: OwnerBook, wanted: str | None) -> MemberRow:
    """Find the chief who is meant, or the only one."""
    chiefs = [each for each in await owner.books.access.members(owner.team) if each.role == "chief" and not each.ended]
    found = [each for each in chiefs if wanted in {None, each.id, each.name}]
    if len(found) == 1:
        return found[0]
    names = ", ".join(f"{each.id} ({each.name})" if each.name else each.id for each in chiefs)
    if wanted is None or found:
        raise BadSetting(f"which chief? Give an id, of {names}")
    raise BadSetting(f"no chief is {wanted}: {names}")
