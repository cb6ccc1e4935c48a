"""Real processes, real faults: 503 or a retried success, exactly one effect, and recovery without a restart."""

import asyncio
import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import asyncpg
import pytest

from security.faulty import Push, Served, Wire, bulky, first_token, said, serving, small_disk, stud
from studbook import Studbook
from studbook_service.embedded import OWNER, Cluster, find_binaries
from studbook_service.store import found_team, make_database, migrate

SERVING = "studbook_serve"


@dataclass
class House:
    """A PostgreSQL of the test's own, the wire to it, and the service behind that."""

    cluster: Cluster
    wire: Wire
    served: Served

    def owner(self) -> str:
        return self.cluster.dsn(OWNER, "studbook")


async def made_ready(cluster: Cluster) -> str:
    """Make the tables and a team; give its token."""
    await make_database(cluster.dsn(OWNER, "postgres"), "studbook")
    await migrate(cluster.dsn(OWNER, "studbook"), serving_role=SERVING)
    return (await found_team(cluster.dsn(OWNER, "studbook"), team_name="Crew", chief_name="Chris")).token


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    folder = tmp_path_factory.mktemp("faults")
    cluster = Cluster(folder / "data", find_binaries(None))
    cluster.start()
    try:
        token = asyncio.run(made_ready(cluster))
        with Wire(cluster.socket / ".s.PGSQL.5432").carried() as wire:
            address = f"postgresql://{SERVING}@127.0.0.1:{wire.port}/studbook?sslmode=disable"
            with serving(folder, "--database", address) as served:
                served.begin(token)
                yield House(cluster, wire, served)
    finally:
        cluster.stop()


@pytest.fixture(autouse=True)
def same_process(request: pytest.FixtureRequest) -> Iterator[None]:
    """The service that answers afterward is the one that answered before."""
    yield
    if "house" in request.fixturenames:
        assert request.getfixturevalue("house").served.process.poll() is None


def test_postgresql_is_down_and_comes_back(house: House) -> None:
    served, before = house.served, house.served.revisions()
    house.cluster.stop()
    push = stud(served, 1.7)
    refused = push.send()
    assert (refused.status_code, refused.json()["code"]) == (503, "unavailable")
    assert refused.headers["retry-after"] == "1"
    served.until("/readyz", 503)
    assert served.status("/livez") == 200
    assert served.status(f"/v1/revisions/{before[0]}/document") == 503
    house.cluster.start()
    id_ = push.until_kept()
    assert served.revisions() == [id_, *before]


def test_postgresql_is_restarted_in_the_middle_of_a_request(house: House) -> None:
    """The push waits for its team's row, which somebody else holds; then its connection dies under it."""
    served, before, push = house.served, house.served.revisions(), stud(house.served, 1.8)
    answers: list[Any] = []

    async def restarted() -> None:
        holder = await asyncpg.connect(house.owner())
        await holder.execute("BEGIN")
        await holder.execute("SELECT FROM studbook.book FOR UPDATE")
        waiting = threading.Thread(target=lambda: answers.append(push.send()))
        waiting.start()
        watcher = await asyncpg.connect(house.owner())
        while True:
            if await watcher.fetchval("SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock'"):
                break
            await asyncio.sleep(0.02)
        await asyncio.to_thread(house.cluster.stop)
        await asyncio.to_thread(house.cluster.start)
        waiting.join()
        for connection in (holder, watcher):
            connection.terminate()

    asyncio.run(restarted())
    assert (answers[0].status_code, answers[0].json()["code"]) == (503, "unavailable")
    served.until("/readyz", 200)
    # Whoever held the row may be ended first; then the push goes on, and may be kept before its own connection dies.
    assert served.revisions()[-len(before) :] == before
    id_ = push.until_kept()
    assert served.revisions() == [id_, *before]


def test_the_connection_is_cut_after_the_commit(house: House) -> None:
    """PostgreSQL kept it, and said so to nobody: the same push again finds what it made."""
    served, before = house.served, house.served.revisions()
    push = stud(served, 1.9, "cut after the commit")
    house.wire.lose_answer_to("cut after the commit")
    cut = push.send()
    assert (house.wire.lost, cut.status_code, cut.json()["code"]) == (1, 503, "unavailable")
    kept = served.revisions()
    assert kept[1:] == before
    assert push.until_kept() == kept[0]
    assert served.revisions() == kept


def test_the_client_repeats_a_push_that_was_cut_after_the_commit(house: House) -> None:
    served, lost = house.served, house.wire.lost
    with Studbook(str(served.client.base_url), served.token) as book:
        pulled, before = book.pull("7/baseline"), served.revisions()
        setup = pulled.document()
        setup["setup"]["front"]["rf"]["upper_stud"]["length_in"] = 2.1
        house.wire.lose_answer_to("told once more")
        pushed = book.push(pulled, setup, note="told once more")
    assert house.wire.lost == lost + 1
    assert served.revisions() == [pushed.revision.id, *before]
    served.tag = pushed.tag


def test_the_disk_is_full() -> None:
    """First too full for tables, then so full that PostgreSQL dies of it; room is made, and all goes on."""
    with TemporaryDirectory(prefix="full-") as folder, small_disk(Path(folder), size_mib=160) as (served, disk):
        served.begin(first_token(disk))
        before = served.revisions()
        fill(disk, leave_kib=600)
        pushes = [Push(served, {"document": bulky(number), "allow_unknown": True}) for number in range(12)]
        full: list[Push] = []
        for push in pushes:
            answer = push.send()
            if answer.status_code == 503:
                assert answer.json()["code"] == "unavailable"
                full.append(push)
                break
            assert answer.status_code == 201
            served.tag = answer.json()["tag"]
            before.insert(0, answer.json()["revision"]["id"])
        assert full, "the disk was never full"
        assert served.revisions() == before
        assert served.status(f"/v1/revisions/{before[-1]}/document") == 200
        asyncio.run(die_of_it(disk))
        served.until("/readyz", 503)
        (disk / "filler").unlink()
        served.until("/readyz", 200)
        assert served.revisions() == before
        id_ = full[0].until_kept()
        assert served.revisions() == [id_, *before]
        assert any("PostgreSQL died; starting it again" in line for line in said(served))


def fill(disk: Path, *, leave_kib: int) -> None:
    """Fill a disk but for so much."""
    with (disk / "filler").open("wb", buffering=0) as filler:
        with suppress(OSError):
            while filler.write(bytes(65536)):
                pass
        filler.truncate(filler.tell() - leave_kib * 1024)


async def die_of_it(disk: Path) -> None:
    """Let PostgreSQL ask for further files of its log until there is no room: it ends itself then."""
    connection = await asyncpg.connect(f"postgresql://{OWNER}@/studbook?host={disk / 'run'}")
    switching = "PERFORM pg_logical_emit_message(false, 'x', repeat('x', 200000)); PERFORM pg_switch_wal();"
    with pytest.raises((asyncpg.PostgresError, OSError, asyncpg.InterfaceError)):
        await connection.execute(f"DO $$ BEGIN FOR turn IN 1..50 LOOP {switching} END LOOP; END $$")
    connection.terminate()
