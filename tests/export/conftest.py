"""A served book with a season in it."""

import asyncio
import os
import socket
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from typing import Any

import pytest

from export.season import Season, document, frames
from studbook import Studbook
from studbook_service.store import BookStore, Founded, found_team, open_book


@dataclass(frozen=True)
class Process:
    """A running service: where it answers, and its process."""

    url: str
    pid: int


@dataclass(frozen=True)
class Served:
    """A running service and a team's season in it."""

    url: str
    team: Founded
    season: Season
    book: BookStore

    def open(self) -> Studbook:
        """Open the book as its chief."""
        return Studbook(self.url, self.team.token)

    async def add(self, season: Season, since: int) -> None:
        """Record what a season gained."""
        for frame in frames(season.entries[since:]):
            await self.book.append(self.team.team, frame)


@asynccontextmanager
async def serving(dsn: str, *, background: bool = False) -> AsyncIterator[Process]:
    """Run the service as a process of its own, with or without its background worker."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "granian", "--interface", "asgi", "--factory", "--workers", "1", "--no-ws"),
        *("--host", "127.0.0.1", "--port", str(port), "studbook_service.app:create_app"),
        env=os.environ
        | {"STUDBOOK_DATABASE": dsn, "STUDBOOK_RATE": "999999", "STUDBOOK_BACKGROUND": "on" if background else "off"},
        stdout=asyncio.subprocess.DEVNULL,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        while True:
            assert process.returncode is None, "the service did not start"
            with suppress(OSError):
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            await asyncio.sleep(0.1)
        yield Process(f"http://127.0.0.1:{port}", process.pid)
    finally:
        with suppress(ProcessLookupError):
            process.terminate()
        await process.wait()


@pytest.fixture(scope="session")
async def address(shared_database: Any) -> AsyncIterator[str]:
    """Where the service answers."""
    async with serving(shared_database.serving_dsn) as process:
        yield process.url


@pytest.fixture(scope="module")
async def served(address: str, shared_database: Any) -> AsyncIterator[Served]:
    """A service with three cars, four nights, three outings each."""
    season = Season(document()).made()
    team = await found_team(shared_database.owner_dsn, team_name="Crew", chief_name="Chris", chief_id="chief")
    book = await open_book(shared_database.serving_dsn, size=2)
    found = Served(address, team, season, book)
    await found.add(season, 0)
    yield found
    await book.close()
