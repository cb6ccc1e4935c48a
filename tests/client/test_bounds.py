"""What a hostile service may send: it is read up to a bound, nothing is unfolded, and it is refused quickly."""

import asyncio
import resource
import socket
import subprocess
import sys
import time
import zlib
from collections.abc import Callable
from typing import Any

import pytest

from client.calling import Both
from client.hostile import answering, head
from studbook import AsyncStudbook, Studbook, UnreadableAnswerError
from studbook.core.flows.export import LINE_MOST, Lines
from studbook.transport import ANSWER_MOST
from studbook.wire.export import Table

ZEROS = b" " * (1 << 20)


def endless(connection: socket.socket, _: bytes) -> None:
    """Send a body without end, up to 3 GB."""
    connection.sendall(head("content-type: application/json"))
    for _turn in range(3000):
        connection.sendall(ZEROS)


def announced(connection: socket.socket, _: bytes) -> None:
    connection.sendall(head("content-length: 3000000000") + ZEROS)


def announced_beyond_all(connection: socket.socket, _: bytes) -> None:
    connection.sendall(head("content-length: " + "9" * 400) + ZEROS)


def bomb(connection: socket.socket, _: bytes) -> None:
    """Send a megabyte that unfolds to a gigabyte."""
    pack = zlib.compressobj(9, wbits=31)
    body = b"".join(pack.compress(ZEROS) for _ in range(1024)) + pack.flush()
    connection.sendall(head("content-encoding: gzip", f"content-length: {len(body)}") + body)


def refusal(connection: socket.socket, _: bytes) -> None:
    connection.sendall(head("content-type: application/problem+json", status="422 No"))
    for _turn in range(3000):
        connection.sendall(ZEROS)


def deep(connection: socket.socket, _: bytes) -> None:
    body = b'{"items":' + b"[" * 200_000
    connection.sendall(head(f"content-length: {len(body)}") + body)


def of_number(connection: socket.socket, _: bytes) -> None:
    body = b'{"items":' + b"9" * 100_000 + b"}"
    connection.sendall(head(f"content-length: {len(body)}") + body)


HOSTILE: dict[str, tuple[Callable[[socket.socket, bytes], None], str]] = {
    "without end": (endless, "larger than 16 MiB"),
    "announced": (announced, "larger than 16 MiB"),
    "announced beyond all": (announced_beyond_all, "cannot be read|does not answer"),
    "a bomb": (bomb, "compressed, which was not asked for"),
    "a refusal without end": (refusal, "larger than 1 MiB"),
    "deep": (deep, "cannot be read"),
    "a number of 100,000 digits": (of_number, "cannot be read"),
}


def peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@pytest.mark.parametrize(("answer", "why"), HOSTILE.values(), ids=HOSTILE)
def test_an_answer_is_bounded(call: Both, answer: Any, why: str) -> None:
    before, begun = peak_mib(), time.monotonic()
    with answering(answer) as url, pytest.raises(Exception, match=why) as caught:
        call(url, "cars", timeout_s=20 if "answer" not in why else 1)
    assert isinstance(caught.value, UnreadableAnswerError) or "answer" in why
    assert peak_mib() - before < 200
    assert time.monotonic() - begun < 15


def stream(connection: socket.socket, request: bytes) -> None:
    """A table whose one line never ends."""
    if b"/v1/export " in request:
        body = b'{"cursor":"0-0","items":[{"name":"laps","about":"","key":[],"columns":[]}]}'
        connection.sendall(head(f"content-length: {len(body)}") + body)
        return
    connection.sendall(head("content-type: application/x-ndjson") + b'[[{"a":"')
    for _turn in range(3000):
        connection.sendall(ZEROS)


def test_a_line_of_a_stream_is_bounded(call: Both) -> None:
    async def waiting(url: str) -> None:
        async with AsyncStudbook(url, "sbk_t") as book:
            [_ async for _ in book.export("laps")]

    before = peak_mib()
    with answering(stream) as url, pytest.raises(UnreadableAnswerError, match=f"longer than {LINE_MOST >> 20} MiB"):  # noqa: PT012 - two clients, one call
        if call.waiting:
            asyncio.run(waiting(url))
        else:
            with Studbook(url, "sbk_t") as book:
                list(book.export("laps"))
    assert peak_mib() - before < 300


def test_a_page_does_not_unfold_without_bound() -> None:
    cells = ",".join(f'"c{number}":1' for number in range(1000))
    page = f"[[{{{cells}}}],[{','.join(['[0]'] * 3000)}]]\n".encode()
    assert len(page) < 40_000
    with pytest.raises(UnreadableAnswerError, match="more than 2000000 cells"):
        Lines(Table(name="", about="", key=[], columns=[])).rows(page)


def test_memory_is_bounded_in_a_process_of_its_own() -> None:
    program = (
        "import resource, sys, studbook\n"
        "resource.setrlimit(resource.RLIMIT_AS, (700 << 20, 700 << 20))\n"
        "try: studbook.Studbook(sys.argv[1], 'sbk_t').cars()\n"
        "except studbook.UnreadableAnswerError as error: print(error)\n"
    )
    with answering(endless) as url:
        done = subprocess.run([sys.executable, "-c", program, url], capture_output=True, text=True, check=False)
    assert "larger than" in done.stdout, done.stderr
    assert ANSWER_MOST >> 20 == 16
