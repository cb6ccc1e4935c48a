"""How the hot reads are carried out under row-level security: by index, with the team in the condition.

The plans are those inside the functions, from the server's own auto_explain, of the serving role's statements.
"""

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from hashlib import sha256
from typing import Any, NamedTuple
from uuid import UUID

import asyncpg
import pytest

from studbook_service.store import BookStore

LINE = "car/7/sheet/s-3"
FILL = """
SET session_replication_role = replica;  -- no triggers, for speed
INSERT INTO studbook.team (team_id, name) SELECT md5(t::text)::uuid, 'crew' FROM generate_series(1, 400) t;
INSERT INTO studbook.book (team_id, book) SELECT team_id, '\\x0102030405060708' FROM studbook.team;
INSERT INTO studbook.member (team_id, id, name, role)
SELECT team_id, 'm-' || m, 'Member', 'crew' FROM studbook.team, generate_series(1, 10) m;
INSERT INTO studbook.token (team_id, hash, member_id, role, label)
SELECT team_id, sha256((team_id::text || id)::bytea), id, 'crew', 'phone' FROM studbook.member;
INSERT INTO studbook.share (team_id, id, hash, line, label, made_by, until)
SELECT team_id, 's-' || n, sha256((team_id::text || 's-' || n)::bytea), 'car/7', 'friend', 'm-1', 'infinity'
  FROM studbook.team, generate_series(1, 10) n;
INSERT INTO studbook.protection (team_id, line) SELECT team_id, 'car/7/sheet/s-' || n
  FROM studbook.team, generate_series(1, 10) n;
INSERT INTO studbook.audit (team_id, seq, event, chain)
SELECT team_id, n, '{}', sha256('x') FROM studbook.team, generate_series(1, 10) n;
INSERT INTO studbook.entry (team_id, seq, id, kind, line, parents, generation, content, body, author, at_ms, chain)
SELECT team_id, n, sha256(n::text::bytea), 'sheet', 'car/7/sheet/s-' || n % 20,
       CASE WHEN n > 20 THEN ARRAY[sha256((n - 20)::text::bytea)] ELSE '{}' END, (n - 1) / 20,
       sha256('x'), '{}', 'm-1', 0, sha256('x')
  FROM studbook.team, generate_series(1, 100) n;
INSERT INTO studbook.tip (team_id, line, id, kind)
SELECT team_id, line, id, kind FROM studbook.entry WHERE seq > 80;
INSERT INTO studbook.erased (team_id, id, by)
SELECT team_id, sha256(('gone' || n)::bytea), sha256('1') FROM studbook.team, generate_series(1, 10) n;
INSERT INTO studbook.effect (team_id, id, engine, answer) SELECT team_id, id, 1, 'answer'
  FROM studbook.entry WHERE generation > 0;
INSERT INTO studbook.directory
SELECT hash, team_id FROM studbook.token UNION ALL SELECT hash, team_id FROM studbook.share;
ANALYZE;
"""
TABLES = {"book", "member", "token", "share", "protection", "audit", "entry", "tip", "directory", "effect"}
READS: dict[str, Callable[[BookStore, Any], Awaitable[Any]]] = {
    "bearer": lambda book, ids: book.access.bearer(ids.token),
    "bearer of a share": lambda book, ids: book.access.bearer(ids.share),
    "document": lambda book, ids: book.document(ids.team, ids.entry),
    "get": lambda book, ids: book.get(ids.team, ids.entry),
    "several": lambda book, ids: book.several(ids.team, [ids.entry, ids.root]),
    "tips": lambda book, ids: book.tips(ids.team, LINE),
    "heads": lambda book, ids: book.heads(ids.team, "car/7/sheet/s-1", "sheet"),
    "head_page": lambda book, ids: book.head_page(ids.team, "car/7/sheet/", "sheet", after=LINE, lines=3),
    "first_recorded": lambda book, ids: book.first_recorded(ids.team, [LINE, "car/7/sheet/s-4"]),
    "history": lambda book, ids: book.history(ids.team, LINE, before=(4, ids.entry), limit=10),
    "ancestors": lambda book, ids: book.ancestors(ids.team, ids.entry),
    "find": lambda book, ids: book.find(ids.team, ids.entry.hex()[:8]),
    "since": lambda book, ids: book.peers.since(ids.team, 60, limit=10),
    "export_page": lambda book, ids: book.export_page(ids.team, ["sheet"], bodies=True, after=60, until=90, limit=10),
    "effects": lambda book, ids: book.effects.read(ids.team, [ids.entry, ids.root], engine=1),
    "without_effects": lambda book, ids: book.effects.missing(ids.team, engine=2, limit=10),
    "chain_at": lambda book, ids: book.peers.chain_at(ids.team, 60),
    "members": lambda book, ids: book.access.members(ids.team),
    "protected": lambda book, ids: book.access.protected(ids.team),
    "audit": lambda book, ids: book.access.audit(ids.team, after=3, limit=5),
    "home": lambda book, ids: book.access.home(ids.team),
}


class Ids(NamedTuple):
    """What there is to read."""

    team: UUID
    root: bytes
    entry: bytes
    token: bytes
    share: bytes


@pytest.fixture(scope="module")
async def full(server: Any, template: str) -> AsyncIterator[str]:
    """Owner's address of a database with 400 teams and 40,000 entries."""
    name = "studbook_plans"
    admin = await asyncpg.connect(server.owner_dsn("postgres"))
    await admin.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
    owner = await asyncpg.connect(server.owner_dsn(name))
    await owner.execute(FILL)
    await owner.close()
    yield server.owner_dsn(name)
    await admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
    await admin.close()


@pytest.fixture
async def ids(full: str) -> Ids:
    """One team's things."""
    owner = await asyncpg.connect(full)
    team = await owner.fetchval("SELECT team_id FROM studbook.team ORDER BY team_id LIMIT 1")
    await owner.close()
    root, entry = (sha256(str(number).encode()).digest() for number in (3, 83))
    return Ids(team, root, entry, *(sha256(f"{team}{id_}".encode()).digest() for id_ in ("m-1", "s-1")))


@pytest.fixture
async def serving(full: str) -> AsyncIterator[tuple[asyncpg.Connection, list[Any]]]:
    """A connection that acts as the serving role, and the plans of what it runs."""
    connection = await asyncpg.connect(full)
    plans: list[Any] = []

    def listen(_connection: object, message: Any) -> None:
        plan = message.message.partition("plan:")[2]
        if plan:
            plans.append(json.loads(plan)["Plan"])

    connection.add_log_listener(listen)
    await connection.execute(
        "LOAD 'auto_explain'; SET auto_explain.log_min_duration = 0; SET auto_explain.log_nested_statements = on;"
        "SET auto_explain.log_level = notice; SET auto_explain.log_format = json; SET ROLE studbook_serve"
    )
    yield connection, plans
    await connection.close()


def nodes(plan: Any) -> Iterator[Any]:
    """Walk a plan."""
    yield plan
    for below in plan.get("Plans", []):
        yield from nodes(below)


@pytest.mark.parametrize("scope", ["", "car/7"])
@pytest.mark.parametrize("read", READS)
async def test_hot_reads_go_by_index(
    serving: tuple[asyncpg.Connection, list[Any]], ids: Ids, read: str, scope: str
) -> None:
    connection, plans = serving
    await connection.execute("SELECT set_config('studbook.scope', $1, false)", scope)
    plans.clear()
    for _ in range(8):  # the server makes five plans for their parameters, then perhaps one for all
        await READS[read](BookStore(connection), ids)
    await asyncio.sleep(0)
    walked = [node for plan in plans for node in nodes(plan)]
    scans = [node for node in walked if node.get("Relation Name") in TABLES]  # the driver asks for types besides
    assert scans
    for scan in scans:
        assert scan["Node Type"] in {"Index Scan", "Index Only Scan", "Bitmap Heap Scan"}, scan
    for node in walked:
        if "Index Cond" in node and not node["Index Name"].startswith("pg_"):
            by = "hash" if node.get("Relation Name") == "directory" else "team_id"
            assert by in node["Index Cond"], node
