"""One database for all these tests, each with a team of its own; and entries to push, invented."""

from collections.abc import Callable
from hashlib import sha256
from typing import Any

import pytest

from studbook_service.store import NewEntry

LINE = "car/7/sheet/baseline"


@pytest.fixture
def database(shared_database: Any) -> Any:
    """The database that all share: the fence keeps their teams apart."""
    return shared_database


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
