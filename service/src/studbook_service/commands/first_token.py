"""The first team's token: shown once at a terminal, else kept in a file that only its owner reads.

It is written to the file before the team is founded, so a service killed in between leaves no team that nobody can
enter.
"""

import os
import sys
from pathlib import Path

from studbook_service.commands.output import print_line
from studbook_service.store import any_team, found_team, mint

TEAM, CHIEF = "Our team", "Chief"


async def found_first_team(owner_dsn: str, file: Path) -> bool:
    """Found the first team where there is none, its token in the file; give whether it was founded."""
    if await any_team(owner_dsn):
        return False
    token = mint()
    _keep(token, file)
    await found_team(owner_dsn, team_name=TEAM, chief_name=CHIEF, token=token)
    return True


def show_first_token(file: Path) -> None:
    """Print the token at a terminal and delete the file; elsewhere print where the file is."""
    if not file.exists():
        return
    if sys.stdout.isatty():
        print_line(f"First token, shown this once: {file.read_text(encoding='ascii').strip()}")
        file.unlink()
    else:
        print_line(f"First token: in {file.absolute()}")


def _keep(token: str, file: Path) -> None:
    """Put the token on disk, readable by its owner only from the first byte on."""
    file.unlink(missing_ok=True)
    with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as text:
        text.write(f"{token}\n")
        text.flush()
        os.fsync(text.fileno())
