"""What a database and a role must be before they may serve."""

import asyncpg

from studbook_service.store.connecting import connected
from studbook_service.store.errors import UnfitRole
from studbook_service.store.migrating import check_current
from studbook_service.store.sql import QUERIES


async def check_serving(dsn: str) -> None:
    """Refuse a database that is not current, and a role that could look past the fence between teams.

    Args:
        dsn: address of the serving role.

    Raises:
        UnfitRole: the role is a superuser, bypasses row security, owns tables, or was granted nothing.
        BookTooOld: the database was made before 0.2.
        SchemaBehind: the database lacks migrations, or its functions and rights are not this program's.
        SchemaNewer: the database has migrations this program does not know.
        SchemaAltered: a migration was applied in another wording.
        StoreUnavailable: nothing answers there.
    """
    async with connected(dsn) as connection:
        role = await connection.fetchrow(QUERIES["own_role"])
        if role["bypasses"]:
            raise UnfitRole(f"role {role['name']} is a superuser or bypasses row security: serve with a plain role")
        owned = await connection.fetchval(QUERIES["owned_table"])
        if owned is not None:
            raise UnfitRole(
                f"role {role['name']} owns table {owned}, or may act for its owner: serve with another role"
            )
        try:
            await check_current(connection)
        except asyncpg.InsufficientPrivilegeError as error:
            name = role["name"]
            raise UnfitRole(
                f"role {name} was granted nothing: run `studbook migrate --database OWNER_DSN --serving-role {name}`"
            ) from error
