"""What the command takes from its environment; nothing else in the client reads it."""

import getpass
import os
import re
import shlex
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Final

from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.files import read_secret
from studbook.cli.kept_book import KeptBook
from studbook.cli.unsent_store import UnsentStore
from studbook.core.bearer_token import BearerToken, token_fault

HERE: Final = "http://127.0.0.1:8710"
_TOKEN_FILE_MOST: Final = 4096
_TOKEN: Final = re.compile(r"sbk_[A-Za-z0-9]{38}")


_line: ContextVar[tuple[str, ...]] = ContextVar("line", default=())
_insecure_http: ContextVar[bool] = ContextVar("insecure_http", default=False)


@contextmanager
def command_line(words: Sequence[str], *, insecure_http: bool = False) -> Iterator[None]:
    """Say which words are being carried out, and whether they allow plain http to another machine."""
    line, allowed = _line.set(tuple(words)), _insecure_http.set(insecure_http)
    try:
        yield
    finally:
        _line.reset(line)
        _insecure_http.reset(allowed)


def open_book() -> KeptBook:
    """Open the book at STUDBOOK_URL with STUDBOOK_TOKEN.

    Raises:
        CommandFailedError: there is no token, or a setting is none.
    """
    return KeptBook(
        address(),
        own_token(),
        store=unsent_store(),
        line=_line.get(),
        timeout_s=timeout_s(),
        insecure_http=insecure_http(),
    )


def own_token() -> BearerToken:
    """Give our own token.

    Raises:
        CommandFailedError: there is none.
    """
    if not os.environ.get("STUDBOOK_TOKEN", "").strip():
        raise CommandFailedError("set STUDBOOK_TOKEN to your token; `studbook serve` says where the first one is")
    return BearerToken(os.environ["STUDBOOK_TOKEN"])


def address() -> str:
    """Give the address of our own service."""
    return (os.environ.get("STUDBOOK_URL", "").strip() or HERE).rstrip("/")


def insecure_http() -> bool:
    """Whether plain http is allowed to another machine: `--insecure-http`, or STUDBOOK_INSECURE_HTTP=1."""
    set_ = os.environ.get("STUDBOOK_INSECURE_HTTP", "").strip().lower()
    return _insecure_http.get() or set_ in {"1", "on", "true", "yes"}


def timeout_s() -> float:
    """Give the seconds that a request may take, repeats included.

    Raises:
        CommandFailedError: the setting is no such number.
    """
    text = os.environ.get("STUDBOOK_TIMEOUT_S", "").strip() or "30"
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0 < seconds <= 3600:
        raise CommandFailedError(f"STUDBOOK_TIMEOUT_S is {text[:40]!r}: give seconds, more than 0 and at most 3600")
    return seconds


def unsent_store() -> UnsentStore:
    """Give the folder of requests that have no answer."""
    return UnsentStore(
        Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "studbook" / "unsent"
    )


def foreign_token(file: Path | None, *, url: str) -> str:
    """Take the token of another book from a file, else from STUDBOOK_FROM_TOKEN, else ask for it.

    It is never an argument: any user of the machine may read those in the list of processes.

    Raises:
        CommandFailedError: there is none, or what is there is no token; it is not shown.
    """
    if file is not None:
        text, place = read_secret(file, most=_TOKEN_FILE_MOST).decode(errors="replace"), str(file)
    elif text := os.environ.get("STUDBOOK_FROM_TOKEN", ""):
        place = "STUDBOOK_FROM_TOKEN"
    elif sys.stdin.isatty():
        text, place = getpass.getpass(f"Token for {url}: "), "that"
    else:
        text, place = sys.stdin.readline(_TOKEN_FILE_MOST), "standard input"
    token = text.strip()
    if _TOKEN.fullmatch(token):
        return token
    fault = token_fault(token)
    del text, token
    raise CommandFailedError(
        f"{place} holds no token for {url}{f' ({fault})' if fault else ''}: put it into a file (--token-file) or into "
        "STUDBOOK_FROM_TOKEN"
    )


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
