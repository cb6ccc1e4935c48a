"""`studbook sync`: both books hold the same when it ends."""

import asyncio
from functools import partial
from pathlib import Path

import msgspec

from studbook.wire.exchange import REFUSALS
from studbook_service.actions.lines import place
from studbook_service.actions.peering import addresses
from studbook_service.commands.failing import ending_well
from studbook_service.commands.own_book import OwnBook, own_book, settings_of
from studbook_service.commands.speaking import Counter, say
from studbook_service.exchange import driver
from studbook_service.exchange.asking import Progress, beginning
from studbook_service.settings import Settings


def sync(name: str | None = None, *, anew: bool = False, data: Path | None = None, database: str | None = None) -> None:
    """Exchange with one peer, or with all.

    Args:
        name: the peer; all of them if not given.
        anew: read the peer's book from its start, and offer again what was refused.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a PostgreSQL database to use instead. STUDBOOK_DATABASE.
    """
    with ending_well():
        asyncio.run(_sync(settings_of(data, database), name, anew=anew))


async def _sync(settings: Settings, name: str | None, *, anew: bool) -> None:
    async with own_book(settings) as own:
        for peer in await addresses(own.books, own.team, own.tokens, name):
            if anew:
                await _forget(own, peer)
            counter = Counter()
            done = await driver.sync(own.book, peer, say=partial(_count, counter))
            counter.done()
            say(f"{peer.name}: {_counted(done)}")
            for line in done.split:
                say(f"  split: {_split(line)}")
            for each in done.refused:
                detail = f" ({each.detail})" if each.detail else ""
                say(f"  refused: {each.id} on {each.line}: {REFUSALS.get(each.code, each.code)}{detail}")


async def _forget(own: OwnBook, peer: driver.Address) -> None:
    """Begin with a peer as if it were new."""
    standing = msgspec.json.encode(beginning(await own.book.end()))
    await own.books.peers.set(own.team, peer.name, peer.url, standing=standing)


def _count(counter: Counter, progress: Progress) -> None:
    counter(_counted(progress))


def _split(line: str) -> str:
    """Name a line that two went on with; of a sheet as the crew does, with the command that settles it.

    Example:
        >>> _split("car/7/sheet/baseline")
        '7/baseline: studbook merge 7/baseline'
        >>> _split("part/s-041")
        'part/s-041'
    """
    car, sheet = place(line)
    return f"{car}/{sheet}: studbook merge {car}/{sheet}" if sheet else line


def _counted(done: Progress) -> str:
    return f"{done.sent} sent in {done.bytes_up} bytes, {done.received} received in {done.bytes_down} bytes"
