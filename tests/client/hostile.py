"""A hostile or restarting service on loopback: answers as raw bytes, each connection by a script of ours."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

Answering = Callable[[socket.socket, bytes], None]


def head(*fields: str, status: str = "200 OK") -> bytes:
    """Write the head of an answer."""
    return "\r\n".join([f"HTTP/1.1 {status}", *fields, "", ""]).encode()


def read_request(connection: socket.socket) -> bytes:
    """Read a request until its body is whole; nothing where the client went."""
    data = b""
    while b"\r\n\r\n" not in data:
        piece = connection.recv(65536)
        if not piece:
            return b""
        data += piece
    begin, _, body = data.partition(b"\r\n\r\n")
    lengths = [line.split(b":")[1] for line in begin.lower().split(b"\r\n") if line.startswith(b"content-length:")]
    while len(body) < int(lengths[0] if lengths else 0):
        body += connection.recv(65536)
    return begin + b"\r\n\r\n" + body


@contextmanager
def answering(answer: Answering, *, port: int = 0) -> Iterator[str]:
    """Serve: `answer` is given each connection with its first request, and the connection is closed after it."""
    with socket.socket() as listening:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(("127.0.0.1", port))
        listening.listen(16)

        def one(connection: socket.socket) -> None:
            with connection, suppress(OSError):
                request = read_request(connection)
                if request:
                    answer(connection, request)
                connection.shutdown(socket.SHUT_WR)

        def serve() -> None:
            with suppress(OSError):
                while True:
                    connection, _ = listening.accept()
                    threading.Thread(target=one, args=(connection,), daemon=True).start()

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        with suppress(OSError):
            listening.shutdown(socket.SHUT_RDWR)
        thread.join(5)
