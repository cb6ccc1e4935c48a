"""The season's report: `python tests/bench/season.py`. Six cars, 60 nights, 8 outings each, 4,000 revisions.

One worker on the loopback address over the embedded PostgreSQL. Each report is of a book that just changed, so nothing
of it is cached. The yardstick is the bare driver reading the same entries. Nothing is timed in tests.
"""

import asyncio
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

import asyncpg

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from export.conftest import Process, serving  # noqa: E402 - found on the path set above
from export.season import Season, document, frames  # noqa: E402 - as above
from studbook import Studbook  # noqa: E402 - as above
from studbook_service.embedded import OWNER, Cluster, find_binaries  # noqa: E402 - as above
from studbook_service.store import found_team, make_database, migrate, open_book  # noqa: E402 - as above

Row = tuple[str, str, str, str]
REPEATS = 5


def rows() -> list[Row]:
    """Measure."""
    with tempfile.TemporaryDirectory(prefix="studbook-season-") as folder:
        return asyncio.run(_measured(Path(folder)))


async def _measured(folder: Path) -> list[Row]:
    cluster = Cluster(folder / "data", find_binaries())
    await asyncio.to_thread(cluster.start)
    try:
        owner, serves = cluster.dsn(OWNER, "studbook"), cluster.dsn("studbook_serve", "studbook")
        await make_database(cluster.dsn(OWNER, "postgres"), "studbook")
        await migrate(owner, serving_role="studbook_serve")
        team = await found_team(owner, team_name="Crew", chief_name="Chris", chief_id="chief")
        season = Season(document(), cars=6, nights=60, runs=8, revisions=4000).made()
        book = await open_book(serves, size=2)
        for frame in frames(season.entries):
            await book.append(team.team, frame)
        await book.close()
        bare = await _bare(owner)
        async with serving(serves) as service:
            return await asyncio.to_thread(_reported, service, team.token, len(season.entries), bare)
    finally:
        await asyncio.to_thread(cluster.stop)


async def _bare(dsn: str) -> float:
    connection = await asyncpg.connect(dsn)
    try:
        took = []
        for _ in range(REPEATS):
            begun = perf_counter()
            await connection.fetch("SELECT line, id, body FROM studbook.entry")
            took.append(perf_counter() - begun)
        return median(took)
    finally:
        await connection.close()


def _reported(service: Process, token: str, entries: int, bare: float) -> list[Row]:
    with Studbook(service.url, token, timeout_s=120) as book:
        found = []
        for number in range(REPEATS):
            book.new_part(f"new-{number}", {"kind": "stud"})
            begun = perf_counter()
            report = book.season()
            found.append(perf_counter() - begun)
        begun = perf_counter()
        book.season()
        again = perf_counter() - begun
        begun = perf_counter()
        book.season(car="7")
        one = perf_counter() - begun
    outings = sum(len(night.outings) for car in report.cars for night in car.nights)
    took = median(found)
    what = f"report of a season ({entries:,} entries, {outings:,} outings), read by the client"
    return [
        (what, f"{took:.2f} s", f"bare reads {bare:.2f} s", f"{took / bare:.1f} (reach 2 s)"),
        ("the slowest of these", f"{max(found):.2f} s", "", ""),
        ("one car of it", f"{one:.2f} s", "", ""),
        ("the same again, cached", f"{again * 1e3:.0f} ms", "", "most of it reading in the client"),
    ]


if __name__ == "__main__":
    for row in rows():
        print(" | ".join(row))
