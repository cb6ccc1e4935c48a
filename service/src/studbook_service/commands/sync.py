"""`studbook sync`: both books hold the same when it ends."""

import asyncio
from typing import Annotated, Final

import msgspec
from cyclopts import Parameter

from studbook.wire.exchange import REFUSALS
from studbook_service.actions.known_peers import addresses
from studbook_service.actions.lines import place
from studbook_service.actions.peers import shown_peers
from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.node import NodeBook, open_node, read_settings
from studbook_service.commands.options import Data, Database
from studbook_service.commands.output import ProgressLine, print_line
from studbook_service.exchange import driver
from studbook_service.exchange.initiator import Progress, new_peer_state
from studbook_service.settings import Settings

_WAITS_S: Final = (0.5, 1, 2, 4, 8)
"""An exchange that the service began by itself is mostly over sooner."""

_SHOWN: Final = ("event", "outing", "part", "shop", "work")
"""Lines whose record a command of that name shows, with the command that settles it."""


def sync(
    name: Annotated[str | None, Parameter(help="The peer; all of them if not given.")] = None,
    *,
    from_start: Annotated[
        bool, Parameter(help="Read the peer's book from its start, and send again what was refused.")
    ] = False,
    data: Data = None,
    database: Database = None,
) -> None:
    """Exchange with one peer, or with all."""
    with exit_on_error():
        asyncio.run(_sync(read_settings(data, database), name, from_start=from_start))


async def _sync(settings: Settings, name: str | None, *, from_start: bool) -> None:
    async with open_node(settings) as node:
        for peer in await addresses(node.books, node.team, node.tokens, name):
            if from_start:
                await _begin_again(node, peer)
            done = await _exchange(node, peer)
            print_line(f"{peer.name}: {_counts(done)}")
            for split in done.split:
                print_line(f"  split: {_split(split)}")
            await _print_refused(node, peer.name)


async def _exchange(node: NodeBook, peer: driver.Address) -> Progress:
    """Exchange with a peer; where the service does so by itself just now, after that."""
    line = ProgressLine()

    def report(progress: Progress) -> None:
        line.show(_counts(progress))

    for wait_s in _WAITS_S:
        try:
            return await driver.sync(node.book, peer, report=report)
        except driver.UnderWay:
            await asyncio.sleep(wait_s)
        finally:
            line.clear()
    return await driver.sync(node.book, peer, report=report)


async def _print_refused(node: NodeBook, name: str) -> None:
    """Print what is refused on either side, in this exchange or one before: so far the books do not hold the same."""
    refused = next(each.refused for each in (await shown_peers(node.books, node.team)).items if each.name == name)
    for each in refused:
        detail = f" ({each.detail})" if each.detail else ""
        print_line(f"  refused: {each.id} on {each.line}: {REFUSALS.get(each.code, each.code)}{detail}")
    if refused:
        print_line(f"  once that is mended: studbook sync {name} --from-start")


async def _begin_again(node: NodeBook, peer: driver.Address) -> None:
    """Treat a peer as a new one."""
    state = msgspec.json.encode(new_peer_state(await node.book.end()))
    await node.books.peers.set(node.team, peer.name, peer.url, state=state)


def _split(line: str) -> str:
    """Name a split line as the crew does, with the command that settles it or shows how.

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


def _counts(done: Progress) -> str:
    return f"{done.sent} sent in {done.bytes_up} bytes, {done.received} received in {done.bytes_down} bytes"
