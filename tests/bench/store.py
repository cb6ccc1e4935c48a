"""How fast the store is: a plain script, never a timed test.

`python tests/bench/store.py`. It makes clusters of its own, on the disk and waiting for it, and prints each figure
beside the bare limit measured in the same run: the driver with the same rows, or PostgreSQL alone.
"""

import asyncio
import os
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Awaitable, Callable
from hashlib import sha256
from pathlib import Path
from time import perf_counter

import asyncpg

from studbook_service.embedded import OWNER, Cluster, find_binaries
from studbook_service.store import (
    BookStore,
    Founded,
    NewEntry,
    PushOutcome,
    StaleTips,
    found_team,
    make_database,
    migrate,
    open_book,
    secret_hash,
)

Row = tuple[str, str, str, str]
PUSHES = 1000
BODY = (b'{"setup":{"note":"' + bytes(range(97, 122)) * 240 + b'"}}')[:6000]
PUSHERS, ROUNDS = 64, 200
PAGE, PAGES = 50, 1000
READS, TURNS = 3000, 9
FENCED = ("book", "member", "token", "share", "entry", "tip")
BARE_TABLES = """
CREATE SCHEMA bare;
CREATE TABLE bare.book (LIKE studbook.book INCLUDING ALL);
CREATE TABLE bare.entry (LIKE studbook.entry INCLUDING ALL);
CREATE TABLE bare.tip (LIKE studbook.tip INCLUDING ALL);
"""
BARE_PUSH = (
    "UPDATE bare.book SET seq = seq + 1, chain = sha256(chain || $2) WHERE team_id = $1 RETURNING seq, chain",
    """INSERT INTO bare.entry
       (team_id, seq, id, kind, line, parents, generation, content, note, body, author, at_ms, chain)
       VALUES ($1, $2, $3, 'sheet', 'line', $4, $5, $3, NULL, $6, 'chief', 0, $7)""",
    "DELETE FROM bare.tip WHERE team_id = $1 AND line = 'line' AND id = $2",
    "INSERT INTO bare.tip (team_id, line, id, kind) VALUES ($1, 'line', $2, 'sheet')",
)


def entry(name: str, *parents: bytes, line: str = "line", body: bytes = BODY) -> NewEntry:
    """An entry named by a hash."""
    id_ = sha256(name.encode()).digest()
    return NewEntry(
        id=id_, kind="sheet", line=line, parents=parents, content=id_, note=None, body=body, author="chief", at_ms=0
    )


async def seconds(work: Callable[[], Awaitable[object]]) -> float:
    """Wall time of one run, s."""
    start = perf_counter()
    await work()
    return perf_counter() - start


async def pushing(book: BookStore, team: Founded, owner: asyncpg.Connection) -> Row:
    """One pusher, 6 kB documents, against the same rows in a bare transaction."""

    async def ours() -> None:
        tips: tuple[bytes, ...] = ()
        for number in range(PUSHES):
            new = entry(f"push {number}", *tips)
            await book.push(team.team, new, expected=tips)
            tips = (new.id,)

    await owner.execute(BARE_TABLES)
    await owner.execute("INSERT INTO bare.book (team_id, book) VALUES ($1, '\\x0102030405060708')", team.team)
    take, insert, leave, reach = [await owner.prepare(statement) for statement in BARE_PUSH]

    async def bare() -> None:
        parents: list[bytes] = []
        for number in range(PUSHES):
            id_ = sha256(f"bare {number}".encode()).digest()
            async with owner.transaction():
                seq, chain = await take.fetchrow(team.team, id_)
                await insert.fetch(team.team, seq, id_, parents, number, BODY, chain)
                for parent in parents:
                    await leave.fetch(team.team, parent)
                await reach.fetch(team.team, id_)
            parents = [id_]

    rate, limit = PUSHES / await seconds(ours), PUSHES / await seconds(bare)
    return ("push a 6 kB revision", f"{rate:,.0f}/s", f"{limit:,.0f}/s", f"{rate / limit:.2f} (reach 0.4)")


async def racing(book: BookStore, team: Founded) -> Row:
    """Many on one tip: exactly one wins each round, nothing is lost."""

    async def attempt(new: NewEntry, tips: tuple[bytes, ...]) -> PushOutcome | None:
        try:
            return await book.push(team.team, new, expected=tips)
        except StaleTips:
            return None

    async def rounds() -> None:
        tips: tuple[bytes, ...] = ()
        for number in range(ROUNDS):
            news = [entry(f"race {number}/{pusher}", *tips, line="race") for pusher in range(PUSHERS)]
            won = [one for one in await asyncio.gather(*(attempt(new, tips) for new in news)) if one]
            if len(won) != 1:
                raise AssertionError(f"{len(won)} winners in round {number}")
            tips = (won[0].id,)

    before = (await book.team_head(team.team)).seq
    took = await seconds(rounds)
    history = await book.history(team.team, "race", limit=ROUNDS + 1)
    if len(history) != ROUNDS or (await book.team_head(team.team)).seq != before + ROUNDS:
        raise AssertionError("a revision was lost")
    attempts = PUSHERS * ROUNDS / took
    return (f"{PUSHERS} pushers on one tip, {ROUNDS} rounds", f"{attempts:,.0f} tries/s", "one winner each", "held")


async def paging(book: BookStore, team: Founded) -> Row:
    """The last page of a long history against the first."""
    chain = [entry("page 0", line="pages", body=b"{}")]
    for number in range(1, PAGE * PAGES):
        chain.append(entry(f"page {number}", chain[-1].id, line="pages", body=b"{}"))
    for start in range(0, len(chain), 2000):
        await book.append(team.team, chain[start : start + 2000])
    last = (PAGE, chain[PAGE].id)  # the generation just above the oldest page

    async def page(before: tuple[int, bytes] | None) -> float:
        times = [await seconds(lambda: book.history(team.team, "pages", before=before, limit=PAGE)) for _ in range(300)]
        return sorted(times)[len(times) // 2]

    await page(None)
    first, thousandth = await page(None), await page(last)
    return (
        f"page {PAGES:,} of history",
        f"{thousandth * 1e3:.2f} ms",
        f"page 1: {first * 1e3:.2f} ms",
        f"{thousandth / first:.2f} (reach 1.2)",
    )


async def fenced(cluster: Cluster, book: BookStore, team: Founded, owner: asyncpg.Connection) -> list[Row]:
    """Hot reads with row-level security against the same functions without, by turns, inside the server."""
    tip = (await book.tips(team.team, "line"))[0]
    reads = {
        "document, 6 kB": f"document('{team.team}', '\\x{tip.id.hex()}')",
        "tips of a line": f"tips('{team.team}', 'line')",
        "holder of a token": f"bearer('\\x{secret_hash(team.token).hex()}')",
    }
    serving = await asyncpg.connect(cluster.dsn("studbook_serve", "studbook"))

    async def took(read: str) -> float:
        loop = f"DO $$ BEGIN FOR i IN 1..{READS} LOOP PERFORM * FROM studbook.{read}; END LOOP; END $$"
        return await seconds(lambda: serving.execute(loop)) / READS

    best: dict[tuple[str, str], float] = {}
    for _ in range(TURNS):
        for fence in ("DISABLE", "ENABLE"):
            for table in FENCED:
                await owner.execute(f"ALTER TABLE studbook.{table} {fence} ROW LEVEL SECURITY")
            for what, read in reads.items():
                best[what, fence] = min(best.get((what, fence), 1.0), await took(read))
    await serving.close()
    rows: list[Row] = []
    for what in reads:
        with_fence, without = best[what, "ENABLE"] * 1e6, best[what, "DISABLE"] * 1e6
        rows.append(
            (f"fenced: {what}", f"{with_fence:.0f} us", f"no fence: {without:.0f} us", f"{with_fence / without:.2f}")
        )
    return rows


async def stored(cluster: Cluster) -> list[Row]:
    """Everything that needs a database."""
    await make_database(cluster.dsn(OWNER, "postgres"), "studbook")
    await migrate(cluster.dsn(OWNER, "studbook"))
    team = await found_team(cluster.dsn(OWNER, "studbook"), team_name="Bench", chief_name="Chris")
    book = await open_book(cluster.dsn("studbook_serve", "studbook"), size=16)
    owner = await asyncpg.connect(cluster.dsn(OWNER, "studbook"))
    rows = [await pushing(book, team, owner), await racing(book, team), await paging(book, team)]
    rows += await fenced(cluster, book, team, owner)
    await owner.close()
    await book.close()
    return rows


def starting(folder: Path) -> list[Row]:
    """The whole service from nothing, and again, against PostgreSQL alone."""
    cluster = Cluster(folder / "alone", find_binaries())
    bare = []
    for _ in range(2):
        start = perf_counter()
        cluster.start()
        bare.append(perf_counter() - start)
        cluster.stop()
    ours = [serve_until_ready(folder / "served") for _ in range(2)]
    return [
        (what, f"{our:.2f} s", f"PostgreSQL alone: {alone:.2f} s", reach)
        for what, our, alone, reach in zip(
            ("first run to ready", "later run to ready"), ours, bare, ("reach 10 s", "reach 3 s"), strict=True
        )
    ]


def serve_until_ready(data: Path) -> float:
    """Start the service, wait for its first line, stop it; the time to that line, s."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = str(probe.getsockname()[1])
    start = perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "studbook_service", "serve", "--data", str(data), "--port", port],
        stdout=subprocess.PIPE,
        env=os.environ | {"STUDBOOK_DATABASE": ""},
    )
    if process.stdout is None or b"answers at" not in process.stdout.readline():
        raise AssertionError("the service did not start")
    took = perf_counter() - start
    process.send_signal(signal.SIGTERM)
    process.communicate()
    return took


def rows() -> list[Row]:
    """Every figure as (what, ours, bare limit, ratio)."""
    with tempfile.TemporaryDirectory(prefix="studbook-bench-") as folder:
        cluster = Cluster(Path(folder) / "data", find_binaries())
        cluster.start()
        try:
            measured = asyncio.run(stored(cluster))
        finally:
            cluster.stop()
        return measured + starting(Path(folder))


def main() -> None:
    """Print the report."""
    for what, ours, limit, ratio in rows():
        print(f"{what:<40} {ours:>16}   {limit:<28} {ratio}")


if __name__ == "__main__":
    main()
