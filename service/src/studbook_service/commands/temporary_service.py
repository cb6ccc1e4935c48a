"""`studbook serve` in a temporary folder that is gone when the block ends."""

import os
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from studbook_service.commands.server import ServerError
from studbook_service.embedded import DATABASE, OWNER, Cluster, find_binaries
from studbook_service.settings import Settings

HOST = "127.0.0.1"


@dataclass(frozen=True)
class TemporaryService:
    """A running service with its own PostgreSQL.

    Attributes:
        folder: an empty folder to work in, as temporary as the rest.
        url: where the service answers.
        owner_dsn: address of the role that owns the tables.
    """

    folder: Path
    url: str
    owner_dsn: str


@contextmanager
def temporary_service(*, port: int) -> Iterator[TemporaryService]:
    """Run the service for the length of a block.

    Args:
        port: a free TCP port.

    Raises:
        EmbeddedError: PostgreSQL is not found.
        ServerError: the service did not start; the text is what it printed.
    """
    with tempfile.TemporaryDirectory(prefix="studbook-demo-") as root:
        data, folder = Path(root) / "data", Path(root) / "work"
        folder.mkdir()
        cluster = Cluster(data, find_binaries(Settings.from_environment().postgres_bin))
        with _serving(data, port, Path(root) / "service.log"):
            yield TemporaryService(folder, f"http://{HOST}:{port}", cluster.dsn(OWNER, DATABASE))


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
                raise ServerError(f"the service did not start: {log.read_text(encoding='utf-8').strip()}")
            yield
        finally:
            service.terminate()
