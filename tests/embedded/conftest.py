"""The real service as a process, on a data folder and a port of its own."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
from cyclopts import App

from studbook_service.commands import register
from studbook_service.embedded.unprivileged import in_namespace

_READY_WITHIN_S = 60.0
# As whoever runs the tests; and when that is root, as an ordinary user too (root outside, so the files are readable).
ORDINARY = in_namespace() if os.geteuid() == 0 else None
USERS = {"as_it_is": ()} | ({"as_ordinary_user": ORDINARY.prefix} if ORDINARY else {})


@dataclass
class Service:
    """A `studbook serve` under way."""

    process: "subprocess.Popen[bytes]"
    data: Path
    url: str
    out: Path

    def printed(self) -> str:
        """All it has printed."""
        return self.out.read_text(encoding="utf-8")

    def ready(self) -> "Service":
        """Wait until it says that it answers."""
        give_up = time.monotonic() + _READY_WITHIN_S
        while self.url not in self.printed():
            assert self.process.poll() is None, self.printed()
            assert time.monotonic() < give_up, self.printed()
            time.sleep(0.02)
        return self

    def end(self, number: signal.Signals) -> int:
        """Send a signal and wait for the end."""
        self.process.send_signal(number)
        return self.process.wait(60)

    def dsn(self, role: str = "studbook_serve") -> str:
        """Address of its database."""
        return f"postgresql://{role}@/studbook?host={self.data / 'run'}"

    def postmaster(self) -> int:
        """Process id of its PostgreSQL."""
        return int((self.data / "postgres" / "postmaster.pid").read_text(encoding="utf-8").split(maxsplit=1)[0])


@pytest.fixture(params=list(USERS.values()), ids=list(USERS))
def user(request: pytest.FixtureRequest) -> tuple[str, ...]:
    """Words that start a program as each kind of user."""
    return tuple(request.param)


@pytest.fixture
def port() -> int:
    """A port that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def studbook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> Iterator[Callable[..., "subprocess.CompletedProcess[str]"]]:
    """Run a command of the service in this process to its end; for one that serves see `start`."""
    app, on_sigterm = App(name="studbook"), signal.getsignal(signal.SIGTERM)
    register(app)
    monkeypatch.chdir(tmp_path)

    def run(*words: str) -> "subprocess.CompletedProcess[str]":
        capfd.readouterr()
        try:
            app(words)
            status = 0
        except SystemExit as end:
            status = int(end.code or 0)
        return subprocess.CompletedProcess(words, status, *capfd.readouterr())

    yield run
    signal.signal(signal.SIGTERM, on_sigterm)


@pytest.fixture
def start(tmp_path: Path, port: int) -> Iterator[Callable[..., Service]]:
    """Start the service; what still runs at the end is killed, its PostgreSQL too."""
    started: list[Service] = []

    def start(*words: str, prefix: tuple[str, ...] = ()) -> Service:
        data, out = tmp_path / "data", tmp_path / f"out-{len(started)}"
        command = [*prefix, sys.executable, "-m", "studbook_service", "serve", "--port", str(port), *words]
        environment = {name: value for name, value in os.environ.items() if not name.startswith("STUDBOOK_")}
        with out.open("wb") as file:
            process = subprocess.Popen(
                command, stdout=file, stderr=file, env=environment | {"STUDBOOK_DATA": str(data)}
            )
        started.append(Service(process, data, f"http://127.0.0.1:{port}", out))
        return started[-1]

    yield start
    for service in started:
        service.process.kill()
        service.process.wait()
        with suppress(FileNotFoundError, ProcessLookupError):
            os.kill(service.postmaster(), signal.SIGQUIT)
