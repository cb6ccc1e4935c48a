"""The database of the tests: STUDBOOK_TEST_DATABASE, else a container, else the embedded PostgreSQL.

The store's tests of what a server does in its own way run on every PostgreSQL version found when it is the embedded
one; all others on the first. Tests are shared among cores by whole files, so what a module's tests share is made once;
parameters bear the same names in every worker (`ids` where values are made at random).
"""

import os
import shutil
import sys
import tempfile
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from functools import cache
from itertools import count
from pathlib import Path
from urllib.parse import urlsplit

import asyncpg
import pytest
from hypothesis import settings

from studbook_service.embedded import Binaries, Cluster
from studbook_service.embedded.binaries import candidates
from studbook_service.store import BookStore, Founded, found_team, migrate, open_book

# A slow machine is no fault of a law. The checks of a commit repeat the same examples; `--hypothesis-profile=explore`
# looks for new ones.
settings.register_profile("explore", deadline=None)
settings.register_profile("repeat", deadline=None, derandomize=True)
settings.load_profile("repeat")

# The services that tests start, here and as processes, compute only what somebody asks for.
os.environ["STUDBOOK_BACKGROUND"] = "off"

# Commands keep here what is not answered yet, and never in the folder of whoever runs the tests.
_STATE = tempfile.TemporaryDirectory(prefix="studbook-state-")
os.environ["XDG_STATE_HOME"] = _STATE.name

# Else every program that the tests start compiles the whole project anew where the machine keeps no bytecode by itself.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

MOST_WORKERS = 4
SERVING_ROLE = "studbook_serve"
PASSWORD = "only-for-tests"  # noqa: S105 - of a role in a throw-away database
TEMPLATE = "studbook_template"
ON_EVERY_VERSION = {
    "effects",
    "erasing",
    "fence",
    "migrating",
    "peers",
    "plans",
    "push",
    "races",
    "reading",
    "schema",
    "sql",
}
_numbers = count(1)


@dataclass(frozen=True)
class Server:
    """A running PostgreSQL and how to spell its addresses."""

    owner_dsn: Callable[[str], str]
    serving_dsn: Callable[[str], str]


@dataclass(frozen=True)
class Source:
    """A PostgreSQL the tests can have."""

    name: str
    running: Callable[[], AbstractContextManager[Server]]


@dataclass(frozen=True)
class Database:
    """A migrated database."""

    name: str
    owner_dsn: str
    serving_dsn: str


def given(owner: str) -> Source:
    """Use the server at an owner's address."""
    parts = urlsplit(owner)
    _, _, place = parts.netloc.rpartition("@")

    @contextmanager
    def running() -> Iterator[Server]:
        yield Server(
            owner_dsn=lambda name: parts._replace(path=f"/{name}").geturl(),
            serving_dsn=lambda name: parts._replace(
                netloc=f"{SERVING_ROLE}:{PASSWORD}@{place}", path=f"/{name}"
            ).geturl(),
        )

    return Source(f"server at {place or 'a local socket'}", running)


def contained() -> Source:
    """Use a container."""

    @contextmanager
    def running() -> Iterator[Server]:
        from testcontainers.postgres import PostgresContainer  # noqa: PLC0415 - slow, and only with an engine

        with (
            PostgresContainer("postgres:18", driver=None) as container,
            given(container.get_connection_url()).running() as server,
        ):
            yield server

    return Source("container postgres:18", running)


def embedded(binaries: Binaries) -> Source:
    """Use the embedded PostgreSQL, not waiting for the disk."""

    @contextmanager
    def running() -> Iterator[Server]:
        with tempfile.TemporaryDirectory(prefix="studbook-tests-") as folder:
            cluster = Cluster(Path(folder), binaries, durable=False)
            cluster.start()
            try:
                yield Server(
                    owner_dsn=lambda name: cluster.dsn("studbook_owner", name),
                    serving_dsn=lambda name: cluster.dsn(SERVING_ROLE, name),
                )
            finally:
                cluster.stop()

    return Source(f"pg{binaries.major}", running)


@cache
def sources() -> list[Source]:
    """List what there is, best first."""
    owner = os.environ.get("STUDBOOK_TEST_DATABASE")
    if owner:
        return [given(owner)]
    if engine_answers():
        return [contained()]
    found: dict[int, Binaries] = {}
    for folder in candidates():
        binaries = Binaries.at(folder)
        found.setdefault(binaries.major, binaries)
    return [embedded(binaries) for binaries in found.values()]


def engine_answers() -> bool:
    """Say whether a container engine answers; asking is slow where there is not even a socket."""
    if "DOCKER_HOST" not in os.environ and not Path("/var/run/docker.sock").exists():
        return False
    import docker  # type: ignore[import-untyped]  # noqa: PLC0415 - ships no types; slow, and only with an engine
    from docker.errors import DockerException  # type: ignore[import-untyped]  # noqa: PLC0415 - as above

    try:
        docker.from_env().ping()
    except DockerException:
        return False
    return True


def pytest_report_header() -> list[str]:
    """Say which database the tests run on, and which tools check deploy/."""
    first, *others = (source.name for source in sources())
    absent = [tool for tool in ("caddy", "systemd-analyze") if not shutil.which(tool)]
    return [
        f"database: {first}" + (f"; the store also on {', '.join(others)}" if others else ""),
        "deploy: checked by every tool" if not absent else f"deploy: not checked by {', '.join(absent)} (not here)",
    ]


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Share the whole run among the cores, file by file, each with a PostgreSQL of its own; what is named runs here."""
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    own_server = "STUDBOOK_TEST_DATABASE" not in os.environ
    return min(os.cpu_count() or 1, MOST_WORKERS) if whole and own_server else 0


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run the store's tests of what servers do in their own ways on every version."""
    path = metafunc.definition.path
    of_all = path.parent.name == "store" and path.stem.removeprefix("test_") in ON_EVERY_VERSION
    if "server" in metafunc.fixturenames and of_all:
        names = [source.name for source in sources()]
        metafunc.parametrize("server", sources(), ids=names, indirect=True, scope="session")


@pytest.fixture(scope="session")
def servers() -> Iterator[Callable[[Source], Server]]:
    """Start a PostgreSQL when it is first asked for; each runs to the end, as tests come back to it."""
    with ExitStack() as running:
        yield cache(lambda source: running.enter_context(source.running()))


@pytest.fixture(scope="session")
def server(request: pytest.FixtureRequest, servers: Callable[[Source], Server]) -> Server:
    """A running PostgreSQL."""
    return servers(getattr(request, "param", sources()[0]))


async def _command(dsn: str, *commands: str) -> None:
    connection = await asyncpg.connect(dsn)
    for command in commands:
        await connection.execute(command)
    await connection.close()


@pytest.fixture(scope="session")
async def templates(servers: Callable[[Source], Server]) -> AsyncIterator[set[Server]]:
    """The servers that have a template; in the end none."""
    del servers  # named so that they still run then
    having: set[Server] = set()
    yield having
    for server in having:
        await _command(server.owner_dsn("postgres"), f"DROP DATABASE {TEMPLATE}")


@pytest.fixture(scope="session")
async def template(server: Server, templates: set[Server]) -> str:
    """A migrated database that others are cloned from; nothing stays connected to it."""
    if server not in templates:
        postgres = server.owner_dsn("postgres")
        await _command(postgres, f"CREATE DATABASE {TEMPLATE}")
        await migrate(server.owner_dsn(TEMPLATE), serving_role=SERVING_ROLE)
        await _command(postgres, f"ALTER ROLE {SERVING_ROLE} PASSWORD '{PASSWORD}'")
        templates.add(server)
    return TEMPLATE


async def _clone(server: Server, template: str) -> AsyncIterator[Database]:
    name = f"studbook_test_{next(_numbers)}"
    postgres = server.owner_dsn("postgres")
    await _command(postgres, f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
    yield Database(name, server.owner_dsn(name), server.serving_dsn(name))
    await _command(postgres, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
async def database(server: Server, template: str) -> AsyncIterator[Database]:
    """A fresh migrated database of the test's own."""
    async for database in _clone(server, template):
        yield database


@pytest.fixture(scope="session")
async def shared_database(server: Server, template: str) -> AsyncIterator[Database]:
    """One migrated database for tests that only need a team of their own in it."""
    async for database in _clone(server, template):
        yield database


@pytest.fixture(scope="session")
async def friends_database(server: Server, template: str) -> AsyncIterator[Database]:
    """Another team's migrated database, at another place than the shared one."""
    async for database in _clone(server, template):
        yield database


@pytest.fixture
def owner_dsn(database: Database) -> str:
    """The owner's address of the test's database."""
    return database.owner_dsn


@pytest.fixture
async def book(database: Database) -> AsyncIterator[BookStore]:
    """The books in the test's database, as the service sees them."""
    book = await open_book(database.serving_dsn)
    yield book
    await book.close()


@pytest.fixture
async def team(database: Database) -> Founded:
    """A team in the test's database."""
    return await found_team(database.owner_dsn, team_name="Studbook crew", chief_name="Chris", chief_id="chief")
