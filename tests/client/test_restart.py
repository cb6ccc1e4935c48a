"""A restart of the service is ridden out: nothing listens for some seconds, then it answers. Nothing is doubled."""

import socket
import threading
import time
from typing import Any

import msgspec
import pytest

from client.calling import Both
from client.hostile import answering, head
from client.test_drivers import PUSHED, SHEET
from studbook import ConnectionFailedError, StudbookError


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    return port


def answer_of(value: Any) -> bytes:
    body = msgspec.json.encode(value)
    return head(f"content-length: {len(body)}") + body


@pytest.mark.parametrize("down_s", [2.0, 5.0])
def test_a_restart_is_ridden_out(call: Both, down_s: float) -> None:
    port, asked = free_port(), []

    def answer(connection: socket.socket, request: bytes) -> None:
        asked.append(request)
        connection.sendall(answer_of({"items": []}))

    def start() -> None:
        time.sleep(down_s)
        with answering(answer, port=port):
            done.wait(30)

    done = threading.Event()
    starting = threading.Thread(target=start)
    starting.start()
    begun = time.monotonic()
    assert call(f"http://127.0.0.1:{port}", "cars", timeout_s=30) == []
    assert down_s - 0.5 < time.monotonic() - begun < down_s + 6
    done.set()
    starting.join()
    assert len(asked) == 1


def test_a_write_that_was_cut_is_sent_with_its_key_until_it_is_answered(call: Both) -> None:
    keys: list[bytes] = []

    def answer(connection: socket.socket, request: bytes) -> None:
        if request.startswith(b"GET"):
            connection.sendall(answer_of(SHEET))
            return
        [key] = [line for line in request.split(b"\r\n") if line.lower().startswith(b"idempotency-key")]
        keys.append(key)
        if len(keys) > 8:
            connection.sendall(answer_of(PUSHED))

    with answering(answer) as url:
        assert call(url, "edit", "7/baseline", {"notes": "b"}, timeout_s=30).recorded
    assert len(keys) == 9
    assert len(set(keys)) == 1


def test_whether_it_was_recorded_is_always_told(call: Both) -> None:
    def answer(connection: socket.socket, request: bytes) -> None:
        if request.startswith(b"GET"):
            connection.sendall(answer_of(SHEET))

    with answering(answer) as url, pytest.raises(ConnectionFailedError) as caught:
        call(url, "edit", "7/baseline", {"notes": "b"}, timeout_s=1)
    assert caught.value.recorded == "not known"
    assert caught.value.key
    with pytest.raises(StudbookError) as caught_:
        call("http://127.0.0.1:1", "new_sheet", "7/baseline", {"notes": "b"}, timeout_s=1)
    assert (caught_.value.recorded, caught_.value.key) == ("no", None)
