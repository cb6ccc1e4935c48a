"""100,000 requests of fifty teams at once through three connections: `python tests/bench/isolation.py`.

Every operation is requested, and every answer searched for what is another team's; the tests make fewer requests, of
fewer teams. Rows give counts, not times.
"""

import asyncio
import sys
import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parents[1])]

from security.crowd import OF_TEAMS, gathered, interleave, left_behind, owners, to_ask  # noqa: E402 - found on the path set above
from security.teams import running, small_pool  # noqa: E402 - as above
from studbook_service.app import create_app  # noqa: E402 - as above
from studbook_service.embedded import OWNER, Cluster, find_binaries  # noqa: E402 - as above
from studbook_service.store import make_database, migrate  # noqa: E402 - as above

Row = tuple[str, str, str, str]
TEAMS, REQUESTS, CONNECTIONS = 50, 100_000, 3
DATABASE, ROLE = "studbook", "studbook_serve"


@asynccontextmanager
async def served(peers: Path | None = None) -> AsyncIterator[tuple[Any, str, str]]:
    """Run the application over a PostgreSQL of its own; gives it with the owner's and the serving address."""
    with tempfile.TemporaryDirectory(prefix="studbook-bench-") as folder:
        cluster = Cluster(Path(folder) / "data", find_binaries(), durable=False)
        cluster.start()
        try:
            owner, serving = cluster.dsn(OWNER, DATABASE), cluster.dsn(ROLE, DATABASE)
            await make_database(cluster.dsn(OWNER, "postgres"), DATABASE)
            await migrate(owner, serving_role=ROLE)
            async with running(create_app(dsn=serving, peers=peers, rate=0)) as app:
                yield app, owner, serving
        finally:
            cluster.stop()


async def measured() -> list[Row]:
    """Ask, and count."""
    with tempfile.TemporaryDirectory() as folder:
        peers = Path(folder)
        async with served(peers) as (app, owner, serving), gathered(app, owner, TEAMS, peers) as askers:
            async with small_pool(app, serving, CONNECTIONS, peers) as context:
                tally = await interleave(askers, to_ask(app), REQUESTS)
                left = await left_behind(context, CONNECTIONS)
            owned = await owners(owner, askers)
    mixed = [name for name, seen in tally.seen.items() if {owned[each] for each in seen if each in owned} != {name}]
    bad = len(tally.foreign) + len(mixed) + len(left)
    reached = f"{len(tally.operations)} of {len(OF_TEAMS)}"
    statuses = ", ".join(f"{status}: {count:,}" for status, count in sorted(tally.statuses.items()))
    return [
        (f"requests of {TEAMS} teams at once, {CONNECTIONS} connections", f"{tally.statuses.total():,}", statuses, ""),
        (
            "operations that succeeded",
            reached,
            f"{len(OF_TEAMS)}",
            "missed" if tally.operations.keys() < OF_TEAMS else "held",
        ),
        (
            "answers of another status than written down",
            f"{len(tally.wrong)}",
            "0",
            "missed" if tally.wrong else "held",
        ),
        (
            "ids of entries, members, tokens and shares in them",
            f"{sum(map(len, tally.seen.values())):,} different",
            "",
            "",
        ),
        ("answers with something of another team", f"{bad}", "0", "missed" if bad else "held"),
    ]


def rows() -> list[Row]:
    """What was requested, and what was another's."""
    return asyncio.run(measured())


if __name__ == "__main__":
    for what, ours, limit, ratio in rows():
        print(f"{what:52} {ours:20} {limit:50} {ratio}")
