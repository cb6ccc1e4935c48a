"""`studbook stick`: the whole book in a file, as a backup or to carry it to another node."""

import asyncio
import os
import stat
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from studbook.wire.exchange import REFUSALS
from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.node import NodeBook, open_node, read_settings
from studbook_service.commands.options import Data, Database
from studbook_service.commands.output import print_line
from studbook_service.exchange.book_file import read_book_file, write_book_file
from studbook_service.exchange.frames import FILE, BadFrames, OtherVersion, Reader
from studbook_service.exchange.responder import member_names
from studbook_service.exchange.running import run_in_thread
from studbook_service.settings import BadSetting, Settings

_PIECE = 64 * 1024


def write(
    file: Annotated[Path, Parameter(help="Where to, such as a file on a stick.")],
    *,
    data: Data = None,
    database: Database = None,
) -> None:
    """Write the whole book into a file, which replaces one of that name only when it is complete."""
    with exit_on_error():
        if not file.absolute().parent.is_dir() or (os.path.lexists(file) and not stat.S_ISREG(file.lstat().st_mode)):
            raise BadSetting(f"{file} cannot be written: name an ordinary file in a folder that is there")
        asyncio.run(_write(read_settings(data, database), file))


def read(
    file: Annotated[Path, Parameter(help="What `studbook stick write` wrote.")],
    *,
    data: Data = None,
    database: Database = None,
) -> None:
    """Take the book in a file into this one; an empty book becomes one with it."""
    with exit_on_error():
        _check_head(file)
        asyncio.run(_read(read_settings(data, database), file))


async def _write(settings: Settings, file: Path) -> None:
    beside = file.with_name(f"{file.name}.part")
    async with open_node(settings) as node:
        names = member_names(await node.book.decided())
        # Others wrote to a stick: what stands under this name there may be a link, which is not written through.
        beside.unlink(missing_ok=True)
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            count = await write_book_file(node.book, names, out.write, run=run_in_thread)
            out.flush()
            os.fsync(out.fileno())
            size = out.tell()
    os.replace(beside, file)  # noqa: PTH105 - only a command waits for it
    print_line(f"{count} entries in {file}, {size} bytes")


async def _read(settings: Settings, file: Path) -> None:
    async with open_node(settings, begins=True) as node:
        added, refused = await read_book_file(
            node.book, _pieces(file), adopt=partial(_adopt_identity, node), run=run_in_thread
        )
    print_line(f"{added} entries are new here")
    for each in refused:
        print_line(f"  refused: {each.id} on {each.line}: {REFUSALS.get(each.code, each.code)}")


def _check_head(file: Path) -> None:
    """Refuse what is no file of a book before a new book begins for it."""
    if not file.is_file():
        raise BadSetting(f"there is no file {file}")
    with file.open("rb") as source:
        start = source.read(_PIECE)
    try:
        head = next(Reader(FILE).feed(start), None)
    except OtherVersion:
        raise
    except BadFrames as error:
        raise BadSetting(f"{file} is no book that `studbook stick write` wrote: {error}") from None
    if head is None:
        raise BadSetting(f"{file} is no book that `studbook stick write` wrote: it ends too soon")


def _pieces(file: Path) -> Iterator[bytes]:
    with file.open("rb") as source:
        while piece := source.read(_PIECE):
            yield piece


async def _adopt_identity(node: NodeBook, book: bytes) -> bool:
    """Give an empty book the identity of the one in the file."""
    return await node.book.end() == 0 and await node.books.peers.join(node.team, book)
