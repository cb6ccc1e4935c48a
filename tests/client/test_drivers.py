"""Both drivers over real sockets: lost replies, waits that the service asks for, the deadline, garbage."""

import threading
from typing import Any

import pytest

from client.calling import Both, said
from studbook import (
    BadDocumentError,
    ConnectionFailedError,
    DeadlineError,
    Studbook,
    UnavailableError,
    UnreadableAnswerError,
)

REVISION = {
    "id": "a" * 64,
    "kind": "sheet",
    "line": "car/7/sheet/baseline",
    "car": "7",
    "sheet": "baseline",
    "parents": [],
    "generation": 0,
    "author": {"id": "m1"},
    "at": "2026-05-02T18:30:00Z",
    "received_at": "2026-05-02T18:30:01Z",
    "note": "",
    "content": "0" * 64,
}
SHEET = {"car": "7", "sheet": "baseline", "tips": [REVISION], "tag": "t1", "split": False, "document": {"notes": "a"}}
PUSHED = {"revision": REVISION, "tag": "t2", "recorded": True}
UNAVAILABLE = {"type": "t", "title": "T", "status": 503, "code": "unavailable", "request_id": "r"}


def test_a_call_carries_the_token(served: Any, call: Both) -> None:
    served.say(said(served, {"items": []}))
    assert call(served.url + "/", "cars") == []
    assert (served.asked[0].method, served.asked[0].path) == ("GET", "/v1/cars")
    assert served.asked[0].headers["authorization"] == "Bearer sbk_t"


def test_a_lost_reply_is_asked_for_again_with_the_same_key(served: Any, call: Both) -> None:
    served.say(said(served, SHEET), said(served, lost=True), said(served, PUSHED))
    pushed = call(served.url, "edit", "7/baseline", {"notes": "b"}, note="n")
    assert pushed.tag == "t2"
    first, second = served.asked[1:]
    assert first.headers["idempotency-key"] == second.headers["idempotency-key"]
    assert first.body == second.body == b'{"note":"n","edits":[{"path":"notes","value":"b"}]}'
    assert first.headers["if-match"] == '"t1"'


def test_retry_after_is_kept_to_or_given_up(served: Any, call: Both) -> None:
    served.say(said(served, UNAVAILABLE, status=503, headers={"retry-after": "0"}), said(served, {"items": []}))
    assert call(served.url, "cars") == []
    served.say(said(served, UNAVAILABLE, status=503, headers={"retry-after": "99"}))
    with pytest.raises(UnavailableError):
        call(served.url, "cars")
    assert len(served.asked) == 3


def test_the_deadline_ends_a_silence(served: Any, call: Both) -> None:
    release = threading.Event()
    served.say(said(served, {"items": []}, after=release))
    with pytest.raises(DeadlineError, match=r"within 0.2 s"):
        call(served.url, "cars", timeout_s=0.2)
    release.set()


@pytest.mark.parametrize("body", [b"", b"<html>busy</html>", b'{"items": 3}', b"\xff"])
def test_garbage_is_told(served: Any, call: Both, body: bytes) -> None:
    garbage = said(served)
    garbage.body = body
    served.say(garbage)
    with pytest.raises(UnreadableAnswerError):
        call(served.url, "cars")


def test_a_reply_that_is_cut_short_is_a_broken_connection(served: Any, call: Both) -> None:
    served.say(said(served, {"items": []}, headers={"content-length": "9999", "connection": "close"}))
    with pytest.raises(ConnectionFailedError, match="does not answer"):
        call(served.url, "cars", timeout_s=1.5)


def test_nobody_there(call: Both) -> None:
    with pytest.raises(ConnectionFailedError, match=r"http://127.0.0.1:1 does not answer"):
        call("http://127.0.0.1:1", "cars", timeout_s=1)


def test_pages_follow_by_themselves(served: Any, call: Both) -> None:
    served.say(
        said(served, {"items": [REVISION], "next": "c 1&"}),
        said(served, {"items": [REVISION], "next": "c2"}),
        said(served, {"items": []}),
    )
    assert len(call(served.url, "history", "7/baseline", page=1)) == 2
    assert [asked.path.partition("?")[2] for asked in served.asked] == [
        "limit=1",
        "limit=1&cursor=c+1%26",
        "limit=1&cursor=c2",
    ]


def test_a_refusal_is_typed_with_every_fault(served: Any, call: Both) -> None:
    problem = UNAVAILABLE | {
        "status": 422,
        "code": "bad_document",
        "errors": [{"detail": "a: no", "path": "a"}, {"detail": "b: no", "path": "b"}],
    }
    served.say(said(served, problem, status=422))
    with pytest.raises(BadDocumentError) as caught:
        call(served.url, "new_sheet", "7/baseline", {"a": 1})
    assert [fault.path for fault in caught.value.faults] == ["a", "b"]


def test_a_redirect_is_not_followed(served: Any, call: Both) -> None:
    served.say(said(served, status=302, headers={"location": "http://127.0.0.1:1/"}))
    with pytest.raises(UnreadableAnswerError, match="status 302"):
        call(served.url, "cars")


def test_a_closed_client_opens_again(served: Any) -> None:
    served.say(said(served, {"items": []}))
    book = Studbook(served.url, "t")
    assert book.cars() == []
    book.close()
    assert book.cars() == []
    book.close()
