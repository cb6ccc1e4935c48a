"""`studbook me`."""

from msgspec import UNSET

from studbook.cli.environment import open_book
from studbook.cli.options import Json
from studbook.cli.printing import print_json, when
from studbook.cli.shares import share_text
from studbook.wire.access import Me


def me(*, json: Json = False) -> None:
    """Tell whom the book takes you for, and what your token allows."""
    with open_book() as book:
        found = book.me()
    if json:
        print_json(found)
    else:
        called = f"{found.name}, {found.id}" if found.name else found.id
        print(f"{called}: your token opens {access_text(found)}")


def access_text(found: Me) -> str:
    """Say what a token opens."""
    if found.share is not UNSET:
        return f"{share_text(found.share)}, read-only, until {when(found.share.until)}"
    return f"the whole book, as {found.role}"
