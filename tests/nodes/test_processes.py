"""Real services, real kills: what was acknowledged is there, and the next exchange completes."""

import asyncio
import stat
import time
from pathlib import Path

from nodes.crashing import Node, Rounds
from studbook_service.exchange.driver import ask_head, sync
from studbook_service.exchange.memory_book import MemoryBook

KILLS = 1  # the bench has 200
SEED = 4  # the shop's service, early in the exchange


def test_a_kill_in_the_middle_of_an_exchange_loses_nothing(tmp_path: Path) -> None:
    with Rounds(tmp_path, seed=SEED).running() as rounds:
        for _ in range(KILLS):
            rounds.round()
        rounds.prove()
        carried_in_a_file(rounds, tmp_path)
        exchanging_by_itself(rounds)
    assert rounds.under_way == KILLS


def carried_in_a_file(rounds: Rounds, folder: Path) -> None:
    """What the laptop wrote into a file, a third node reads; and a peer read from the start sends nothing twice."""
    count = len(rounds.acknowledged)
    assert "0 sent" in rounds.laptop.output("sync", "shop", "--from-start")
    assert "0 waiting, 0 refused" in rounds.laptop.output("peers", "list")
    file = folder / "book"
    assert f"{count} entries" in rounds.laptop.output("stick", "write", str(file))
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    third = Node("third", folder)
    assert f"{count} entries are new" in third.output("stick", "read", str(file))
    assert f"{count} entries, 0 faults" in third.output("verify")


def exchanging_by_itself(rounds: Rounds) -> None:
    """Started with --peers, the laptop's service exchanges by itself."""
    asyncio.run(rounds.write(rounds.shop))
    rounds.laptop.stop()
    rounds.laptop.serve("--peers")
    give_up = time.monotonic() + 60
    while asyncio.run(entries(rounds.laptop)) < len(rounds.acknowledged):
        assert time.monotonic() < give_up
        time.sleep(0.2)


async def entries(node: Node) -> int:
    """Count a node's entries by taking its book."""
    book = MemoryBook((await ask_head(node.address)).book)
    await sync(book, node.address)
    return await book.end()
