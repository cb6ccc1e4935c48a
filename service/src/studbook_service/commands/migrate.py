"""`studbook migrate`: a database of one's own, made ready with its owner's address."""

import asyncio
from pathlib import Path

from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.first_token import found_first_team, show_first_token
from studbook_service.commands.output import print_line
from studbook_service.store import any_team
from studbook_service.store import migrate as bring_up_to_date


def migrate(*, database: str, serving_role: str = "studbook_serve", token_file: Path = Path("first-token")) -> None:
    """Bring a database's tables up to date, and found the first team when there is none.

    Args:
        database: address of the database, for the role that owns the tables.
        serving_role: the role that `studbook serve` connects as; made when missing, and granted what it needs.
        token_file: where the first token goes when no person watches; nobody else may read it.
    """
    with exit_on_error():
        asyncio.run(_migrate(database, serving_role, token_file))


async def _migrate(database: str, serving_role: str, token_file: Path) -> None:
    applied = await bring_up_to_date(database, serving_role=serving_role)
    print_line("\n".join(applied) or "Nothing to do: the tables are up to date")
    if not await any_team(database):
        await found_first_team(database, token_file)
        show_first_token(token_file)
