"""A season as tables: `python tests/bench/exporting.py`. Six cars, 60 nights, 8 outings each, 4,000 revisions.

One worker on the loopback address over the embedded PostgreSQL; the client writes Parquet from what is streamed. The
yardstick is DuckDB rewriting the same Parquet files, which is reading and writing alone.

The effects of every change are known before the export. Computing them all takes half an hour, so those of the
season's last changes are computed for half a minute and then kept for all others too: rows of their form and size.
"""

import asyncio
import datetime as dt
import os
import resource
import statistics
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter, sleep, time_ns
from uuid import UUID

import asyncpg
import duckdb
import httpx2

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from export.conftest import Process, serving  # noqa: E402 - found on the path set above
from export.season import Season, frames  # noqa: E402 - as above
from studbook import Studbook  # noqa: E402 - as above
from studbook.formats.as_arrow import ParquetFile  # noqa: E402 - as above
from studbook.wire.export import Tables  # noqa: E402 - as above
from studbook_service.demo.scenario import base  # noqa: E402 - as above
from studbook_service.embedded import OWNER, Cluster, find_binaries  # noqa: E402 - as above
from studbook_service.store import BookStore, found_team, make_database, migrate, open_book  # noqa: E402 - as above

Row = tuple[str, str, str, str]
REVISIONS = 4000
COMPUTING_S, FILLING_S, LATENCIES = 30.0, 60.0, 200

COPIED = """
WITH missing AS (
    SELECT e.team_id, e.id, row_number() OVER (ORDER BY e.seq) - 1 AS place
      FROM studbook.entry e LEFT JOIN studbook.effect f USING (team_id, id)
     WHERE e.kind = 'sheet' AND cardinality(e.parents) > 0 AND f.id IS NULL
), computed AS (
    SELECT f.engine, f.answer, row_number() OVER (ORDER BY e.seq) - 1 AS place, count(*) OVER () AS many
      FROM studbook.entry e JOIN studbook.effect f USING (team_id, id)
     WHERE e.line LIKE '%/race'
)
INSERT INTO studbook.effect (team_id, id, engine, answer)
SELECT m.team_id, m.id, c.engine, c.answer FROM missing m JOIN computed c ON c.place = m.place % c.many
"""
"""Keeps what was computed of the season's changes for all others too, in turn."""


@dataclass
class Exported:
    """What one export of every table took.

    Attributes:
        first_s: until the first row of each table.
        took_s: of each table, until its file was written.
        many: rows of each table.
    """

    first_s: dict[str, float] = field(default_factory=dict)
    took_s: dict[str, float] = field(default_factory=dict)
    many: dict[str, int] = field(default_factory=dict)


def rows() -> list[Row]:
    """Each figure with its bare limit."""
    with tempfile.TemporaryDirectory(prefix="studbook-export-") as folder:
        return asyncio.run(_measured(Path(folder)))


async def _measured(folder: Path) -> list[Row]:
    with _running(folder / "data") as cluster:
        owner, serves = cluster.dsn(OWNER, "studbook"), cluster.dsn("studbook_serve", "studbook")
        await make_database(cluster.dsn(OWNER, "postgres"), "studbook")
        await migrate(owner, serving_role="studbook_serve")
        team = await found_team(owner, team_name="Crew", chief_name="Chris", chief_id="chief")
        document = base("7", today=dt.date(2026, 3, 1))
        season = Season(document, cars=6, nights=60, runs=8, revisions=REVISIONS).made()
        book = await open_book(serves, size=2)
        for frame in frames(season.entries):
            await book.append(team.team, frame)
        quarter = await _cursor(book, team.team, len(season.entries) // 4)
        late = await _cursor(book, team.team, len(season.entries) * 19 // 20)
        await book.close()
        async with serving(serves) as service:
            await asyncio.to_thread(_computed, service, team.token, late)
            alone = await asyncio.to_thread(_latency, service, team.token)
        async with serving(serves, background=True) as service:
            found = await asyncio.to_thread(_filled, service, team.token, alone)
        copies = await _copied(owner)
        async with serving(serves) as service:
            return [*await asyncio.to_thread(_exported, service, team.token, folder, quarter), copies, *found]


@contextmanager
def _running(folder: Path) -> Iterator[Cluster]:
    cluster = Cluster(folder, find_binaries())
    cluster.start()
    try:
        yield cluster
    finally:
        cluster.stop()


async def _cursor(book: BookStore, team: UUID, seq: int) -> str:
    chain = await book.peers.chain_at(team, seq)
    if chain is None:
        raise AssertionError("the book was not filled")
    return f"{seq}-{chain.hex()[:16]}"


def _computed(service: Process, token: str, late: str) -> None:
    """Let the effects of the season's last changes be computed."""
    with Studbook(service.url, token, timeout_s=120) as book:
        for _ in book.export("effects", after=late, within_s=COMPUTING_S):
            pass


async def _copied(owner: str) -> Row:
    """Keep effects for every change of which nothing is known."""
    connection = await asyncpg.connect(owner)
    try:
        computed = await connection.fetchval("SELECT count(*) FROM studbook.effect")
        copied = (await connection.execute(COPIED)).rpartition(" ")[2]
        await connection.execute("ANALYZE")
    finally:
        await connection.close()
    return (f"of the effects exported: computed for {computed} changes", f"copies of these for {copied}", "", "")


def _exported(service: Process, token: str, folder: Path, quarter: str) -> list[Row]:
    with Studbook(service.url, token, timeout_s=120) as book:
        tables, worker = book.tables(), _worker(service.pid)
        _export(book, tables, folder / "quarter", quarter)
        peaks, spent = [_peak_mb(worker), _peak_mb("self")], [_cpu_s(worker), _own_cpu_s()]
        done = _export(book, tables, folder / "season", tables.cursor)
        spent = [_cpu_s(worker) - spent[0], _own_cpu_s() - spent[1]]
        grown = [_peak_mb(worker) - peaks[0], _peak_mb("self") - peaks[1]]
    took, files = sum(done.took_s.values()), sorted((folder / "season").iterdir())
    if duckdb.read_parquet(str(folder / "season" / "effects.parquet")).filter("pending").fetchall():
        raise AssertionError("effects of some changes are not known")
    limit = f"DuckDB rewrites it in {_rewritten(files, folder):.1f} s"
    size = sum(file.stat().st_size for file in files) / 1e6
    counts = f"{tables.cursor.partition('-')[0]} entries, {sum(done.many.values()):,} rows, {size:.1f} MB"
    slowest = sorted(done.took_s, key=done.took_s.__getitem__, reverse=True)[:5]
    first = max(done.first_s, key=done.first_s.__getitem__)
    return [
        (f"all, effects known, to Parquet: {counts}", f"{took:.1f} s", limit, "reach 10 s"),
        ("processor time for it", f"service {spent[0]:.1f} s, client {spent[1]:.1f} s", "", ""),
        *((f"of which {name}, {done.many[name]:,} rows", f"{done.took_s[name]:.2f} s", "", "") for name in slowest),
        (f"first row of a table, the slowest: {first}", f"{done.first_s[first] * 1e3:.0f} ms", "", "reach 100 ms"),
        _flat("the service", peaks[0], grown[0]),
        _flat("the client", peaks[1], grown[1]),
    ]


def _export(book: Studbook, tables: Tables, folder: Path, until: str) -> Exported:
    """Write every table."""
    done = Exported()
    folder.mkdir()
    for table in tables.items:
        begun = perf_counter()
        coming = book.export(table, until=until)
        with ParquetFile(folder / f"{table.name}.parquet", table) as file:
            first = next(coming, None)
            done.first_s[table.name] = perf_counter() - begun
            done.many[table.name] = file.write([] if first is None else [first]) + file.write(coming)
        done.took_s[table.name] = perf_counter() - begun
    return done


def _flat(whose: str, before: float, grown: float) -> Row:
    what = f"peak memory of {whose}, from a quarter of the season to all of it"
    return (what, f"{before:.0f} MB and {grown:.0f} more", "", "flat")


def _rewritten(files: list[Path], folder: Path) -> float:
    begun = perf_counter()
    for file in files:
        duckdb.sql(f"COPY (FROM '{file}') TO '{folder / file.name}' (FORMAT parquet, COMPRESSION zstd)")
    return perf_counter() - begun


def _filled(service: Process, token: str, alone: list[str]) -> list[Row]:
    """How fast the background worker fills the table of effects, and what others wait for meanwhile."""
    with Studbook(service.url, token, timeout_s=120) as book:
        begun, (every, before) = perf_counter(), _known(book)
        beside = _latency(service, token)
        sleep(max(0.0, FILLING_S - (perf_counter() - begun)))
        took, (_, known) = perf_counter() - begun, _known(book)
    many = max(1, known - before)
    return [
        (
            f"effects of {every:,} changes: computed by the background worker, nobody asking",
            f"{many:,} in {took:.0f} s",
            f"{took / many * 1e3:.0f} ms each, {took / many * every / 60:.0f} min for all",
            "",
        ),
        *(
            (f"{what} while it computes", now, f"without: {then}", "")
            for what, now, then in zip(("read a document", "push a revision"), beside, alone, strict=True)
        ),
    ]


def _known(book: Studbook) -> tuple[int, int]:
    """Count the changes, and those whose effects are known."""
    pending = {row["entry"]: bool(row.get("pending")) for row in book.export("effects", within_s=0)}
    return len(pending), sum(not each for each in pending.values())


def _latency(service: Process, token: str) -> list[str]:
    """How long it takes to read a document and to push a revision, one after the other."""
    headers = {"authorization": f"Bearer {token}"}
    with httpx2.Client(base_url=service.url, headers=headers, timeout=60) as client:
        id_ = client.get("/v1/cars/7/sheets/race/history?limit=1").json()["items"][0]["id"]
        reads = [_took(lambda: client.get(f"/v1/revisions/{id_}/document")) for _ in range(LATENCIES)]
        document, pushes, seen = client.get(f"/v1/revisions/{id_}/document").json(), [], {"if-none-match": "*"}
        path = f"/v1/cars/7/sheets/at-{time_ns()}/revisions"
        for number in range(LATENCIES // 4):
            body = {"document": document | {"notes": f"round {number}"}}
            begun = perf_counter()
            pushed = client.post(path, json=body, headers=seen)
            pushes.append(perf_counter() - begun)
            seen = {"if-match": f'"{pushed.raise_for_status().json()["tag"]}"'}
    return [
        f"median {statistics.median(times) * 1e3:.1f} ms, 95 % {statistics.quantiles(times, n=20)[-1] * 1e3:.1f} ms"
        for times in (reads, pushes)
    ]


def _took(work: Callable[[], httpx2.Response]) -> float:
    begun = perf_counter()
    work().raise_for_status()
    return perf_counter() - begun


def _worker(pid: int) -> int:
    """Find the process that serves: the largest of the server's own and its children."""
    children = [int(path.name) for path in Path("/proc").glob("[0-9]*") if _parent(path) == pid]
    return max([pid, *children], key=_peak_mb)


def _parent(path: Path) -> int:
    try:
        return int((path / "stat").read_text().rpartition(")")[2].split()[1])
    except OSError:  # it has ended
        return 0


def _peak_mb(pid: int | str) -> float:
    return int(Path(f"/proc/{pid}/status").read_text().partition("VmHWM:")[2].split()[0]) / 1e3


def _cpu_s(pid: int) -> float:
    user, system = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[11:13]
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


def _own_cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    for what, ours, limit, ratio in rows():
        print(f"{what:75} {ours:30} {limit:30} {ratio}")
