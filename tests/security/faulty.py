"""Services that something goes wrong for: a disk of a few MiB, a PostgreSQL of the test's own, a wire that is cut."""

import os
import select
import socket as unix_socket
import socketserver
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx2

from security.teams import DOCUMENT, UPPER_STUD
from studbook_service.commands.temporary_service import HOST, free_port

SHEET = "/v1/cars/7/sheets/baseline"
GIVE_UP_S = 60.0


@dataclass
class Served:
    """A `studbook serve` under way, asked with plain requests that nothing repeats."""

    process: "subprocess.Popen[bytes]"
    port: int
    log: Path
    token: str = ""
    tag: str = ""
    client: httpx2.Client = field(init=False)

    def __post_init__(self) -> None:
        self.client = httpx2.Client(base_url=f"http://{HOST}:{self.port}", trust_env=False, timeout=GIVE_UP_S)

    def status(self, path: str) -> int:
        """Ask for one status; 0 when nothing answers."""
        with suppress(httpx2.TransportError):
            return self.client.get(path, headers=self._bearer()).status_code
        return 0

    def until(self, path: str, status: int) -> None:
        """Wait until an address answers so; the service must live."""
        give_up = time.monotonic() + GIVE_UP_S
        while self.status(path) != status:
            assert self.process.poll() is None, self.log.read_text()
            assert time.monotonic() < give_up, self.log.read_text()
            time.sleep(0.05)

    def begin(self, token: str) -> None:
        """Enter a car and its first revision."""
        self.token = token
        assert self.send("POST", "/v1/cars", {"car": "7", "name": "Blue"}).status_code == 201
        pushed = self.send("POST", f"{SHEET}/revisions", {"document": DOCUMENT}, {"if-none-match": "*"})
        assert pushed.status_code == 201
        self.tag = pushed.json()["tag"]

    def send(self, method: str, path: str, body: Any, headers: dict[str, str] | None = None) -> httpx2.Response:
        """Send one request, once."""
        return self.client.request(method, path, json=body, headers=self._bearer() | (headers or {}))

    def revisions(self) -> list[str]:
        """List the sheet's revisions, the newest first."""
        return [each["id"] for each in self.send("GET", f"{SHEET}/history", None).json()["items"]]

    def _bearer(self) -> dict[str, str]:
        return {"authorization": f"Bearer {self.token}"} if self.token else {}

    def stop(self) -> None:
        """End the service."""
        self.client.close()
        self.process.terminate()
        self.process.wait(GIVE_UP_S)


@dataclass
class Push:
    """A push with a key, to be sent as often as it takes."""

    served: Served
    body: dict[str, Any]
    key: str = field(default_factory=lambda: uuid.uuid4().hex)

    def send(self) -> httpx2.Response:
        """Send it."""
        headers = {"if-match": f'"{self.served.tag}"', "idempotency-key": self.key}
        return self.served.send("POST", f"{SHEET}/revisions", self.body, headers)

    def until_kept(self) -> str:
        """Repeat it as a client does, while the service cannot be reached or says 503; give the revision's id."""
        give_up = time.monotonic() + GIVE_UP_S
        while True:
            with suppress(httpx2.TransportError):
                answer = self.send()
                if answer.status_code != 503:
                    assert answer.status_code in {200, 201}, answer.text
                    self.served.tag = answer.json()["tag"]
                    return str(answer.json()["revision"]["id"])
                assert answer.headers["retry-after"] == "1"
            assert time.monotonic() < give_up, self.served.log.read_text()
            time.sleep(0.1)


def stud(served: Served, length_in: float, note: str = "") -> Push:
    """A push of another length of a stud."""
    return Push(served, {"note": note, "edits": [{"path": UPPER_STUD, "value": length_in}]})


@contextmanager
def serving(folder: Path, *words: str, prefix: tuple[str, ...] = ()) -> Iterator[Served]:
    """Run a service for the length of a block."""
    port, log = free_port(), folder / "service.log"
    command = [*prefix, sys.executable, "-m", "studbook_service", "serve", "--port", str(port), *words]
    environment = {name: value for name, value in os.environ.items() if not name.startswith("STUDBOOK_")}
    with log.open("wb") as out:
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=out, stderr=out, env=environment)
    served = Served(process, port, log)
    try:
        served.until("/readyz", 200)
        yield served
    finally:
        served.stop()


@contextmanager
def small_disk(folder: Path, *, size_mib: int) -> Iterator[tuple[Served, Path]]:
    """Run a service whose data folder is a disk of its own; gives that disk too, as seen from here.

    The disk is mounted where only the service sees it, so it is gone with the service.
    """
    data = folder / "data"
    data.mkdir()
    mounted = f'mount -t tmpfs -o size={size_mib}m,mode=0700 tmpfs "$0" && exec "$@"'
    alone = ("unshare", "--mount", *(() if os.geteuid() == 0 else ("--user", "--map-root-user")))
    with serving(folder, "--data", str(data), prefix=(*alone, "sh", "-c", mounted, str(data))) as served:
        yield served, Path(f"/proc/{served.process.pid}/root") / data.relative_to("/")


class Wire:
    """A wire between a service and PostgreSQL's socket, which can lose one answer and then is cut.

    Args:
        socket: PostgreSQL's.
    """

    def __init__(self, socket: Path) -> None:
        self.lost = 0
        self._lose = b""
        outer = self

        class Carrier(socketserver.BaseRequestHandler):
            def handle(self) -> None:
                with unix_socket.socket(unix_socket.AF_UNIX) as far, suppress(OSError):
                    far.connect(str(socket))
                    outer._carry(self.request, far)

        class Server(socketserver.ThreadingTCPServer):
            daemon_threads, block_on_close = True, False

        self._server = Server((HOST, 0), Carrier)
        self.port = self._server.server_address[1]

    def lose_answer_to(self, words: str) -> None:
        """Lose the whole answer to the next message with these words, and cut the connection then."""
        self._lose = words.encode()

    @contextmanager
    def carried(self) -> Iterator["Wire"]:
        """Carry for the length of a block."""
        thread = threading.Thread(target=self._server.serve_forever)
        thread.start()
        try:
            yield self
        finally:
            self._server.shutdown()
            thread.join()
            self._server.server_close()

    def _carry(self, near: unix_socket.socket, far: unix_socket.socket) -> None:
        """Carry both ways until one end is gone."""
        losing = False
        while True:
            for ready in select.select([near, far], [], [])[0]:
                data = ready.recv(65536)
                if not data:
                    return
                if ready is near:
                    losing = losing or bool(self._lose and self._lose in data)
                    self._lose = b"" if losing else self._lose
                    far.sendall(data)
                elif not losing:
                    near.sendall(data)
                elif data.endswith(READY):  # committed, and told so
                    self.lost += 1
                    return


READY = b"Z\x00\x00\x00\x05I"
"""ReadyForQuery, idle: the transaction is over (PostgreSQL documentation, Message Formats)."""


def first_token(data: Path) -> str:
    """Read the first token of a data folder."""
    return (data / "first-token").read_text().strip()


def said(served: Served) -> list[str]:
    """What the service wrote."""
    return served.log.read_text().splitlines()


def bulky(number: int) -> dict[str, Any]:
    """A document that no compression makes small. Invented."""
    noise = os.urandom(90_000).hex()
    return DOCUMENT | {"own": {f"n{number}": noise}}
