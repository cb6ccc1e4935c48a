"""`studbook verify`: computes every hash of the book again, and compares two books."""

import asyncio
import sys
from typing import Annotated

from cyclopts import Parameter

from studbook_service.actions.known_peers import addresses
from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.node import open_node, read_settings
from studbook_service.commands.options import Data, Database
from studbook_service.commands.output import print_line
from studbook_service.exchange import checking, driver
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.running import run_in_thread
from studbook_service.settings import Settings


def verify(
    *,
    peer: Annotated[str | None, Parameter(help="Compare with this peer's book too.")] = None,
    data: Data = None,
    database: Database = None,
) -> None:
    """Check the book: ids, parents, chain. Ends with status 1 when something is wrong."""
    with exit_on_error():
        if not asyncio.run(_verify(read_settings(data, database), peer)):
            sys.exit(1)


async def _verify(settings: Settings, peer: str | None) -> bool:
    async with open_node(settings) as node:
        ours = await checking.verify(node.book, run=run_in_thread)
        erased = f", {len(ours.erased)} erased" if ours.erased else ""
        print_line(f"{len(ours.places)} entries, {len(ours.faults)} faults{erased}")
        for fault in ours.faults:
            print_line(f"  {fault.seq}  {fault.id[:8]}: {fault.what}")
        if peer is None:
            return not ours.faults
        [address] = await addresses(node.books, node.team, node.tokens, peer)
        theirs = MemoryBook(await node.book.identity(), home=address.name)
        done = await driver.sync(theirs, address)
        compared = checking.compare(ours, await checking.verify(theirs, run=run_in_thread))
    print_line(
        f"{peer}: {await theirs.end()} entries; {len(compared.only_here)} only here, {len(compared.only_there)} only "
        f"there, {len(done.refused)} damaged"
    )
    for id_ in compared.only_here:
        print_line(f"  only here:  {id_[:8]} on {ours.places[id_][0]}")
    for id_ in compared.only_there:
        print_line(f"  only there: {id_[:8]}")
    for each in done.refused:
        print_line(f"  damaged there: {each.id} on {each.line}")
    return not (ours.faults or compared.only_here or compared.only_there or done.refused)
