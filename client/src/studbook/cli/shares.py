"""`studbook shares`: what other teams may read of our book."""

import datetime as dt
from typing import Annotated

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.cli.environment import address, open_book
from studbook.cli.exit_codes import CommandFailedError, print_error
from studbook.cli.options import Json
from studbook.cli.printing import print_answer, print_json, print_rows, when
from studbook.wire.access import Share, ShareMade, Shares

shares = App(name="shares", help="What other teams may read of your book.")


@shares.default
def show(*, json: Json = False) -> None:
    """List what is shared, with whom and until when, the newest first."""
    with open_book() as book:
        found = book.shares()
    none = "Nothing is shared: studbook shares new CAR/SHEET --for WHOM --until DATE"
    header = ("share", "what", "for", "until", "")
    print_rows(Shares(items=found), header, [_row(share) for share in found], json=json, none=none)


shares.command(show, name="list")


@shares.command
def new(
    what: Annotated[str, Parameter(help="CAR for all its sheets, or CAR/SHEET.")],
    /,
    *,
    label: Annotated[str, Parameter(name="--for", help="For whom, in your words.")],
    until: Annotated[str, Parameter(help="The last day, such as 2027-03-31, at most two years ahead.")],
    json: Json = False,
) -> None:
    """Let another team read a car or a sheet until a date; the token for them is shown this once."""
    with open_book() as book:
        made = book.make_share(what, label=label, until=_end_of(until))
    report(made, json=json)


def report(made: ShareMade, *, json: bool) -> None:
    """Print a share's token, this once."""
    if json:
        print_json(made)
        return
    print(made.token)
    print_error(
        f"this token, shown only now, lets its holder read {share_text(made.share)}, until {when(made.share.until)}\n"
        f"  they add it with: studbook sources add NAME {address()}\n"
        f"  you end it with: studbook shares end {made.share.id}"
    )


@shares.command
def end(share: Annotated[str, Parameter(help="Its id, from studbook shares.")], /, *, json: Json = False) -> None:
    """End a share now; what was carried from it stays where it was carried to."""
    with open_book() as book:
        ended = book.end_share(share)
    print_answer(ended, lambda _: [f"{share_text(ended)} is no longer shared with {ended.label}"], json=json)


def share_text(share: Share) -> str:
    """Name what a share shows.

    Example:
        >>> now = dt.datetime.now(dt.UTC)
        >>> share_text(Share(id="s", car="7", label="Ada", until=now))
        'car 7'
    """
    return f"car {share.car}" if share.sheet is UNSET else f"{share.car}/{share.sheet}"


def _row(share: Share) -> tuple[str, ...]:
    state = ""
    if share.ended_at is not UNSET:
        state = f"ended {when(share.ended_at)}"
    elif share.until <= dt.datetime.now(dt.UTC):
        state = "over"
    return share.id, share_text(share), share.label, when(share.until), state


def _end_of(text: str) -> dt.datetime:
    """Read a day as its end by the clock of this place; a moment as it is."""
    try:
        if len(text) == len("2027-03-31"):
            return dt.datetime.combine(dt.date.fromisoformat(text), dt.time(23, 59, 59)).astimezone()
        return dt.datetime.fromisoformat(text).astimezone()
    except ValueError:
        raise CommandFailedError(f"--until {text[:80]}: write a day, such as 2027-03-31") from None
