"""The schema as it stands, `schema/*.sql`, is what the migrations and the parts make of any database."""

import asyncio
from collections.abc import AsyncIterator, Callable
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import asyncpg
import pytest

from studbook_service.store import NewEntry, found_team, migrate, open_book
from studbook_service.store.migrating import PARTS, Migration, known_schema
from studbook_service.store.sql import QUERIES

SCHEMA = known_schema()
TABLES = files("studbook_service.store").joinpath("schema", "tables.sql").read_text(encoding="utf-8")
CATALOG = Path(__file__).with_name("catalog.sql").read_text(encoding="utf-8")
ROLE = "studbook_serve"

Catalog = dict[tuple[str, str], str]
Make = Callable[..., NewEntry]


async def catalog(connection: asyncpg.Connection) -> Catalog:
    """All that the database holds of the schema, by kind and name."""
    rows = await connection.fetch(CATALOG)
    found = {(row["kind"], row["name"]): row["spelled"] for row in rows}
    assert len(found) == len(rows)
    return found


def different(first: Catalog, second: Catalog) -> set[tuple[str, str]]:
    """Kinds and names of what is not the same in both."""
    return {key for key in first.keys() | second.keys() if first.get(key) != second.get(key)}


@pytest.fixture
async def as_it_stands(server: Any, empty: str) -> AsyncIterator[asyncpg.Connection]:
    """A connection to a database made of the files of `schema/` alone."""
    connection = await asyncpg.connect(server.owner_dsn(empty))
    await connection.execute(QUERIES["create_ledgers"])
    await connection.execute(TABLES)
    async with connection.transaction():
        for text in SCHEMA.parts.values():
            await connection.execute(text.replace(":role", ROLE))
    yield connection
    await connection.close()


@pytest.fixture(scope="module")
async def migrated(server: Any, template: str) -> AsyncIterator[asyncpg.Connection]:
    """A connection to a migrated database with nothing in its tables."""
    name = "studbook_schema"
    admin = await asyncpg.connect(server.owner_dsn("postgres"))
    await admin.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
    connection = await asyncpg.connect(server.owner_dsn(name))
    yield connection
    await connection.close()
    await admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
    await admin.close()


async def test_it_is_the_sum_of_the_migrations(as_it_stands: asyncpg.Connection, migrated: asyncpg.Connection) -> None:
    stands = await catalog(as_it_stands)
    assert different(stands, await catalog(migrated)) == set()
    kinds = [kind for kind, _ in stands]
    least = {"relation": 18, "column": 90, "constraint": 40, "index": 19, "policy": 26, "trigger": 11, "routine": 50}
    for kind, number in {**least, "view": 1, "type": 20, "grant": 90}.items():
        assert kinds.count(kind) >= number, kind
    rows = "SELECT only_row, epoch FROM studbook.access_epoch"
    assert await as_it_stands.fetch(rows) == await migrated.fetch(rows)


@pytest.mark.parametrize(
    ("statement", "kind"),
    [
        ("ALTER TABLE studbook.token DROP COLUMN introduces", "column"),
        ("ALTER TABLE studbook.member ALTER COLUMN erased SET DEFAULT true", "column"),
        ("ALTER TABLE studbook.peer ALTER COLUMN url TYPE varchar(9)", "column"),
        ("ALTER TABLE studbook.entry ALTER COLUMN body SET NOT NULL", "column"),
        ('ALTER TABLE studbook.protection ALTER COLUMN line TYPE text COLLATE "default"', "column"),
        ("ALTER TYPE studbook.new_entry ADD ATTRIBUTE more text", "column"),
        ("ALTER TABLE studbook.audit DROP CONSTRAINT audit_chain_check", "constraint"),
        ("ALTER TABLE studbook.share DROP CONSTRAINT share_maker", "constraint"),
        ("DROP INDEX studbook.tip_kind", "index"),
        ("CREATE TABLE studbook.more (x integer)", "relation"),
        ("ALTER TABLE studbook.effect NO FORCE ROW LEVEL SECURITY", "relation"),
        ("ALTER TABLE studbook.effect DISABLE ROW LEVEL SECURITY", "relation"),
        ("DROP POLICY in_scope ON studbook.entry", "policy"),
        ("ALTER POLICY own_team ON studbook.peer USING (true)", "policy"),
        ("DROP TRIGGER refuse_change ON studbook.audit", "trigger"),
        ("ALTER TABLE studbook.audit DISABLE TRIGGER refuse_change", "trigger"),
        ("DROP FUNCTION studbook.first_recorded(uuid, text[])", "routine"),
        ("ALTER FUNCTION studbook.team_of(bytea) SECURITY INVOKER", "routine"),
        (
            "CREATE OR REPLACE FUNCTION studbook.home(p_team uuid) RETURNS text LANGUAGE plpgsql AS 'BEGIN END'",
            "routine",
        ),
        ("ALTER VIEW studbook.entry_with_author RESET (security_invoker)", "relation"),
        (f"REVOKE UPDATE (state) ON studbook.peer FROM {ROLE}", "grant"),
        (f"REVOKE INSERT ON studbook.tip FROM {ROLE}", "grant"),
        (f"REVOKE EXECUTE ON FUNCTION studbook.join_book(uuid, bytea) FROM {ROLE}", "grant"),
        ("GRANT EXECUTE ON FUNCTION studbook.erase_name(uuid, text, bytea) TO PUBLIC", "grant"),
        (f"GRANT CREATE ON SCHEMA studbook TO {ROLE}", "grant"),
    ],
)
async def test_no_difference_escapes(migrated: asyncpg.Connection, statement: str, kind: str) -> None:
    before = await catalog(migrated)
    transaction = migrated.transaction()
    await transaction.start()
    await migrated.execute(statement)
    after = await catalog(migrated)
    await transaction.rollback()
    assert kind in {kind for kind, _ in different(before, after)}


async def test_what_the_parts_no_longer_make_is_gone_from_an_upgraded_database(
    server: Any, empty: str, migrated: asyncpg.Connection
) -> None:
    former = {
        "reading.sql": """
            CREATE OR REPLACE VIEW studbook.entry_sizes AS SELECT id, length(body) AS size FROM studbook.entry;
            CREATE OR REPLACE FUNCTION studbook.sizes(p_team uuid) RETURNS SETOF studbook.entry_sizes LANGUAGE sql
            AS 'SELECT * FROM studbook.entry_sizes';
            CREATE OR REPLACE FUNCTION studbook.home(p_team uuid, p_more text) RETURNS text LANGUAGE sql
            AS 'SELECT p_more';
            CREATE OR REPLACE FUNCTION studbook.note() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END';
            """,
        "access.sql": """
            CREATE OR REPLACE FUNCTION studbook.home(p_team uuid) RETURNS text LANGUAGE sql AS 'SELECT NULL::text';
            """,
        "triggers.sql": """
            CREATE OR REPLACE TRIGGER note AFTER INSERT ON studbook.tip EXECUTE FUNCTION studbook.note();
            CREATE OR REPLACE TRIGGER refuse_change BEFORE DELETE ON studbook.audit EXECUTE FUNCTION studbook.note();
            """,
        "rights.sql": """
            CREATE POLICY more ON studbook.tip USING (line <> '');
            ALTER TABLE studbook.effect NO FORCE ROW LEVEL SECURITY;
            DROP POLICY own_team ON studbook.peer;
            CREATE POLICY own_team ON studbook.peer USING (true);
            GRANT DELETE ON studbook.entry, studbook.entry_sizes TO :role;
            GRANT UPDATE (name) ON studbook.team TO :role;
            GRANT EXECUTE ON ALL ROUTINES IN SCHEMA studbook TO :role, PUBLIC;
            """,
    }
    parts = {name: text + former.get(name, "") for name, text in SCHEMA.parts.items()}
    await migrate(server.owner_dsn(empty), schema=replace(SCHEMA, parts=parts))
    connection = await asyncpg.connect(server.owner_dsn(empty))
    gone = different(await catalog(connection), await catalog(migrated))
    assert {"policy", "trigger", "routine", "view", "grant"} <= {kind for kind, _ in gone}
    await migrate(server.owner_dsn(empty))
    assert different(await catalog(connection), await catalog(migrated)) == set()
    await connection.close()


async def test_a_service_of_the_release_before_goes_on(server: Any, empty: str, make: Make) -> None:
    owner = server.owner_dsn(empty)
    await migrate(owner)
    team = (await found_team(owner, team_name="Crew", chief_name="Chris", chief_id="chief")).team
    book = await open_book(server.serving_dsn(empty), size=1)
    entries = [make("0")]
    await book.push(team, entries[0], expected=())
    for number in range(1, 4):
        more = [
            Migration(n + 1, f"{n}", f"ALTER TABLE studbook.entry ADD COLUMN more_{n} text")
            for n in range(1, number + 1)
        ]
        assert await migrate(owner, schema=replace(SCHEMA, migrations=[*SCHEMA.migrations, *more])) == [
            f"{number}",
            *PARTS,
        ]
        entries.append(make(f"{number}", entries[-1].id))
        await book.push(team, entries[-1], expected=(entries[-2].id,))
        assert [head.id for head in await book.history(team, entries[0].line)] == [entry.id for entry in entries[::-1]]
    await book.close()


async def test_reads_and_writes_go_on_while_the_parts_run(server: Any, empty: str, make: Make) -> None:
    owner = server.owner_dsn(empty)
    await migrate(owner)
    team = (await found_team(owner, team_name="Crew", chief_name="Chris", chief_id="chief")).team
    book = await open_book(server.serving_dsn(empty), size=4)
    over = asyncio.Event()

    async def write(line: str) -> int:
        tips: list[bytes] = []
        while not over.is_set():
            entry = make(f"{line} {len(tips)}", *tips[-1:], line=line)
            await book.push(team, entry, expected=tuple(tips[-1:]))
            tips.append(entry.id)
        return len(tips)

    async def read(line: str) -> int:
        pages = 0
        while not over.is_set():
            await book.history(team, line)
            await book.tip_entries(team, line)
            await book.export_page(team, None, bodies=True, after=0, until=50, limit=50)
            await book.access.members(team)
            pages += 1
        return pages

    working = [asyncio.create_task(each(line)) for line in ("car/7", "car/8") for each in (write, read)]
    for number in range(5):
        parts = {**SCHEMA.parts, "reading.sql": f"{SCHEMA.parts['reading.sql']}-- {number}"}
        assert await migrate(owner, schema=replace(SCHEMA, parts=parts)) == list(PARTS)
    over.set()
    assert min(await asyncio.gather(*working)) > 0
    await book.close()


async def test_a_function_keeps_its_result_under_its_name(server: Any, empty: str) -> None:
    await migrate(server.owner_dsn(empty))
    text = SCHEMA.parts["access.sql"].replace(
        "studbook.home(p_team uuid) RETURNS text", "studbook.home(p_team uuid) RETURNS bytea"
    )
    with pytest.raises(asyncpg.InvalidFunctionDefinitionError, match="cannot change return type"):
        await migrate(server.owner_dsn(empty), schema=replace(SCHEMA, parts={**SCHEMA.parts, "access.sql": text}))
