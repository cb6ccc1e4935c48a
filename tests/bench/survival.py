"""The full counts of what the tests prove on a few: `python tests/bench/survival.py`.

Simulated worlds, kills of real processes, flipped bits, and how long a walk of a large book takes. Each figure stands
beside what it is held against; anything lost ends the run with an error.
"""

import asyncio
import random
import sys
import tempfile
from collections import Counter
from pathlib import Path
from time import perf_counter

sys.path[:0] = [str(Path(__file__).parents[1])]

from bench.exchanging import Writing  # noqa: E402 - as above
from exchange import test_flips  # noqa: E402 - found on the path set above
from nodes.crashing import Rounds  # noqa: E402 - as above
from nodes.simulation import World  # noqa: E402 - as above
from studbook_service.actions.team_book import TeamBook  # noqa: E402 - as above
from studbook_service.embedded import OWNER, Cluster, find_binaries  # noqa: E402 - as above
from studbook_service.exchange.checking import verify  # noqa: E402 - as above
from studbook_service.store import found_team, make_database, migrate, open_book  # noqa: E402 - as above

Row = tuple[str, str, str, str]
SEEDS, KILLS, FLIPS, ENTRIES = 5_000, 200, 10_000, 10_000


def simulated() -> Row:
    """Worlds that go wrong in all ways and heal."""
    happened: Counter[str] = Counter()
    for seed in range(SEEDS):
        world = World(seed)
        world.run()
        happened.update(world.happened)
    events = ", ".join(f"{count} {what}" for what, count in happened.most_common() if what != "whole")
    return ("simulated worlds healed", f"{SEEDS} of {SEEDS}", events, "nothing lost")


def killed() -> Row:
    """Kills of services, databases and exchanges."""
    with tempfile.TemporaryDirectory(prefix="studbook-bench-") as name:
        Path(name).chmod(0o711)
        with Rounds(Path(name), seed=2026).running() as rounds:
            for number in range(KILLS):
                rounds.round()
                if number % 10 == 9:
                    rounds.prove()
        kills = (
            f"{rounds.under_way} with one under way; {rounds.interrupted} of them cut, the others went on by themselves"
        )
        return ("kill -9 in an exchange", f"{KILLS}", kills, f"{len(rounds.acknowledged)} acknowledged, none lost")


async def flipped() -> Row:
    """Bits flipped in stored and sent entries."""
    test_flips.FLIPS = FLIPS
    for what in ("body", "note"):
        await test_flips.test_a_stored_entry_with_a_flipped_bit_is_named_and_not_taken(what)
    await test_flips.test_a_request_with_a_flipped_bit_brings_nothing_else()
    await test_flips.test_an_answer_with_a_flipped_bit_brings_nothing_else()
    return (
        "bits flipped",
        f"{FLIPS} stored, {FLIPS + FLIPS // 10} sent",
        "none taken as another",
        "each bad one named",
    )


async def walked(cluster: Cluster) -> Row:
    """A large book in PostgreSQL, every hash computed again."""
    await make_database(cluster.dsn(OWNER, "postgres"), "studbook")
    owner = cluster.dsn(OWNER, "studbook")
    await migrate(owner)
    founded = await found_team(owner, team_name="Studbook crew", chief_name="Chris")
    books = await open_book(cluster.dsn("studbook_serve", "studbook"))
    book = TeamBook(books, founded.team)
    writing = Writing(random.Random(2026))  # noqa: S311 - the same documents each time
    made = writing.begin()
    made += writing.revisions(ENTRIES - len(made), sorted(writing.tips))
    for start in range(0, len(made), 100):
        await book.append(made[start : start + 100])
    start_at = perf_counter()
    found = await verify(book)
    took = perf_counter() - start_at
    assert not found.faults
    start_at, seq = perf_counter(), 0
    while read := await books.peers.since(founded.team, seq, limit=256):
        seq = read[-1].seq
    bare = perf_counter() - start_at
    await books.close()
    return (
        f"verify of {ENTRIES} revisions",
        f"{took:.2f} s",
        f"reading them alone: {bare:.2f} s",
        f"{took / bare:.2f} x; reach 10 s",
    )


def rows() -> list[Row]:
    """Every figure as (what, ours, what beside, verdict)."""
    with tempfile.TemporaryDirectory(prefix="studbook-bench-") as folder:
        cluster = Cluster(Path(folder) / "data", find_binaries())
        cluster.start()
        try:
            walk = asyncio.run(walked(cluster))
        finally:
            cluster.stop()
    return [walk, asyncio.run(flipped()), simulated(), killed()]


def main() -> None:
    """Print the report."""
    for row in rows():
        print("  ".join(row))


if __name__ == "__main__":
    main()
