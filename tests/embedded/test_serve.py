"""`studbook serve` as a process: started, stopped, killed, started again."""

import asyncio
import os
import pty
import signal
import stat
import subprocess
import sys
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import urlopen

import asyncpg
import pytest

from studbook_service.store import BookStore, Founded, NewEntry, StoreUnavailable, found_team, open_book, secret_hash

Start = Callable[..., Any]
Run = Callable[..., "subprocess.CompletedProcess[str]"]


def answers(url: str) -> bool:
    """Whether anything speaks HTTP there, whatever it says."""
    try:
        with urlopen(f"{url}/livez", timeout=10) as answer:  # noqa: S310 - our own address
            return bool(answer.status)
    except HTTPError:
        return True


async def push_until_cut(book: BookStore, team: Founded, acknowledged: list[bytes], enough: asyncio.Event) -> None:
    """Push one entry after another, noting each that was answered; say when there are 20."""
    tips: tuple[bytes, ...] = tuple(acknowledged[-1:])
    while True:
        id_ = sha256(f"{len(acknowledged)}".encode()).digest()
        entry = NewEntry(
            id=id_, kind="car", line="car/7", parents=tips, content=id_, note=None, body=b"{}", author="chief", at_ms=0
        )
        acknowledged.append((await book.push(team.team, entry, expected=tips)).id)
        tips = (id_,)
        if len(acknowledged) == 20:
            enough.set()


async def kept(service: Any, team: Founded) -> set[bytes]:
    """The ids in the book, read through a new connection."""
    book = await open_book(service.dsn())
    history = await book.history(team.team, "car/7", limit=100_000)
    head = await book.team_head(team.team)
    await book.close()
    assert head.seq == len(history)
    return {entry.id for entry in history}


async def test_a_signal_stops_both_cleanly_and_a_kill_loses_nothing_answered(
    start: Start, user: tuple[str, ...]
) -> None:
    service = start(prefix=user).ready()
    assert answers(service.url)
    await shows_its_first_token(service)
    assert service.end(signal.SIGINT if user else signal.SIGTERM) == 0
    assert not (service.data / "postgres" / "postmaster.pid").exists()
    service = start(prefix=user).ready()
    team = await found_team(service.dsn("studbook_owner"), team_name="Crew", chief_name="Chris")
    book = await open_book(service.dsn())
    acknowledged: list[bytes] = []
    enough = asyncio.Event()
    pushing = asyncio.create_task(push_until_cut(book, team, acknowledged, enough))
    await enough.wait()
    assert service.end(signal.SIGKILL) == -signal.SIGKILL
    os.kill(service.postmaster(), 0)  # PostgreSQL was left behind
    again = start(prefix=user)
    with pytest.raises(StoreUnavailable):
        await pushing
    await book.close()
    await asyncio.to_thread(again.ready)
    assert set(acknowledged) <= await kept(again, team)
    assert answers(again.url)
    assert again.end(signal.SIGTERM) == 0


async def shows_its_first_token(service: Any) -> None:
    """It says where the token lies, which only its owner may read, and which is a chief's."""
    token = service.data / "first-token"
    assert f"First token: in {token}" in service.printed()
    assert stat.S_IMODE(token.stat().st_mode) == 0o600
    book = await open_book(service.dsn())
    bearer = await book.access.bearer(secret_hash(token.read_text(encoding="ascii").strip()))
    assert bearer is not None
    assert bearer.role == "chief"
    await book.close()


async def test_beside_it_no_other_starts_and_a_killed_postgresql_loses_nothing_answered_and_comes_back(
    start: Start, studbook: Run, port: int
) -> None:
    service = start().ready()
    is_told_who_holds_what(service, start, studbook, port)
    team = await found_team(service.dsn("studbook_owner"), team_name="Crew", chief_name="Chris")
    book = await open_book(service.dsn())
    acknowledged: list[bytes] = []
    enough = asyncio.Event()
    pushing = asyncio.create_task(push_until_cut(book, team, acknowledged, enough))
    await enough.wait()
    killed = service.postmaster()
    os.kill(killed, signal.SIGKILL)
    with pytest.raises(StoreUnavailable):
        await pushing
    while True:  # the pool finds the new server by itself
        try:
            await book.team_head(team.team)
            break
        except StoreUnavailable:
            assert service.process.poll() is None, service.printed()
            await asyncio.sleep(0.05)
    await book.close()
    assert service.postmaster() != killed
    assert "PostgreSQL died; starting it again" in service.printed()
    assert set(acknowledged) <= await kept(service, team)
    assert answers(service.url)
    ends_where_the_book_is_gone(service)


def ends_where_the_book_is_gone(service: Any) -> None:
    """No empty book takes the place of one whose disk was pulled out."""
    postmaster, folder = service.postmaster(), service.data / "postgres"
    folder.rename(service.data / "pulled-out")
    os.kill(postmaster, signal.SIGKILL)
    assert service.process.wait(60) == 2
    assert f"studbook: {folder} is gone, and the book with it" in service.printed()
    assert not folder.exists()


def is_told_who_holds_what(service: Any, start: Start, studbook: Run, port: int) -> None:
    """A second service ends with one line, be it the data or the port that is held."""
    second = studbook("serve", "--data", str(service.data), "--host", "127.0.0.2", "--port", str(port))
    assert (second.returncode, second.stderr.count("\n")) == (2, 1)
    assert f"is held by process {service.process.pid} at {service.url}, started" in second.stderr
    taken = start("--data", str(service.data.parent / "other"))
    assert (taken.process.wait(60), taken.printed().count("\n")) == (2, 1)
    assert "cannot listen on 127.0.0.1 port" in taken.printed()


def test_a_terminal_sees_the_first_token_once(tmp_path: Path, port: int) -> None:
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "studbook_service", "serve", "--port", str(port), "--data", str(tmp_path / "data")]
    seen = ""
    for run in range(2):
        process = subprocess.Popen(command, stdout=theirs, stderr=theirs)
        printed = b""
        while b"answers at" not in printed or (run == 0 and b"sbk_" not in printed):
            printed += os.read(ours, 4096)
        process.send_signal(signal.SIGTERM)
        assert process.wait(60) == 0
        seen += printed.decode()
    os.close(theirs)
    os.close(ours)
    tokens = [word for word in seen.split() if word.startswith("sbk_")]
    assert len(tokens) == 1
    assert secret_hash(tokens[0])
    assert not (tmp_path / "data" / "first-token").exists()


def test_a_database_of_ones_own(server: Any, start: Start, studbook: Run, tmp_path: Path, port: int) -> None:
    owner, serving = server.owner_dsn("studbook_own"), server.serving_dsn("studbook_own")
    command(server, "CREATE DATABASE studbook_own")

    too_mighty = studbook("serve", "--port", str(port), "--database", owner)
    assert (too_mighty.returncode, too_mighty.stderr.count("\n")) == (2, 1)
    assert "superuser" in too_mighty.stderr

    migrated = studbook("migrate", "--database", owner)
    assert (migrated.returncode, migrated.stderr) == (0, "")
    token = tmp_path / "first-token"
    assert stat.S_IMODE(token.stat().st_mode) == 0o600
    assert "0001_tables.sql" in migrated.stdout
    assert str(token.name) in migrated.stdout
    again = studbook("migrate", "--database", owner)
    assert again.stdout == "Nothing to do: the tables are up to date\n"

    service = start("--database", serving).ready()
    assert answers(service.url)
    assert service.end(signal.SIGTERM) == 0
    assert not service.data.exists()

    command(server, "DROP DATABASE studbook_own WITH (FORCE)")
    gone = studbook("serve", "--port", str(port), "--database", serving)
    assert (gone.returncode, gone.stderr.count("\n")) == (4, 1)


def test_a_schema_behind_is_not_served(server: Any, template: str, studbook: Run, port: int) -> None:
    assert template  # so that the serving role is there
    command(server, "CREATE DATABASE studbook_behind")
    refused = studbook("serve", "--port", str(port), "--database", server.serving_dsn("studbook_behind"))
    assert (refused.returncode, refused.stderr.count("\n")) == (2, 1)
    assert "studbook migrate --database OWNER_DSN" in refused.stderr
    command(server, "DROP DATABASE studbook_behind WITH (FORCE)")


def command(server: Any, words: str) -> None:
    """Have the owner do something."""

    async def run() -> None:
        admin = await asyncpg.connect(server.owner_dsn("postgres"))
        await admin.execute(words)
        await admin.close()

    asyncio.run(run())
