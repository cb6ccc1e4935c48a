"""`studbook demo`: a service in a temporary folder, an invented scenario in it, and the job walked through."""

import asyncio
import os
import time
from contextlib import chdir
from datetime import UTC, datetime

from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.output import print_line
from studbook_service.commands.server import check_port_free
from studbook_service.commands.temporary_service import HOST, TemporaryService, free_port, temporary_service
from studbook_service.demo.crew import add_crew
from studbook_service.demo.loading import record_scenario
from studbook_service.demo.scenario import team
from studbook_service.demo.walk import say, walk


def demo(*, keep: bool = False, port: int | None = None) -> None:
    """Walk through the job on three invented cars, against a service of its own; nothing is left behind.

    Args:
        keep: leave the service running afterward, until Ctrl-C.
        port: TCP port to listen on; a free one if not given.
    """
    with exit_on_error():
        if port is not None:
            check_port_free(HOST, port)
        with temporary_service(port=port or free_port()) as service, chdir(service.folder):
            _show(service, keep=keep)


def _show(service: TemporaryService, *, keep: bool) -> None:
    crew, today = team(), datetime.now(UTC).date()
    tokens = asyncio.run(add_crew(crew, owner_dsn=service.owner_dsn, url=service.url))
    counts = asyncio.run(record_scenario(crew, url=service.url, tokens=tokens, today=today))
    say(
        f"Studbook answers at {service.url}, in a temporary place. {crew.name}: {len(crew.cars)} cars, "
        f"{counts.revisions} revisions, a season of {counts.records} records; team, people, cars, tracks and numbers "
        "are invented."
    )
    # The walk's commands read these, and so does whoever follows it at another terminal.
    environment = {"STUDBOOK_URL": service.url, "STUDBOOK_TOKEN": tokens[crew.chief]}
    os.environ.update(environment)
    walk(folder=service.folder, today=today)
    if keep:
        say("It stays until Ctrl-C. At another terminal:")
        for name, value in environment.items():
            print_line(f"export {name}={value}")
        while True:
            time.sleep(1)
