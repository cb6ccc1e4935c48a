"""`studbook me`."""

from msgspec import UNSET

from studbook.cli.environment import open_book
from studbook.cli.options import Json
from studbook.cli.printing import print_answer, when
from studbook.cli.shares import share_text
from studbook.wire.access import Me


def me(*, json: Json = False) -> None:
    """Show who you are in the book, and what your token allows."""
    with open_book() as book:
        found = book.me()
    name = f"{found.name}, {found.id}" if found.name else found.id
    print_answer(found, lambda _: [f"{name}: your token opens {access_text(found)}"], json=json)


def access_text(found: Me) -> str:
    """Describe what a token opens."""
    if found.share is not UNSET:
        return f"{share_text(found.share)}, read-only, until {when(found.share.until)}"
    return f"the whole book, as {found.role}"
