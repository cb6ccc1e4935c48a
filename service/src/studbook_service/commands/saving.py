"""`studbook save` and `studbook load`: the whole book in a file, as a backup or to carry it away."""

import asyncio
import os
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from studbook.wire.exchange import REFUSALS
from studbook_service.commands.failing import ending_well
from studbook_service.commands.own_book import OwnBook, own_book, settings_of
from studbook_service.commands.speaking import say
from studbook_service.exchange import filing
from studbook_service.exchange.answering import names_of
from studbook_service.exchange.running import in_thread
from studbook_service.settings import Settings

_PIECE = 64 * 1024


def save(file: Path, *, data: Path | None = None, database: str | None = None) -> None:
    """Write the whole book into a file, which replaces one of that name only when it is complete.

    Args:
        file: where to.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a PostgreSQL database to use instead. STUDBOOK_DATABASE.
    """
    with ending_well():
        asyncio.run(_save(settings_of(data, database), file))


def load(file: Path, *, data: Path | None = None, database: str | None = None) -> None:
    """Take a saved book into this one; an empty book becomes one with it.

    Args:
        file: what `studbook save` wrote.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a PostgreSQL database to use instead. STUDBOOK_DATABASE.
    """
    with ending_well():
        asyncio.run(_load(settings_of(data, database), file))


async def _save(settings: Settings, file: Path) -> None:
    beside = file.with_name(f"{file.name}.part")
    async with own_book(settings) as own:
        names = names_of(await own.book.decided())
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
            count = await filing.save(own.book, names, out.write, run=in_thread)
            out.flush()
            os.fsync(out.fileno())
            size = out.tell()
    os.replace(beside, file)  # noqa: PTH105 - only a command waits for it
    say(f"{count} entries in {file}, {size} bytes")


async def _load(settings: Settings, file: Path) -> None:
    async with own_book(settings, begins=True) as own:
        added, refused = await filing.load(own.book, _pieces(file), adopt=partial(_adopt, own), run=in_thread)
    say(f"{added} entries are new here")
    for each in refused:
        say(f"  refused: {each.id} on {each.line}: {REFUSALS.get(each.code, each.code)}")


def _pieces(file: Path) -> Iterator[bytes]:
    with file.open("rb") as source:
        while piece := source.read(_PIECE):
            yield piece


async def _adopt(own: OwnBook, book: bytes) -> bool:
    """Let an empty book become one with the saved one."""
    return await own.book.end() == 0 and await own.books.peers.join(own.team, book)
