"""`studbook serve` in a temporary place, gone when the block ends."""

import os
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from studbook_service.commands.answering import AnsweringError
from studbook_service.embedded import DATABASE, OWNER, SERVING_ROLE, Cluster, find_binaries
from studbook_service.settings import Settings

HOST = "127.0.0.1"


@dataclass(frozen=True)
class House:
    """A running service with its own PostgreSQL.

    Attributes:
        desk: an empty folder to work in, as temporary as the rest.
        url: where the service answers.
        owner_dsn: address of the role that owns the tables.
        serving_dsn: address of the role that serves.
    """

    desk: Path
    url: str
    owner_dsn: str
    serving_dsn: str


@contextmanager
def house(*, port: int) -> Iterator[House]:
    """Run the service for the length of a block.

    Args:
        port: a free TCP port.

    Raises:
        EmbeddedError: PostgreSQL is not found.
        AnsweringError: the service did not start; the text is what it said.
    """
    with tempfile.TemporaryDirectory(prefix="studbook-demo-") as folder:
        data, desk = Path(folder) / "data", Path(folder) / "desk"
        desk.mkdir()
        cluster = Cluster(data, find_binaries(Settings.from_environment().postgres_bin))
        with _serving(data, port, Path(folder) / "service.log"):
            yield House(
                desk, f"http://{HOST}:{port}", cluster.dsn(OWNER, DATABASE), cluster.dsn(SERVING_ROLE, DATABASE)
            )


def free_port() -> int:
    """Find a TCP port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


@contextmanager
def _serving(data: Path, port: int, log: Path) -> Iterator[None]:
    words = (sys.executable, "-m", "studbook_service", "serve", "--data", data, "--host", HOST, "--port", str(port))
    with (
        log.open("w", encoding="utf-8") as errors,
        subprocess.Popen(  # noqa: S603 - our own program
            words,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
            env={**os.environ, "STUDBOOK_DATABASE": ""},
            start_new_session=True,  # Ctrl-C is for the demo, which then stops the service in order
        ) as service,
    ):
        try:
            if not any(line.startswith("Studbook answers") for line in service.stdout or ()):
                raise AnsweringError(f"the service did not start: {log.read_text(encoding='utf-8').strip()}")
            yield
        finally:
            service.terminate()
