"""A slow link on loopback, and a stock Git server behind it: what the exchange's benchmark is measured over.

The link is a proxy of our own: so many bytes a second each way, shared by all connections, half a round trip of delay
each way, and a whole one for a connection to be made. It counts what passes, headers included.
"""

import asyncio
import os
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

HOST = "127.0.0.1"
BYTES_PER_S = 256_000 / 8
ROUND_TRIP_S = 0.6
_PIECE_S = 0.04
_QUEUE_PIECES = 64


class Way:
    """One direction of the link."""

    def __init__(self, bytes_per_s: float, delay_s: float) -> None:
        self.passed = 0
        self._bytes_per_s, self._delay_s = bytes_per_s, delay_s
        self._free_at = 0.0

    async def carry(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Pass on what comes until it ends, each piece in its time; a piece waits until the link has room for it."""
        loop = asyncio.get_running_loop()
        under_way: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue(_QUEUE_PIECES)

        async def deliver() -> None:
            while True:
                at, data = await under_way.get()
                await asyncio.sleep(at - loop.time())
                if not data:
                    writer.write_eof()
                    return
                self.passed += len(data)
                writer.write(data)
                await writer.drain()

        delivering = asyncio.create_task(deliver())
        try:
            while data := await reader.read(int(self._bytes_per_s * _PIECE_S)):
                self._free_at = max(self._free_at, loop.time()) + len(data) / self._bytes_per_s
                await asyncio.sleep(self._free_at - loop.time())
                await under_way.put((self._free_at + self._delay_s, data))
            await under_way.put((loop.time() + self._delay_s, b""))
            await delivering
        finally:
            delivering.cancel()


class Link:
    """The link to one port.

    Args:
        port: what is behind it, on this machine.
        cut_every_s: cut all connections so often; never if None.
        bytes_per_s: what it passes, each way.
        round_trip_s: how long there and back takes.
    """

    def __init__(
        self,
        port: int,
        cut_every_s: float | None = None,
        *,
        bytes_per_s: float = BYTES_PER_S,
        round_trip_s: float = ROUND_TRIP_S,
    ) -> None:
        self.up, self.down = (Way(bytes_per_s, round_trip_s / 2) for _ in range(2))
        self.connections = 0
        self.port = 0
        self._target = port
        self._cut_every_s, self._round_trip_s = cut_every_s, round_trip_s
        self._open: set[asyncio.StreamWriter] = set()

    @property
    def passed(self) -> int:
        """Bytes that passed, both ways."""
        return self.up.passed + self.down.passed

    @contextmanager
    def running(self) -> Iterator["Link"]:
        """Run in a thread for the length of a block."""
        ready, loop = threading.Event(), asyncio.new_event_loop()
        task = loop.create_task(self._serve(ready))

        def work() -> None:
            with suppress(asyncio.CancelledError):
                loop.run_until_complete(task)
            left = asyncio.all_tasks(loop)
            for each in left:
                each.cancel()
            if left:
                loop.run_until_complete(asyncio.wait(left))
            loop.close()

        thread = threading.Thread(target=work)
        thread.start()
        ready.wait()
        try:
            yield self
        finally:
            loop.call_soon_threadsafe(task.cancel)
            thread.join()

    async def _serve(self, ready: threading.Event) -> None:
        server = await asyncio.start_server(self._connect, HOST, 0)
        self.port = server.sockets[0].getsockname()[1]
        ready.set()
        async with server:
            while True:
                await asyncio.sleep(self._cut_every_s or 3600)
                for writer in self._open:
                    writer.transport.abort()

    async def _connect(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connections += 1
        await asyncio.sleep(self._round_trip_s)
        writers = {writer}
        with suppress(OSError, asyncio.CancelledError):
            far_reader, far_writer = await asyncio.open_connection(HOST, self._target)
            writers.add(far_writer)
            self._open |= writers
            await asyncio.gather(self.up.carry(reader, far_writer), self.down.carry(far_reader, writer))
        self._open -= writers
        for each in writers:
            each.transport.abort()


class GitServer:
    """Stock `git http-backend` behind a CGI server of ours.

    Args:
        root: folder with the bare repositories.
    """

    def __init__(self, root: Path) -> None:
        self.requests = 0
        outer = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"
            disable_nagle_algorithm = True

            def do_GET(self) -> None:
                outer.requests += 1
                _answer(self, root, self._body())

            do_POST = do_GET  # noqa: N815 - the name that http.server looks for

            def _body(self) -> bytes:
                if self.headers.get("transfer-encoding") != "chunked":
                    return self.rfile.read(int(self.headers.get("content-length", 0)))
                parts = []
                while size := int(self.rfile.readline(), 16):
                    parts.append(self.rfile.read(size))
                    self.rfile.readline()
                self.rfile.readline()
                return b"".join(parts)

            def log_message(self, *_: Any) -> None:
                """Keep quiet."""

        self.server = ThreadingHTTPServer((HOST, 0), Handler)
        self.server.handle_error = lambda *_: None  # type: ignore[method-assign] # a cut link is no news
        self.port = self.server.server_address[1]

    @contextmanager
    def running(self) -> Iterator["GitServer"]:
        """Answer for the length of a block."""
        thread = threading.Thread(target=self.server.serve_forever)
        thread.start()
        try:
            yield self
        finally:
            self.server.shutdown()
            thread.join()
            self.server.server_close()


def _answer(handler: BaseHTTPRequestHandler, root: Path, body: bytes) -> None:
    """Run the CGI program (RFC 3875) and pass its answer on."""
    path, _, query = handler.path.partition("?")
    environment = {
        "PATH": os.environ["PATH"],
        "GIT_PROJECT_ROOT": str(root),
        "GIT_HTTP_EXPORT_ALL": "1",
        "GIT_CONFIG_NOSYSTEM": "1",
        "HOME": str(root),
        "PATH_INFO": path,
        "QUERY_STRING": query,
        "REQUEST_METHOD": handler.command,
        "CONTENT_TYPE": handler.headers.get("content-type", ""),
        "CONTENT_LENGTH": str(len(body)),
        "HTTP_CONTENT_ENCODING": handler.headers.get("content-encoding", ""),
        "GIT_PROTOCOL": handler.headers.get("git-protocol", ""),
        "REMOTE_USER": "crew",
        "REMOTE_ADDR": HOST,
    }
    done = subprocess.run(["git", "http-backend"], input=body, env=environment, capture_output=True, check=True)
    head, _, answer = done.stdout.partition(b"\r\n\r\n")
    fields = dict(line.split(": ", 1) for line in head.decode().split("\r\n"))
    handler.send_response(int(fields.pop("Status", "200 OK").split()[0]))
    for name, value in fields.items():
        handler.send_header(name, value)
    handler.send_header("Content-Length", str(len(answer)))
    handler.end_headers()
    handler.wfile.write(answer)
