"""A cluster's life: made, stopped, killed, left behind. It waits for the disk, as in service."""

import asyncio
import os
import signal
import stat
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import asyncpg
import pytest

from studbook_service.embedded import OWNER, Cluster, EmbeddedError, find_binaries


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """A cluster not started yet; whatever runs at the end is stopped."""
    cluster = Cluster(tmp_path / "data", find_binaries())
    yield cluster
    cluster.stop()


async def execute(cluster: Cluster, command: str) -> str:
    connection = await asyncpg.connect(cluster.dsn(OWNER, "postgres"))
    try:
        return str(await connection.execute(command))
    finally:
        await connection.close()


async def count(cluster: Cluster) -> int:
    connection = await asyncpg.connect(cluster.dsn(OWNER, "postgres"))
    try:
        return int(await connection.fetchval("SELECT count(*) FROM kept"))
    finally:
        await connection.close()


async def test_what_was_written_is_there_after_a_stop(cluster: Cluster) -> None:
    cluster.start()
    await execute(cluster, "CREATE TABLE kept AS SELECT 1 AS x")
    cluster.stop()
    assert cluster.pid is None
    assert not (cluster.cluster / "postmaster.pid").exists()
    cluster.start()
    assert await count(cluster) == 1


async def test_nobody_else_may_enter_and_no_port_is_open(cluster: Cluster) -> None:
    cluster.start()
    for folder in (cluster.folder, cluster.cluster, cluster.socket):
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    connection = await asyncpg.connect(cluster.dsn(OWNER, "postgres"))
    assert await connection.fetchval("SHOW listen_addresses") == ""
    assert await connection.fetchval("SHOW fsync") == "on"
    assert await connection.fetchval("SELECT datcollate FROM pg_database WHERE datname = 'postgres'") == "C"
    await connection.close()


def test_a_folder_that_was_there_keeps_its_mode(cluster: Cluster) -> None:
    cluster.folder.mkdir()
    cluster.folder.chmod(0o755)
    cluster.start()
    assert stat.S_IMODE(cluster.folder.stat().st_mode) == 0o755
    assert {stat.S_IMODE(inner.stat().st_mode) for inner in (cluster.cluster, cluster.socket)} == {0o700}


async def test_a_killed_server_loses_nothing_committed(cluster: Cluster) -> None:
    cluster.start()
    await execute(cluster, "CREATE TABLE kept (x integer)")
    committed, enough = 0, asyncio.Event()

    async def write() -> None:
        nonlocal committed
        connection = await asyncpg.connect(cluster.dsn(OWNER, "postgres"))
        while True:
            await connection.execute("INSERT INTO kept VALUES ($1)", committed)
            committed += 1
            if committed == 20:
                enough.set()

    writing = asyncio.create_task(write())
    await enough.wait()
    assert cluster.pid is not None
    os.kill(cluster.pid, signal.SIGKILL)
    with pytest.raises((OSError, asyncpg.PostgresError, asyncpg.InterfaceError, asyncpg.InternalClientError)):
        await writing
    await asyncio.to_thread(cluster.start)
    assert await count(cluster) in {committed, committed + 1}  # the last one may have been kept but not answered


async def test_a_server_left_by_a_killed_service_is_taken_over(cluster: Cluster) -> None:
    cluster.start()
    await execute(cluster, "CREATE TABLE kept AS SELECT 1 AS x")
    left = cluster._process
    assert left is not None
    cluster._process = None  # its service was killed; whoever comes next knows nothing of it
    after = Cluster(cluster.folder, cluster.binaries)
    reaping = asyncio.create_task(asyncio.to_thread(left.wait))
    await asyncio.to_thread(after.start)
    assert await reaping == 0
    assert after.pid != left.pid
    assert await count(after) == 1
    after.stop()


def test_a_cut_first_start_leaves_no_half_cluster(cluster: Cluster) -> None:
    (cluster.folder / "postgres.tmp" / "base").mkdir(parents=True)
    (cluster.folder / "postgres.tmp" / "PG_VERSION").write_text("1", encoding="ascii")
    cluster.start()
    assert not (cluster.folder / "postgres.tmp").exists()


def test_another_major_version_is_explained(cluster: Cluster) -> None:
    cluster.start()
    cluster.stop()
    other = Cluster(cluster.folder, replace(cluster.binaries, major=cluster.binaries.major + 1))
    with pytest.raises(EmbeddedError, match=rf"made by PostgreSQL {cluster.binaries.major}, .*STUDBOOK_POSTGRES_BIN"):
        other.start()


async def test_a_deep_folder_gets_a_short_socket(tmp_path: Path) -> None:
    deep = tmp_path / ("deep" * 12) / ("er" * 24) / "data"
    cluster = Cluster(deep, find_binaries(), durable=False)
    try:
        cluster.start()
        assert len(os.fsencode(cluster.socket)) < 60
        assert stat.S_IMODE(cluster.socket.stat().st_mode) == 0o700
        assert await execute(cluster, "SELECT 1") == "SELECT 1"
    finally:
        cluster.stop()
        cluster.socket.rmdir()


def test_a_server_that_will_not_start_says_why(cluster: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    cluster.start()
    cluster.stop()
    (cluster.cluster / "postgresql.conf").write_text("no_such_setting = on\n", encoding="ascii")
    monkeypatch.setattr("studbook_service.embedded.cluster._RETRY_START_FOR_S", 0.0)
    with pytest.raises(EmbeddedError, match="no_such_setting"):
        cluster.start()


def test_windows_is_by_address_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    binaries = find_binaries()
    monkeypatch.setattr("sys.platform", "win32")
    with pytest.raises(EmbeddedError, match="no embedded PostgreSQL on Windows: give --database"):
        Cluster(tmp_path, binaries)
