"""Bringing a database's schema up to date: numbered migrations for tables and data, then the parts that can run again.

A migration is applied once, in order, in one transaction with the row that remembers its SHA-256. One whose first line
is `-- no-transaction` is a single statement that cannot run in one and may be repeated after a cut. The parts are the
one text of each function, trigger, policy and grant; `schema/tables.sql` is for readers, and a test proves it true.

All parts run in one transaction whenever their hash is not the one remembered for the serving role; what they no longer
make is dropped then. So a migration uses nothing that the parts make, and a new table is nobody's until they have run.

A service of the release before may still be running. So a function keeps its arguments and result, a view its columns:
what must change gets a new name beside the old one, which goes a release later, as a column does. PostgreSQL itself
refuses another result under an old name. The parts hold up writers for a moment, since every write begins with the
team's row of `book`; readers go on, unless a policy changed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from importlib.resources import files

import asyncpg

from studbook_service.store.connecting import connected
from studbook_service.store.errors import BookTooOld, SchemaAltered, SchemaBehind, SchemaError, SchemaNewer, UnfitRole
from studbook_service.store.sql import QUERIES

PARTS = ("reading.sql", "writing.sql", "exchange.sql", "access.sql", "triggers.sql", "leftovers.sql", "rights.sql")
"""Files of `schema/` in the order in which they run: views before functions that return them, grants at the end."""

_OLDEST_SERVER = 15
_OUTSIDE = "-- no-transaction\n"
_FIRST_BEFORE_0_2 = "0001_teams.sql"


@dataclass(frozen=True, slots=True)
class Migration:
    """One numbered file.

    Attributes:
        number: from 1, without gaps.
        name: the file's name.
        text: its SQL.
    """

    number: int
    name: str
    text: str

    @property
    def sha256(self) -> bytes:
        """SHA-256 of the text."""
        return sha256(self.text.encode()).digest()


@dataclass(frozen=True, slots=True)
class Schema:
    """What a database is brought to.

    Attributes:
        migrations: in order.
        parts: text of each file of PARTS by its name, in order; `:role` stands for the quoted serving role.

    Example:
        >>> list(known_schema().parts)[-1]
        'rights.sql'
    """

    migrations: Sequence[Migration]
    parts: Mapping[str, str]

    @property
    def parts_sha256(self) -> bytes:
        """SHA-256 over the parts and the migrations before them: after a new migration the parts run again."""
        texts = [migration.text for migration in self.migrations] + list(self.parts.values())
        return sha256("\0".join(texts).encode()).digest()


def known_schema() -> Schema:
    """Read the schema that this program needs."""
    store = files(__package__)
    folder = store.joinpath("migrations")
    names = sorted(file.name for file in folder.iterdir() if file.name.endswith(".sql"))
    return Schema(
        [Migration(int(name[:4]), name, folder.joinpath(name).read_text(encoding="utf-8")) for name in names],
        {name: store.joinpath("schema", name).read_text(encoding="utf-8") for name in PARTS},
    )


async def migrate(owner_dsn: str, *, serving_role: str = "studbook_serve", schema: Schema | None = None) -> list[str]:
    """Apply what the database lacks, and grant the serving role what it needs.

    Two at once take turns. Running it again changes nothing.

    Args:
        owner_dsn: address of the role that owns, or shall own, the tables.
        serving_role: the role that serves; made when missing, if the owner may make roles.
        schema: what to bring the database to; this program's own by default.

    Returns:
        Names of the files applied now.

    Raises:
        BookTooOld: the database was made before 0.2.
        SchemaNewer: the database was migrated by a newer program.
        SchemaAltered: a file was applied in another wording.
        SchemaError: PostgreSQL is too old.
        UnfitRole: there is no such serving role and the owner may not make one.
        StoreUnavailable: nothing answers there.
    """
    schema = schema or known_schema()
    async with connected(owner_dsn) as connection:
        version = await connection.fetchval(QUERIES["server_version"]) // 10000
        if version < _OLDEST_SERVER:
            raise SchemaError(f"PostgreSQL {version} is too old: {_OLDEST_SERVER} or later is needed")
        await connection.execute(QUERIES["lock_schema"])  # held until the connection closes
        missing = _missing(schema.migrations, await _applied(connection))
        await connection.execute(QUERIES["create_ledgers"])
        for migration in missing:
            await _apply(connection, migration)
        await _make_role(connection, serving_role)
        names = [migration.name for migration in missing]
        if await connection.fetchval(QUERIES["has_parts"], serving_role, schema.parts_sha256):
            return names
        await _apply_parts(connection, schema, serving_role)
    return [*names, *schema.parts]


async def make_database(owner_dsn: str, name: str) -> None:
    """Make a database when there is none of that name.

    Args:
        owner_dsn: address of another database on the same server.
        name: the database to make.

    Raises:
        StoreUnavailable: nothing answers there.
    """
    async with connected(owner_dsn) as connection:
        if not await connection.fetchval(QUERIES["database_exists"], name):
            await connection.execute(f"CREATE DATABASE {await connection.fetchval(QUERIES['quoted'], name)}")


async def check_current(connection: asyncpg.Connection) -> None:
    """Refuse a database that has not exactly this program's schema.

    Raises:
        BookTooOld: it was made before 0.2.
        SchemaBehind: it lacks migrations, or has other functions and rights.
        SchemaNewer: it has migrations that this program does not know.
        SchemaAltered: a migration was applied in another wording.
    """
    schema = known_schema()
    missing = _missing(schema.migrations, await _applied(connection))
    if missing:
        names = ", ".join(migration.name for migration in missing)
        raise SchemaBehind(f"the database lacks {names}: run `studbook migrate --database OWNER_DSN`")
    if await connection.fetchval(QUERIES["newest_parts"]) != schema.parts_sha256:
        raise SchemaBehind(
            "the database's functions and rights are not this program's: run `studbook migrate --database OWNER_DSN`"
        )


async def _applied(connection: asyncpg.Connection) -> list[asyncpg.Record]:
    """Read the ledger of migrations; empty where there is none."""
    if not await connection.fetchval(QUERIES["has_ledger"]):
        return []
    return list(await connection.fetch(QUERIES["ledger"]))


def _missing(known: Sequence[Migration], applied: Sequence[asyncpg.Record]) -> list[Migration]:
    by_number = {migration.number: migration for migration in known}
    for row in applied:
        if row["name"] == _FIRST_BEFORE_0_2:
            raise BookTooOld(
                "this book was made before 0.2 and this version cannot open it; nothing was changed:"
                " open it with the version that made it, or begin a new book in another place"
            )
        ours = by_number.pop(row["number"], None)
        if ours is None:
            raise SchemaNewer(f"the database has {row['name']}, which this program does not know: use a newer one")
        if ours.sha256 != row["sha256"]:
            raise SchemaAltered(f"{row['name']} was applied in another wording than this program's")
    return list(by_number.values())


async def _apply(connection: asyncpg.Connection, migration: Migration) -> None:
    row = (migration.number, migration.name, migration.sha256)
    if migration.text.startswith(_OUTSIDE):
        await connection.execute(migration.text)
        await connection.execute(QUERIES["enter_migration"], *row)
        return
    async with connection.transaction():
        await connection.execute(migration.text)
        await connection.execute(QUERIES["enter_migration"], *row)


async def _make_role(connection: asyncpg.Connection, role: str) -> None:
    if await connection.fetchval(QUERIES["role_exists"], role):
        return
    quoted = await connection.fetchval(QUERIES["quoted"], role)
    try:
        await connection.execute(f"CREATE ROLE {quoted} LOGIN")
    except asyncpg.InsufficientPrivilegeError as error:
        raise UnfitRole(f"there is no role {role} and this one may not make it: CREATE ROLE {quoted} LOGIN") from error


async def _apply_parts(connection: asyncpg.Connection, schema: Schema, role: str) -> None:
    quoted = await connection.fetchval(QUERIES["quoted"], role)
    async with connection.transaction():
        await connection.execute(QUERIES["lock_writes"])
        for text in schema.parts.values():
            await connection.execute(text.replace(":role", quoted))
        await connection.execute(QUERIES["enter_parts"], role, schema.parts_sha256)
