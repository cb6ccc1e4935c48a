"""What the serving role may do, written down a second time and apart from `rights.sql`."""

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import asyncpg
import pytest

CATALOG = Path(__file__).with_name("catalog.sql").read_text(encoding="utf-8")
ROLE = "studbook_serve"

GRANTS = """
schema                          USAGE
studbook.access_epoch           SELECT
studbook.applied_parts          SELECT
studbook.audit                  SELECT
studbook.audit.team_id          INSERT
studbook.audit.event            INSERT
studbook.book                   SELECT
studbook.book.seq               UPDATE
studbook.book.chain             UPDATE
studbook.book.home              UPDATE
studbook.effect                 INSERT, SELECT
studbook.effect.engine          UPDATE
studbook.effect.answer          UPDATE
studbook.entry                  INSERT, SELECT
studbook.entry_with_author      SELECT
studbook.erased                 SELECT
studbook.idempotency            INSERT, SELECT
studbook.member                 INSERT, SELECT
studbook.member.name            UPDATE
studbook.member.role            UPDATE
studbook.member.erased          UPDATE
studbook.migration              SELECT
studbook.peer                   INSERT, SELECT
studbook.peer.url               UPDATE
studbook.peer.version           UPDATE
studbook.peer.state             UPDATE
studbook.protection             DELETE, INSERT, SELECT
studbook.share                  INSERT, SELECT
studbook.share.ended_at         UPDATE
studbook.team                   SELECT
studbook.tip                    DELETE, INSERT, SELECT
studbook.token                  INSERT, SELECT
studbook.token.revoked_at       UPDATE
"""
OWNERS = {"erase_entries", "erase_name", "fence", "found_team"}
"""The routines that the owner alone calls."""


@pytest.fixture
async def granted(database: Any) -> AsyncIterator[dict[tuple[str, str], str]]:
    """What the catalog says: privileges by object and grantee."""
    connection = await asyncpg.connect(database.owner_dsn)
    rows = await connection.fetch(CATALOG)
    found: dict[tuple[str, str], str] = {}
    for row in rows:
        if row["kind"] == "grant":
            granted_on, _, to = row["name"].rpartition(" to ")
            found[granted_on, to] = row["spelled"]
    yield found
    await connection.close()


def test_the_serving_role_may_do_this_and_no_more(granted: dict[tuple[str, str], str]) -> None:
    expected = {name: may.strip() for name, _, may in (line.partition(" ") for line in GRANTS.split("\n") if line)}
    found = {name: may for (name, to), may in granted.items() if to == ROLE and "(" not in name}
    assert found == {name: ", ".join(f"{each} f" for each in may.split(", ")) for name, may in expected.items()}


def test_it_calls_every_routine_but_the_owners(granted: dict[tuple[str, str], str]) -> None:
    def names(*, callable_: bool) -> set[str]:
        routines = {name for name, _ in granted if "(" in name}
        chosen = (name for name in routines if ((name, ROLE) in granted) is callable_)
        return {name.partition("(")[0].removeprefix("studbook.") for name in chosen}

    assert names(callable_=False) == OWNERS
    assert len(names(callable_=True)) >= 45
    assert not names(callable_=True) & OWNERS


def test_the_public_may_do_nothing(granted: dict[tuple[str, str], str]) -> None:
    assert [name for name, to in granted if to == "PUBLIC"] == []
