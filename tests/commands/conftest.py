"""The service's commands against a database of the test's own, in this process."""

import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from studbook_service.store import Founded


@pytest.fixture(autouse=True)
def terminate() -> Iterator[None]:
    """Keep what the test run does on SIGTERM: a command has its own way."""
    before = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, before)


@pytest.fixture
def at_home(database: Any, team: Founded, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Founded:
    """A team whose chief's token and database the commands find in the environment."""
    monkeypatch.setenv("STUDBOOK_DATABASE", database.serving_dsn)
    monkeypatch.setenv("STUDBOOK_TOKEN", team.token)
    monkeypatch.setenv("STUDBOOK_DATA", str(tmp_path))
    return team
