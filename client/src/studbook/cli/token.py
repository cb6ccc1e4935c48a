"""`studbook token`: tokens of members and laptops, made and ended over the service. The service adds `recover`."""

import datetime as dt
from typing import Annotated

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.cli.environment import open_book
from studbook.cli.exit_codes import print_error
from studbook.cli.members import names
from studbook.cli.options import Json
from studbook.cli.printing import print_json, table, when
from studbook.wire.access import Role, Token, TokenMade, Tokens

token = App(name="token", help="Tokens of members and laptops.")


@token.default
def show(*, json: Json = False) -> None:
    """List tokens, the newest first: all of them for a chief, else your own."""
    with open_book() as book:
        found, called = book.tokens(), {} if json else names(book)
    if json:
        print_json(Tokens(items=found))
        return
    print(
        *table(("token", "member", "role", "label", "made", "until", ""), [_row(each, called) for each in found]),
        sep="\n",
    )


token.command(show, name="list")


@token.command
def new(
    *,
    label: Annotated[str, Parameter(help="What you call it, such as the phone or laptop it is for.")],
    member: Annotated[str | None, Parameter(help="Whose: an id from studbook members; yours if not given.")] = None,
    role: Annotated[Role | None, Parameter(help="What it allows at most; the member's role if not given.")] = None,
    days: Annotated[int | None, Parameter(help="How long it opens the book; until ended if not given.")] = None,
    protected: Annotated[
        bool, Parameter(negative="", help="A laptop's: it may bring revisions of protected sheets.")
    ] = False,
    introduces: Annotated[
        bool, Parameter(negative="", help="A laptop's that began alone: it may bring authors new to the team.")
    ] = False,
    json: Json = False,
) -> None:
    """Make a token; it is shown this once."""
    with open_book() as book:
        made = book.make_token(member, role=role, label=label, days=days, protected=protected, introduces=introduces)
    report(made, json=json)


def report(made: TokenMade, *, json: bool) -> None:
    """Print a token, this once."""
    if json:
        print_json(made)
        return
    print(made.token)
    print_error(
        f"this token, shown only now, opens the book to {made.about.member} as {made.about.role}{_until(made.about)}\n"
        f"  you end it with: studbook token end {made.about.id}"
    )


@token.command
def end(
    token: Annotated[str, Parameter(help="Its id, from studbook token list; not the token.")], /, *, json: Json = False
) -> None:
    """End a token now."""
    with open_book() as book:
        ended = book.end_token(token)
    if json:
        print_json(ended)
    else:
        print(f"{ended.id} ({ended.label}) opens nothing any more")


def _row(token: Token, called: dict[str, str]) -> tuple[str, ...]:
    state = ""
    if token.ended_at is not UNSET:
        state = f"ended {when(token.ended_at)}"
    elif token.expires_at is not UNSET and token.expires_at <= dt.datetime.now(dt.UTC):
        state = "over"
    flags = " protected" * token.protected + " introduces" * token.introduces
    until = "" if token.expires_at is UNSET else when(token.expires_at)
    who = called.get(token.member, token.member)
    return token.id, who, f"{token.role}{flags}", token.label, when(token.made_at), until, state


def _until(token: Token) -> str:
    return "" if token.expires_at is UNSET else f", until {when(token.expires_at)}"
