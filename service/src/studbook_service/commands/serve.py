"""`studbook serve`: the service, and without another database its own PostgreSQL, from start to end.

Where PostgreSQL dies, it is started again without end: a full disk is somebody's to empty, and no reason to stop. Where
the cluster's folder is gone, the service ends: else an empty book would take the place of one on a disk that was pulled
out.
"""

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import Any

from studbook.core.address import is_loopback
from studbook_service.app import create_app
from studbook_service.commands.errors import exit_on_error, stop_on_signals
from studbook_service.commands.first_token import found_first_team, show_first_token
from studbook_service.commands.output import print_line, print_note
from studbook_service.commands.server import HttpServer, check_port_free
from studbook_service.embedded import DATABASE, OWNER, SERVING_ROLE, Cluster, EmbeddedError, find_binaries, held
from studbook_service.settings import Settings
from studbook_service.store import check_serving, make_database, migrate

_CHECK_EVERY_S = 0.2
_PUBLIC = (
    "every computer that reaches {place} is offered the book, to holders of a token, and unencrypted: who "
    "listens on the way reads tokens and setups; put a proxy with https before it (deploy/README.md)"
)


def serve(
    *,
    port: int | None = None,
    host: str | None = None,
    data: Path | None = None,
    database: str | None = None,
    peers: bool = False,
) -> None:
    """Keep the book and answer over HTTP until stopped.

    With no database given, PostgreSQL is started here over the data folder and stopped at the end.

    Args:
        port: TCP port to listen on. STUDBOOK_PORT, or 8710.
        host: address to listen on. STUDBOOK_HOST, or 127.0.0.1.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a migrated PostgreSQL database, for its serving role. STUDBOOK_DATABASE.
        peers: exchange in the background with the nodes that `studbook peers add` named.
    """
    flags: dict[str, Any] = {"port": port, "host": host, "data": data, "database": database}
    with exit_on_error():
        settings = replace(
            Settings.from_environment(), **{name: value for name, value in flags.items() if value is not None}
        )
        check_port_free(settings.host, settings.port)
        if settings.database is None:
            _serve_embedded(settings, peers=peers)
        else:
            asyncio.run(_serve_database(settings, settings.database, peers=peers))


def _serve_embedded(settings: Settings, *, peers: bool) -> None:
    cluster = Cluster(settings.data, find_binaries(settings.postgres_bin))
    with held(settings.data, address=settings.url):
        try:
            cluster.start()
            asyncio.run(_serve_cluster(settings, cluster, peers=peers))
        finally:
            cluster.stop()


async def _serve_cluster(settings: Settings, cluster: Cluster, *, peers: bool) -> None:
    owner = cluster.dsn(OWNER, DATABASE)
    await make_database(cluster.dsn(OWNER, "postgres"), DATABASE)
    await migrate(owner, serving_role=SERVING_ROLE)
    token = settings.data / "first-token"
    await found_first_team(owner, token)

    server = _server(settings, cluster.dsn(SERVING_ROLE, DATABASE), peers=peers)
    keeping = asyncio.create_task(_keep_running(cluster))
    keeping.add_done_callback(lambda _: server.stop())
    with stop_on_signals(server.stop):
        await server.run(ready=lambda: _print_ready(settings, token))
    if keeping.done():
        keeping.result()
    keeping.cancel()


async def _keep_running(cluster: Cluster) -> None:
    """Start PostgreSQL again when it dies, as often as it takes; the pool finds its way back by itself.

    Raises:
        EmbeddedError: its folder is gone.
    """
    while True:
        await asyncio.sleep(_CHECK_EVERY_S)
        if cluster.pid is None:
            if not cluster.cluster.exists():
                raise EmbeddedError(f"{cluster.cluster} is gone, and the book with it")
            print_note("PostgreSQL died; starting it again")
            try:
                await asyncio.to_thread(cluster.start)
            except (EmbeddedError, OSError) as error:  # as while the disk is full
                print_note(str(error))


async def _serve_database(settings: Settings, dsn: str, *, peers: bool) -> None:
    await check_serving(dsn)
    server = _server(settings, dsn, peers=peers)
    with stop_on_signals(server.stop):
        await server.run(ready=lambda: _print_ready(settings))


def _server(settings: Settings, dsn: str, *, peers: bool) -> HttpServer:
    return HttpServer(
        create_app(dsn=dsn, peers=settings.data if peers else None, rate=settings.rate),
        host=settings.host,
        port=settings.port,
        proxies=settings.proxies,
    )


def _print_ready(settings: Settings, token: Path | None = None) -> None:
    print_line(f"Studbook answers at {settings.url}")
    if not is_loopback(settings.host):
        print_note(_PUBLIC.format(place=f"{settings.host}:{settings.port}"))
    if token is not None:
        show_first_token(token)
