"""What the command takes from its environment; nothing else in the client reads it."""

import os
import shlex
import sys
from typing import Final

from studbook.blocking import Studbook
from studbook.cli.endings import CommandFailedError

HERE: Final = "http://127.0.0.1:8710"


def open_book() -> Studbook:
    """Open the book at STUDBOOK_URL with STUDBOOK_TOKEN.

    Raises:
        CommandFailedError: there is no token.
    """
    token = os.environ.get("STUDBOOK_TOKEN", "").strip()
    if not token:
        raise CommandFailedError("set STUDBOOK_TOKEN to your token; `studbook serve` says where the first one is")
    return Studbook(os.environ.get("STUDBOOK_URL", "").strip() or HERE, token)


def open_other_book(url: str, token: str | None) -> Studbook:
    """Open another book, with the token given or STUDBOOK_FROM_TOKEN, which keeps it out of the shell's history.

    Raises:
        CommandFailedError: there is no token.
    """
    held = token or os.environ.get("STUDBOOK_FROM_TOKEN", "").strip()
    if not held:
        raise CommandFailedError(f"give --from-token, or set STUDBOOK_FROM_TOKEN to your token for {url}")
    return Studbook(url, held)


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
