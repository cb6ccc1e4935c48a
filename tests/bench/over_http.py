"""How fast the service answers over HTTP: a plain script, never a timed test.

`python tests/bench/over_http.py`. One worker on the loopback address, 16 connections, a real document; each figure
stands beside the bare limit measured in the same run: the driver's pooled SELECT of the same bytes, or the same rows
in a bare transaction. Load generator, service and PostgreSQL share the machine's cores.
"""

import asyncio
import json
import os
import selectors
import socket
import statistics
import sys
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager, suppress
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from time import perf_counter
from typing import Any, cast

import asyncpg

from studbook.history.canonical import encode
from studbook.history.ids import tips_tag
from studbook_service.embedded import OWNER, Cluster, find_binaries
from studbook_service.store import Founded, NewEntry, found_team, make_database, migrate, open_book

Row = tuple[str, str, str, str]
CONNECTIONS = 16
READS, FIRST_READS, PUSHES, LATENCIES = 10_000, 6_000, 1_600, 400
TIMES = 3  # the best of these counts, on both sides
PUSHERS, ROUNDS = 64, 200
DOCUMENT = json.loads((Path(__file__).parents[1] / "http" / "document.json").read_bytes())
BODY = encode(DOCUMENT)
STUD = "setup.front.rf.upper_stud.length_in"
BARE_TABLES = """
CREATE SCHEMA bare;
CREATE TABLE bare.book (LIKE studbook.book INCLUDING ALL);
CREATE TABLE bare.entry (LIKE studbook.entry INCLUDING ALL);
CREATE TABLE bare.tip (LIKE studbook.tip INCLUDING ALL);
"""


class Connection(asyncio.Protocol):
    """A keep-alive connection that sends a request and gives back the whole response."""

    transport: asyncio.Transport
    waiting: asyncio.Future[bytes]

    def __init__(self) -> None:
        self.got = b""
        self.length = 0

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Keep the transport."""
        self.waiting = asyncio.get_running_loop().create_future()
        self.waiting.set_result(b"")
        self.transport = transport  # type: ignore[assignment] # TCP gives this kind

    def data_received(self, data: bytes) -> None:
        """Collect until the announced length is there."""
        self.got += data
        self.length = self.length or announced(self.got)
        if self.length and len(self.got) >= self.length:
            got, self.got, self.length = self.got, b"", 0
            self.waiting.set_result(got)

    def connection_lost(self, exc: Exception | None) -> None:
        """End the wait for an answer that will not come."""
        if not self.waiting.done():
            self.waiting.set_exception(exc or ConnectionResetError("the service closed the connection"))

    async def ask(self, request: bytes) -> bytes:
        """Exchange one request."""
        self.waiting = asyncio.get_running_loop().create_future()
        self.transport.write(request)
        return await self.waiting


class Service:
    """A running service."""

    def __init__(self, port: int, token: str) -> None:
        self.port = port
        self.token = token

    @asynccontextmanager
    async def connections(self, count: int) -> AsyncIterator[list[Connection]]:
        """Connect so many times; an idle connection is closed by the service after a while."""
        made = [await connected(self.port) for _ in range(count)]
        yield made
        for connection in made:
            connection.transport.close()

    def request(self, path: str, *headers: str, body: bytes | None = None) -> bytes:
        """Spell a request."""
        lines = [f"{'GET' if body is None else 'POST'} {path} HTTP/1.1", "Host: studbook"]
        lines += [f"Authorization: Bearer {self.token}", *headers]
        if body is not None:
            lines += ["Content-Type: application/json", f"Content-Length: {len(body)}"]
        return "\r\n".join([*lines, "", ""]).encode() + (body or b"")

    def rate(self, requests: list[bytes], status: bytes = b"200") -> float:
        """Requests a second over as many connections of their own; each must have the status.

        Bare sockets under one selector: the load must cost less than what it measures.
        """
        todo, selector = iter(requests), selectors.DefaultSelector()
        for _ in range(CONNECTIONS):
            connection = socket.create_connection(("127.0.0.1", self.port))
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            selector.register(connection, selectors.EVENT_READ, [b"", 0])
            connection.sendall(next(todo))
        left, start = len(requests), perf_counter()
        while left:
            for key, _ in selector.select():
                ready, held = key.fileobj, key.data
                assert isinstance(ready, socket.socket)
                held[0] += ready.recv(65536)
                held[1] = held[1] or announced(held[0])
                if not held[1] or len(held[0]) < held[1]:
                    continue
                if held[0][9:12] != status:
                    raise AssertionError(held[0].decode())
                held[:], left = (b"", 0), left - 1
                if (request := next(todo, None)) is not None:
                    ready.sendall(request)
        took = perf_counter() - start
        for key in list(selector.get_map().values()):
            cast("socket.socket", key.fileobj).close()
        return len(requests) / took


def announced(response: bytes) -> int:
    """Length of a whole response, or 0 while its head is not all there."""
    head, end, _ = response.partition(b"\r\n\r\n")
    if not end:
        return 0
    length = head.lower().partition(b"content-length: ")[2].partition(b"\r\n")[0]
    return len(head) + 4 + int(length or b"0")


async def seconds(work: Callable[[], Awaitable[object]]) -> float:
    """Wall time of one run, s."""
    start = perf_counter()
    await work()
    return perf_counter() - start


@asynccontextmanager
async def served(dsn: str, token: str) -> AsyncIterator[Service]:
    """Run one worker of granian and connect to it."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "granian", "--interface", "asgi", "--factory", "--workers", "1", "--no-ws"),
        *("--host", "127.0.0.1", "--port", str(port), "studbook_service.app:create_app"),
        env=os.environ | {"STUDBOOK_DATABASE": dsn, "STUDBOOK_RATE": "999999"},  # counted, and never too often
        stdout=asyncio.subprocess.DEVNULL,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        (await connected(port)).transport.close()
        yield Service(port, token)
    finally:
        process.terminate()
        await process.wait()


async def connected(port: int) -> Connection:
    """Connect, waiting up to 20 s for the service to listen."""
    for _ in range(200):
        with suppress(ConnectionRefusedError):
            return (await asyncio.get_running_loop().create_connection(Connection, "127.0.0.1", port))[1]
        await asyncio.sleep(0.1)
    raise AssertionError("the service did not start")


def entries(line: str, count: int) -> Iterator[NewEntry]:
    """A line of equal documents."""
    new = NewEntry(
        id=b"", kind="sheet", line=line, parents=(), content=b"", note="", body=BODY, author="chief", at_ms=0
    )
    for number in range(count):
        id_ = sha256(f"{line} {number}".encode()).digest()
        new = replace(new, id=id_, content=id_, parents=(new.id,) if number else ())
        yield new


async def selecting(pool: asyncpg.Pool, ids: list[bytes]) -> float:
    """The bare driver: a pooled SELECT of the same bytes by key, rows a second."""
    todo = iter(ids)

    async def one() -> None:
        for id_ in todo:
            if len(await pool.fetchval("SELECT body FROM bare.entry WHERE team_id = $1 AND id = $2", TEAM, id_)) < 100:
                raise AssertionError("another row")

    return len(ids) / await seconds(lambda: asyncio.gather(*(one() for _ in range(CONNECTIONS))))


TEAM = "00000000-0000-0000-0000-000000000001"


async def reading(service: Service, pool: asyncpg.Pool, ids: list[bytes]) -> list[Row]:
    """Documents: kept in memory, and read for the first time."""
    await pool.execute(
        """INSERT INTO bare.entry
               (team_id, seq, id, kind, line, parents, generation, content, body, author, at_ms, chain)
           SELECT $1, seq, id, kind, line, parents, generation, content, body, author, at_ms, chain
             FROM studbook.entry WHERE line = 'car/7/sheet/many'""",
        TEAM,
    )
    await pool.execute("ANALYZE bare.entry")
    parts = [ids[start::TIMES] for start in range(TIMES)]
    requests = [[service.request(f"/v1/revisions/{id_.hex()}/document") for id_ in part] for part in parts]
    first = max(service.rate(part) for part in requests)
    kept = max(service.rate([requests[0][0]] * READS) for _ in range(TIMES))
    limit = max([await selecting(pool, part) for part in parts])
    limit_one = max([await selecting(pool, [ids[0]] * READS) for _ in range(TIMES)])
    size = f"{len(BODY) / 1000:.1f} kB"
    return [
        (f"read a {size} document kept in memory", *against(kept, limit_one), f"{kept / limit_one:.2f} (reach 1.0)"),
        (f"read a {size} document for the first time", *against(first, limit), f"{first / limit:.2f} (reach 0.3)"),
    ]


def against(rate: float, limit: float) -> tuple[str, str]:
    """Spell a rate and the bare driver's."""
    return f"{rate:,.0f}/s", f"pooled SELECT {limit:,.0f}/s"


async def revalidating(service: Service, ids: list[bytes]) -> list[Row]:
    """Not-modified, alone and while answers are computed."""
    path = f"/v1/revisions/{ids[0].hex()}/document"
    request = service.request(path, f'If-None-Match: "{ids[0].hex()}"')
    busy = True

    async def compute(connection: Connection, number: int) -> None:
        while busy:
            number += 1
            edits = [{"path": STUD, "value": 1.2 + number % 1000 / 1000}]
            body = json.dumps({"revision": ids[0].hex(), "edits": edits}).encode()
            await connection.ask(service.request("/v1/what-if", body=body))

    async def latency(reader: Connection) -> str:
        times = []
        for _ in range(LATENCIES):
            start = perf_counter()
            got = await reader.ask(request)
            times.append((perf_counter() - start) * 1e3)
            if got[9:12] != b"304":
                raise AssertionError(got.decode())
            await asyncio.sleep(0.002)
        return f"median {statistics.median(times):.2f} ms, 95 % {statistics.quantiles(times, n=20)[-1]:.2f} ms"

    async with service.connections(3) as (reader, *others):
        alone = await latency(reader)
        tasks = [asyncio.create_task(compute(connection, 500 * n)) for n, connection in enumerate(others)]
        await asyncio.sleep(0.5)
        beside = await latency(reader)
        busy = False
        await asyncio.gather(*tasks)
    return [
        ("not modified", alone, "reach 1 ms", ""),
        ("not modified, while answers are computed", beside, "reach 1 ms", ""),
    ]


async def pushing(service: Service, pool: asyncpg.Pool) -> Row:
    """16 pushers, each on a sheet of its own, against the same rows in bare transactions."""
    each = PUSHES // CONNECTIONS

    async def push(connection: Connection, number: int) -> None:
        path = f"/v1/cars/7/sheets/s{number}/revisions"
        seen, body = "If-None-Match: *", json.dumps({"document": DOCUMENT}).encode()
        for turn in range(each):
            got = await connection.ask(service.request(path, seen, body=body))
            if got[9:12] != b"201":
                raise AssertionError(got.decode())
            tag = body_of(got)["tag"]
            seen = f'If-Match: "{tag}"'
            body = json.dumps({"edits": [{"path": STUD, "value": 1.2 + turn / 1000}]}).encode()

    async def bare(number: int) -> None:
        parents: list[bytes] = []
        line = f"s{number}"
        for turn in range(each):
            id_ = sha256(f"bare {number} {turn}".encode()).digest()
            async with pool.acquire() as connection, connection.transaction():
                seq, chain = await connection.fetchrow(
                    "UPDATE bare.book SET seq = seq + 1, chain = sha256(chain || $2) WHERE team_id = $1 "
                    "RETURNING seq, chain",
                    TEAM,
                    id_,
                )
                await connection.execute(
                    """INSERT INTO bare.entry (team_id, seq, id, kind, line, parents, generation, content, body,
                                               author, at_ms, chain)
                       VALUES ($1, $2, $3, 'sheet', $4, $5, $6, $3, $7, 'chief', 0, $8)""",
                    *(TEAM, seq + 1_000_000, id_, line, parents, turn, BODY, chain),
                )
                await connection.execute("DELETE FROM bare.tip WHERE team_id = $1 AND line = $2", TEAM, line)
                await connection.execute("INSERT INTO bare.tip VALUES ($1, $2, $3, 'sheet')", TEAM, line, id_)
            parents = [id_]

    await pool.execute("INSERT INTO bare.book (team_id, book) VALUES ($1, '\\x0102030405060708')", TEAM)
    async with service.connections(CONNECTIONS) as connections:
        await connections[0].ask(service.request("/v1/cars", body=json.dumps({"car": "7"}).encode()))
        pushers = [push(connection, n) for n, connection in enumerate(connections)]
        rate = PUSHES / await seconds(lambda: asyncio.gather(*pushers))
    limit = PUSHES / await seconds(lambda: asyncio.gather(*(bare(n) for n in range(CONNECTIONS))))
    return ("push a revision", f"{rate:,.0f}/s", f"bare transaction {limit:,.0f}/s", f"{rate / limit:.2f} (reach 0.4)")


async def racing(service: Service) -> Row:
    """Many on one tip of one sheet: exactly one wins each round, nothing is lost."""
    path, edit = "/v1/cars/7/sheets/race/revisions", {"path": STUD, "value": 0}
    async with service.connections(PUSHERS) as connections:
        new = json.dumps({"document": DOCUMENT}).encode()
        tag = body_of(await connections[0].ask(service.request(path, "If-None-Match: *", body=new)))["tag"]
        start = perf_counter()
        for turn in range(ROUNDS):
            values = [0.7 + turn / 100 + n / 1e4 for n in range(PUSHERS)]
            bodies = [json.dumps({"edits": [edit | {"value": value}]}).encode() for value in values]
            requests = [service.request(path, f'If-Match: "{tag}"', body=body) for body in bodies]
            pairs = zip(connections, requests, strict=True)
            replies = await asyncio.gather(*(connection.ask(request) for connection, request in pairs))
            won = [reply for reply in replies if reply[9:12] == b"201"]
            if len(won) != 1 or any(reply[9:12] != b"412" for reply in replies if reply not in won):
                raise AssertionError(f"{len(won)} winners in round {turn}")
            tag = body_of(won[0])["tag"]
        tries = PUSHERS * ROUNDS / (perf_counter() - start)
        last = await connections[0].ask(service.request("/v1/cars/7/sheets/race/history?limit=1"))
        if body_of(last)["items"][0]["generation"] != ROUNDS:
            raise AssertionError("a revision was lost")
    return (f"{PUSHERS} pushers on one tip, {ROUNDS} rounds", f"{tries:,.0f} tries/s", "one winner each", "held")


def body_of(response: bytes) -> Any:
    """Read a response's JSON."""
    return json.loads(response[response.index(b"\r\n\r\n") :])


async def measured(cluster: Cluster) -> list[Row]:
    """Everything, on a running cluster."""
    await make_database(cluster.dsn(OWNER, "postgres"), "studbook")
    owner_dsn, serving_dsn = cluster.dsn(OWNER, "studbook"), cluster.dsn("studbook_serve", "studbook")
    await migrate(owner_dsn)
    team = await found_team(owner_dsn, team_name="Bench", chief_name="Chris")
    ids = await filled(serving_dsn, team)

    async def keep(_: asyncpg.Connection) -> None:
        """No reset query, as in the service."""

    async with served(serving_dsn, team.token) as service, asyncpg.create_pool(owner_dsn, reset=keep) as pool:
        await pool.execute(BARE_TABLES)
        return [
            *await reading(service, pool, ids),
            *await revalidating(service, ids),
            await pushing(service, pool),
            await racing(service),
        ]


async def filled(dsn: str, team: Founded) -> list[bytes]:
    """Bring revisions into the book, as another node would."""
    book = await open_book(dsn)
    made = list(entries("car/7/sheet/many", FIRST_READS))
    for start in range(0, len(made), 1000):
        await book.append(team.team, made[start : start + 1000])
    tips = await book.tips(team.team, "car/7/sheet/many")
    if tips_tag([tips[0].id.hex()]) != tips_tag([made[-1].id.hex()]):
        raise AssertionError("the book was not filled")
    await book.close()
    return [new.id for new in made]


def rows() -> list[Row]:
    """Each figure with its bare limit."""
    with tempfile.TemporaryDirectory(prefix="studbook-bench-") as folder:
        cluster = Cluster(Path(folder) / "data", find_binaries())
        cluster.start()
        try:
            return asyncio.run(measured(cluster))
        finally:
            cluster.stop()


if __name__ == "__main__":
    for what, ours, limit, ratio in rows():
        print(f"{what:45} {ours:34} {limit:30} {ratio}")
