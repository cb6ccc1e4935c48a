"""One database for all these tests, each with a team of its own; and what to put in it, invented."""

from collections.abc import AsyncIterator, Awaitable, Callable
from hashlib import sha256
from itertools import count
from typing import Any

import asyncpg
import pytest

from studbook_service.store import BookStore, Founded, MemberRow, NewEntry, audit_event, mint, secret_hash

_numbers = count(1)
LINE = "car/7/sheet/baseline"
EVENT = audit_event(actor="chief", action="test", subject="something")


@pytest.fixture
def database(shared_database: Any) -> Any:
    """The database that all share: the fence keeps their teams apart."""
    return shared_database


@pytest.fixture
async def empty(server: Any, template: str) -> AsyncIterator[str]:
    """Name of a database with nothing in it."""
    assert template  # so that the serving role is there
    name = f"studbook_empty_{next(_numbers)}"
    connection = await asyncpg.connect(server.owner_dsn("postgres"))
    await connection.execute(f"CREATE DATABASE {name}")
    yield name
    await connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
    await connection.close()


@pytest.fixture
def event() -> bytes:
    """What is recorded of a change whose wording does not matter."""
    return EVENT


@pytest.fixture
def let_in(book: BookStore, team: Founded) -> Callable[..., Awaitable[bytes]]:
    """Add a member with a token; its hash."""

    async def let_in(id_: str, role: str, *, token: str | None = None, **fields: Any) -> bytes:
        hashed = secret_hash(mint())
        await book.access.add_member(team.team, MemberRow(id_, id_.title(), role), audit=EVENT)
        await book.access.add_token(
            team.team, secret_hash=hashed, member=id_, role=token or role, label="phone", audit=EVENT, **fields
        )
        return hashed

    return let_in


@pytest.fixture
def make() -> Callable[..., NewEntry]:
    """Make an entry whose id and content are hashes of its name."""

    def make(name: str, *parents: bytes, line: str = LINE, kind: str = "sheet", **fields: object) -> NewEntry:
        values: dict[str, object] = {
            "content": sha256(f"content {name}".encode()).digest(),
            "note": f"note {name}",
            "body": f'{{"name":"{name}"}}'.encode(),
            "author": "chief",
            "at_ms": 1_790_000_000_000,
        } | fields
        return NewEntry(
            id=sha256(name.encode()).digest(),
            kind=kind,
            line=line,
            parents=tuple(sorted(parents)),
            **values,  # type: ignore[arg-type]  # each test gives its own fields
        )

    return make
