"""`studbook demo`: a service in a temporary place, a scenario of our own in it, and the job walked through."""

import asyncio
import os
import time
from contextlib import chdir
from datetime import UTC, datetime

from studbook_service.commands.answering import check_free
from studbook_service.commands.failing import ending_well
from studbook_service.commands.house import HOST, House, free_port, house
from studbook_service.demo.crew import let_in
from studbook_service.demo.loading import load
from studbook_service.demo.scenario import team
from studbook_service.demo.walk import say, walk


def demo(*, keep: bool = False, port: int | None = None) -> None:
    """Walk through the job on three invented cars, against a service of its own; nothing is left behind.

    Args:
        keep: leave the service running afterward, until Ctrl-C.
        port: TCP port to listen on; a free one if not given.
    """
    with ending_well():
        if port is not None:
            check_free(HOST, port)
        with house(port=port or free_port()) as ours, chdir(ours.desk):
            _show(ours, keep=keep)


def _show(ours: House, *, keep: bool) -> None:
    crew, today = team(), datetime.now(UTC).date()
    tokens = asyncio.run(let_in(crew, owner_dsn=ours.owner_dsn, serving_dsn=ours.serving_dsn))
    loaded = asyncio.run(load(crew, url=ours.url, tokens=tokens, today=today))
    say(
        f"Studbook answers at {ours.url}, in a temporary place. {crew.name}: {len(crew.cars)} cars, "
        f"{loaded.revisions} revisions, a season of {loaded.records} records; team, people, cars, tracks and numbers "
        "are invented."
    )
    # What the walk's commands read, and whoever follows it at another terminal types.
    environment = {"STUDBOOK_URL": ours.url, "STUDBOOK_TOKEN": tokens[crew.chief]}
    os.environ.update(environment)
    walk(desk=ours.desk, today=today)
    if keep:
        say("It stays until Ctrl-C. At another terminal:")
        for name, value in environment.items():
            print(f"export {name}={value}", flush=True)  # noqa: T201 - a command speaks to its user
        while True:
            time.sleep(1)
