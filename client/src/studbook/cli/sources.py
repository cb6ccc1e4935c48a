"""`studbook sources`: what other teams share with us."""

from typing import Annotated

import msgspec
from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.cli import source_store
from studbook.cli.environment import foreign_token, insecure_http, timeout_s
from studbook.cli.exit_codes import OUT_OF_REACH, REFUSED, CommandFailedError
from studbook.cli.me import access_text
from studbook.cli.options import Json, TokenFile
from studbook.cli.printing import print_rows
from studbook.cli.source_store import Source
from studbook.core.address import checked_address
from studbook.core.errors import StudbookError, TokenRefusedError
from studbook.history.canonical import SLUG
from studbook.wire.access import Me
from studbook.wire.units import Opt

sources = App(name="sources", help="What other teams share with you.")

PATIENCE_S = 5.0

Name = Annotated[str, Parameter(help="How you call it here: 1 to 48 of a-z, 0-9, _ and -.")]


class SourceState(msgspec.Struct, omit_defaults=True, kw_only=True):
    """A source, and what it shows.

    Attributes:
        me: what its token opens; absent where there was no answer.
        ended: the token opens nothing any more.
        failure: why there was no answer.
    """

    name: str
    url: str
    me: Opt[Me] = UNSET
    ended: bool = False
    failure: Opt[str] = UNSET


@sources.default
def show(*, json: Json = False) -> None:
    """List your sources, and ask each what it shows and until when."""
    found = [_ask(name, source) for name, source in source_store.load_sources().items()]
    rows, none = [_row(each) for each in found], "No sources yet: studbook sources add NAME URL"
    print_rows({"items": found}, ("source", "address", "shows"), rows, json=json, none=none)


sources.command(show, name="list")


@sources.command
def add(
    name: Name,
    url: Annotated[str, Parameter(help="Where their service answers, such as https://book.example")],
    /,
    *,
    token_file: TokenFile = None,
) -> None:
    """Add what another team shares; the token comes from a file, from STUDBOOK_FROM_TOKEN, or from a prompt."""
    if not SLUG.fullmatch(name):
        raise CommandFailedError(f"{name[:80]!r} is no name: 1 to 48 of a-z, 0-9, _ and -")
    known = source_store.load_sources()
    if name in known:
        raise CommandFailedError(f"there is a source called {name} already: studbook sources forget {name}")
    address = checked_address(url, insecure_http=insecure_http())
    source = Source(address, foreign_token(token_file, url=url), insecure_http=insecure_http())
    shown = _ask(name, source)
    if not isinstance(shown.me, Me):
        if shown.ended:
            raise CommandFailedError(f"this token opens nothing at {url}", code=REFUSED)
        raise CommandFailedError(f"{name} was not added: {shown.failure}", code=OUT_OF_REACH)
    source_store.save_sources({**known, name: source})
    print(f"{name} shows {access_text(shown.me)}: studbook pull {name}:CAR/SHEET")


@sources.command
def forget(name: Name, /) -> None:
    """Remove a source and its token; what was carried from it stays."""
    source_store.find_source(name)
    source_store.save_sources({each: source for each, source in source_store.load_sources().items() if each != name})
    print(f"{name} is forgotten")


def _ask(name: str, source: Source) -> SourceState:
    shown = SourceState(name=name, url=source.url)
    try:
        with source.book(min(PATIENCE_S, timeout_s())) as book:
            shown.me = book.me()
    except TokenRefusedError:
        shown.ended = True
    except StudbookError as error:
        shown.failure = str(error)
    return shown


def _row(shown: SourceState) -> tuple[str, ...]:
    if isinstance(shown.me, Me):
        return shown.name, shown.url, access_text(shown.me)
    return shown.name, shown.url, "nothing any more: it has ended" if shown.ended else f"? {shown.failure}"
