"""A tiny server on loopback that answers by a script, and notes what it was asked."""

import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from client.calling import Both


@dataclass
class Asked:
    """One request as it came in."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Said:
    """One answer to give; with `lost`, the request is taken and the connection closed without a word."""

    status: int = 200
    body: bytes = b"{}"
    headers: dict[str, str] = field(default_factory=dict)
    lost: bool = False
    after: threading.Event | None = None


@dataclass
class Scripted:
    """The server: answers in the order of `script`, and the last one again after that."""

    url: str
    script: list[Said]
    asked: list[Asked] = field(default_factory=list)

    def say(self, *script: Said) -> None:
        self.script[:] = script

    def next(self) -> Said:
        return self.script.pop(0) if len(self.script) > 1 else self.script[0]


@pytest.fixture(params=[False, True], ids=["blocking", "asynchronous"])
def call(request: pytest.FixtureRequest) -> Both:
    """Either client."""
    return Both(waiting=request.param)


@pytest.fixture
def served() -> Iterator[Scripted]:
    scripted = Scripted("", [Said()])

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def answer(self) -> None:
            body = self.rfile.read(int(self.headers.get("content-length", 0)))
            headers = {name.lower(): value for name, value in self.headers.items()}
            scripted.asked.append(Asked(self.command, self.path, headers, body))
            said = scripted.next()
            if said.after:
                said.after.wait(10)
            if said.lost:
                self.close_connection = True
                return
            self.send_response(said.status)
            for name, value in {"content-length": str(len(said.body)), **said.headers}.items():
                self.send_header(name, value)
            with suppress(BrokenPipeError):  # the client's deadline has passed
                self.end_headers()
                self.wfile.write(said.body)

        do_GET = do_POST = do_PUT = do_PATCH = do_DELETE = answer  # noqa: N815 - the names the standard library calls

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the standard library's name
            """Keep the test's output clean."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        server.daemon_threads = True
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        scripted.url = f"http://127.0.0.1:{server.server_address[1]}"
        yield scripted
        server.shutdown()
        thread.join()
