"""The sources a user added: where another team's book answers, and the token that opens it.

A source is its reader's affair: nothing of it is in our own book. No command takes a token as an argument.

They are in `sources.json` in the user's configuration folder, which nobody else may read: a token is neither on a
command line, where every process list shows it, nor in the shell's history.
"""

from dataclasses import dataclass, field
from typing import Final

import msgspec

from studbook.blocking import Studbook
from studbook.cli.environment import configuration
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.files import read_secret, write_file

FILE: Final = "sources.json"


@dataclass(frozen=True, slots=True)
class Source:
    """Another team's book.

    Attributes:
        url: where it answers.
        token: what opens it.
        insecure_http: plain http to another machine was allowed when it was added.
    """

    url: str
    token: str = field(repr=False)
    insecure_http: bool = False

    def book(self, timeout_s: float) -> Studbook:
        """Open it."""
        return Studbook(self.url, self.token, timeout_s=timeout_s, insecure_http=self.insecure_http)


def load_sources() -> dict[str, Source]:
    """Give all sources by their names, in order.

    Raises:
        CommandFailedError: the file was damaged.
    """
    file = configuration() / FILE
    if not file.exists():
        return {}
    try:
        found = msgspec.json.decode(read_secret(file), type=dict[str, Source])
    except msgspec.DecodeError:
        raise CommandFailedError(f"{file} is damaged: mend it, or remove it and add your sources again") from None
    return dict(sorted(found.items()))


def find_source(name: str) -> Source:
    """Give one source.

    Raises:
        CommandFailedError: there is none by that name.
    """
    found = load_sources()
    if name not in found:
        known = f"; there are: {', '.join(found)}" if found else ""
        raise CommandFailedError(f"no source is called {name[:80]!r}{known}; studbook sources add NAME URL")
    return found[name]


def save_sources(sources: dict[str, Source]) -> None:
    """Write the sources down, in place of what was there; the file is its owner's alone from the first byte on."""
    folder = configuration()
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    kept = {
        name: {"url": each.url, "token": each.token} | ({"insecure_http": True} if each.insecure_http else {})
        for name, each in sources.items()
    }
    data = msgspec.json.format(msgspec.json.encode(kept), indent=2) + b"\n"
    write_file(folder / FILE, data, mode=0o600)
    (folder / FILE).chmod(0o600)
