"""`studbook verify`: every hash of the book computed anew, and two books set against each other."""

import asyncio
import sys
from pathlib import Path

from studbook_service.actions.known_peers import addresses
from studbook_service.commands.failing import ending_well
from studbook_service.commands.own_book import own_book, settings_of
from studbook_service.commands.speaking import say
from studbook_service.exchange import checking, driver
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.running import in_thread
from studbook_service.settings import Settings


def verify(*, peer: str | None = None, data: Path | None = None, database: str | None = None) -> None:
    """Walk the book: ids, parents, chain. Ends with status 1 when something is wrong.

    Args:
        peer: compare with this peer's book too.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a PostgreSQL database to use instead. STUDBOOK_DATABASE.
    """
    with ending_well():
        if not asyncio.run(_verify(settings_of(data, database), peer)):
            sys.exit(1)


async def _verify(settings: Settings, peer: str | None) -> bool:
    async with own_book(settings) as own:
        ours = await checking.verify(own.book, run=in_thread)
        erased = f", {len(ours.erased)} erased" if ours.erased else ""
        say(f"{len(ours.places)} entries, {len(ours.faults)} faults{erased}")
        for fault in ours.faults:
            say(f"  {fault.seq}  {fault.id[:8]}: {fault.what}")
        if peer is None:
            return not ours.faults
        [address] = await addresses(own.books, own.team, own.tokens, peer)
        theirs = MemoryBook(await own.book.identity(), home=address.name)
        done = await driver.sync(theirs, address)
        compared = checking.compare(ours, await checking.verify(theirs, run=in_thread))
    say(
        f"{peer}: {await theirs.end()} entries; {len(compared.only_here)} only here, {len(compared.only_there)} only "
        f"there, {len(done.refused)} damaged"
    )
    for id_ in compared.only_here:
        say(f"  only here:  {id_[:8]} on {ours.places[id_][0]}")
    for id_ in compared.only_there:
        say(f"  only there: {id_[:8]}")
    for each in done.refused:
        say(f"  damaged there: {each.id} on {each.line}")
    return not (ours.faults or compared.only_here or compared.only_there or done.refused)
