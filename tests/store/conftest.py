"""One database for all these tests, each with a team of its own; and what to put in it, invented."""

from collections.abc import Awaitable, Callable
from hashlib import sha256
from typing import Any

import pytest

from studbook_service.store import Book, Founded, Member, NewEntry, mint, said, secret_hash

LINE = "car/7/sheet/baseline"
TOLD = said(actor="chief", action="test", subject="something")


@pytest.fixture
def database(shared_database: Any) -> Any:
    """The database that all share: the fence keeps their teams apart."""
    return shared_database


@pytest.fixture
def told() -> bytes:
    """What is recorded of a change whose wording does not matter."""
    return TOLD


@pytest.fixture
def let_in(book: Book, team: Founded) -> Callable[..., Awaitable[bytes]]:
    """Add a member with a token; its hash."""

    async def let_in(id_: str, role: str, *, token: str | None = None, **fields: Any) -> bytes:
        hashed = secret_hash(mint())
        await book.access.add_member(team.team, Member(id_, id_.title(), role), said=TOLD)
        await book.access.add_token(
            team.team, secret_hash=hashed, member=id_, role=token or role, label="phone", said=TOLD, **fields
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
