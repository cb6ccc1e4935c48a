"""`studbook sync`: both books hold the same when it ends."""

import asyncio
from functools import partial
from pathlib import Path
from typing import Final

import msgspec

from studbook.wire.exchange import REFUSALS
from studbook_service.actions.known_peers import addresses
from studbook_service.actions.lines import place
from studbook_service.actions.peers import shown_peers
from studbook_service.commands.failing import ending_well
from studbook_service.commands.own_book import OwnBook, own_book, settings_of
from studbook_service.commands.speaking import Counter, say
from studbook_service.exchange import driver
from studbook_service.exchange.asking import Progress, beginning
from studbook_service.settings import Settings

_WAITS_S: Final = (0.5, 1, 2, 4, 8)
"""An exchange that the service began by itself is mostly over sooner."""

_SHOWN: Final = ("event", "outing", "part", "shop", "work")
"""Lines whose record a command of that name shows, with the command that settles it."""


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
            done = await _exchanged(own, peer, counter)
            counter.done()
            say(f"{peer.name}: {_counted(done)}")
            for line in done.split:
                say(f"  split: {_split(line)}")
            await _tell_refused(own, peer.name)


async def _exchanged(own: OwnBook, peer: driver.Address, counter: Counter) -> Progress:
    """Exchange with a peer; where the service does so by itself just now, after that."""
    for wait_s in _WAITS_S:
        try:
            return await driver.sync(own.book, peer, say=partial(_count, counter))
        except driver.UnderWay:
            await asyncio.sleep(wait_s)
    return await driver.sync(own.book, peer, say=partial(_count, counter))


async def _tell_refused(own: OwnBook, name: str) -> None:
    """Name what is refused on either side, in this exchange or one before: so far the books do not hold the same."""
    refused = next(each.refused for each in (await shown_peers(own.books, own.team)).items if each.name == name)
    for each in refused:
        detail = f" ({each.detail})" if each.detail else ""
        say(f"  refused: {each.id} on {each.line}: {REFUSALS.get(each.code, each.code)}{detail}")
    if refused:
        say(f"  once that is mended: studbook sync {name} --anew")


async def _forget(own: OwnBook, peer: driver.Address) -> None:
    """Begin with a peer as if it were new."""
    standing = msgspec.json.encode(beginning(await own.book.end()))
    await own.books.peers.set(own.team, peer.name, peer.url, state=standing)


def _count(counter: Counter, progress: Progress) -> None:
    counter(_counted(progress))


def _split(line: str) -> str:
    """Name a line that two went on with as the crew does, with the command that settles it or shows how.

    Example:
        >>> _split("car/7/sheet/baseline")
        '7/baseline: studbook merge 7/baseline'
        >>> _split("outing/2026-05-02-north/7/heat-1")
        'outing 2026-05-02-north/7/heat-1: studbook outing show 2026-05-02-north/7/heat-1'
        >>> _split("log/7/2026-05-02-1940")
        'log/7/2026-05-02-1940'
    """
    car, sheet = place(line)
    root, _, name = line.partition("/")
    if sheet:
        return f"{car}/{sheet}: studbook merge {car}/{sheet}"
    return f"{root} {name}: studbook {root} show {name}" if root in _SHOWN else line


def _counted(done: Progress) -> str:
    return f"{done.sent} sent in {done.bytes_up} bytes, {done.received} received in {done.bytes_down} bytes"
