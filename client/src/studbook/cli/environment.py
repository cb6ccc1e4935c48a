"""What the command takes from its environment; nothing else in the client reads it."""

import getpass
import os
import re
import shlex
import sys
from pathlib import Path
from typing import Final

from studbook.blocking import Studbook
from studbook.cli.exit_codes import CommandFailedError

HERE: Final = "http://127.0.0.1:8710"
_TOKEN: Final = re.compile(r"sbk_[A-Za-z0-9]{38}")


def open_book() -> Studbook:
    """Open the book at STUDBOOK_URL with STUDBOOK_TOKEN.

    Raises:
        CommandFailedError: there is no token.
    """
    token = os.environ.get("STUDBOOK_TOKEN", "").strip()
    if not token:
        raise CommandFailedError("set STUDBOOK_TOKEN to your token; `studbook serve` says where the first one is")
    return Studbook(address(), token)


def address() -> str:
    """Give the address of our own service."""
    return os.environ.get("STUDBOOK_URL", "").strip() or HERE


def foreign_token(file: Path | None, *, url: str) -> str:
    """Take the token of another book from a file, else from STUDBOOK_FROM_TOKEN, else ask for it.

    It is never an argument: any user of the machine may read those in the list of processes.

    Raises:
        CommandFailedError: there is none, or what is there is no token; it is not shown.
    """
    if file is not None:
        token, place = file.read_text(encoding="utf-8", errors="replace"), str(file)
    elif token := os.environ.get("STUDBOOK_FROM_TOKEN", ""):
        place = "STUDBOOK_FROM_TOKEN"
    elif sys.stdin.isatty():
        token, place = getpass.getpass(f"Token for {url}: "), "that"
    else:
        token, place = sys.stdin.readline(), "standard input"
    if not _TOKEN.fullmatch(token.strip()):
        raise CommandFailedError(
            f"{place} holds no token for {url}: put it into a file (--token-file) or into STUDBOOK_FROM_TOKEN"
        )
    return token.strip()


def configuration() -> Path:
    """Name the folder of the user's configuration of this command."""
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "studbook"


def editor() -> list[str]:
    """Give the words that start the user's editor.

    Raises:
        CommandFailedError: none is set.
    """
    words = shlex.split(os.environ.get("VISUAL") or os.environ.get("EDITOR") or "")
    if not words:
        raise CommandFailedError("set EDITOR, or give changes: studbook edit CAR/SHEET path=value -m NOTE")
    return words


def bold(text: str) -> str:
    """Make text stand out on a terminal that allows it (NO_COLOR is respected); elsewhere give it as it is."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty()
    return text if plain else f"\033[1m{text}\033[0m"
