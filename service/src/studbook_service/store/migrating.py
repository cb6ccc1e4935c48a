"""Bringing a database's tables up to date: numbered SQL files, each applied once, in order, and remembered by hash.

A file is one transaction, together with the row that remembers it. A file whose first line is `-- no-transaction`
holds a single statement that cannot run in one (an index built concurrently) and that may be repeated after a cut.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from importlib.resources import files

import asyncpg

from studbook_service.store.connecting import connected
from studbook_service.store.errors import SchemaAltered, SchemaBehind, SchemaError, SchemaNewer, UnfitRole
from studbook_service.store.sql import QUERIES

_OLDEST_SERVER = 15
_OUTSIDE = "-- no-transaction\n"


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


def known_migrations() -> list[Migration]:
    """Read the migrations this program holds, in order."""
    folder = files(__package__).joinpath("migrations")
    names = sorted(file.name for file in folder.iterdir() if file.name.endswith(".sql"))
    return [Migration(int(name[:4]), name, folder.joinpath(name).read_text(encoding="utf-8")) for name in names]


async def migrate(
    owner_dsn: str, *, serving_role: str = "studbook_serve", migrations: Sequence[Migration] | None = None
) -> list[str]:
    """Apply what the database lacks, and grant the serving role what it needs.

    Two at once take turns. Running it again changes nothing.

    Args:
        owner_dsn: address of the role that owns, or shall own, the tables.
        serving_role: the role that serves; made when missing, if the owner may make roles.
        migrations: what to apply; this program's own by default.

    Returns:
        Names of the files applied now.

    Raises:
        SchemaNewer: the database was migrated by a newer program.
        SchemaAltered: a file was applied in another wording.
        SchemaError: PostgreSQL is too old.
        UnfitRole: there is no such serving role and the owner may not make one.
        StoreUnavailable: nothing answers there.
    """
    known = known_migrations() if migrations is None else migrations
    async with connected(owner_dsn) as connection:
        version = await connection.fetchval(QUERIES["server_version"]) // 10000
        if version < _OLDEST_SERVER:
            raise SchemaError(f"PostgreSQL {version} is too old: {_OLDEST_SERVER} or later is needed")
        await connection.execute(QUERIES["lock_schema"])  # held until the connection closes
        await connection.execute(QUERIES["create_ledger"])
        missing = _missing(known, await connection.fetch(QUERIES["ledger"]))
        for migration in missing:
            await _apply(connection, migration)
        await _grant(connection, serving_role)
    return [migration.name for migration in missing]


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
    """Refuse a database that is not exactly at this program's migrations.

    Raises:
        SchemaBehind: it lacks some.
        SchemaNewer: it has some this program does not know.
        SchemaAltered: one was applied in another wording.
    """
    if not await connection.fetchval(QUERIES["has_ledger"]):
        raise SchemaBehind("the database was never migrated: run `studbook migrate --database OWNER_DSN`")
    missing = _missing(known_migrations(), await connection.fetch(QUERIES["ledger"]))
    if missing:
        names = ", ".join(migration.name for migration in missing)
        raise SchemaBehind(f"the database lacks {names}: run `studbook migrate --database OWNER_DSN`")


def _missing(known: Sequence[Migration], applied: Sequence[asyncpg.Record]) -> list[Migration]:
    by_number = {migration.number: migration for migration in known}
    for row in applied:
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


async def _grant(connection: asyncpg.Connection, role: str) -> None:
    quoted = await connection.fetchval(QUERIES["quoted"], role)
    if not await connection.fetchval(QUERIES["role_exists"], role):
        try:
            await connection.execute(f"CREATE ROLE {quoted} LOGIN")
        except asyncpg.InsufficientPrivilegeError as error:
            raise UnfitRole(
                f"there is no role {role} and this one may not make it: CREATE ROLE {quoted} LOGIN"
            ) from error
    grants = files(__package__).joinpath("grants.sql").read_text(encoding="utf-8")
    async with connection.transaction():
        await connection.execute(grants.replace(":role", quoted))
