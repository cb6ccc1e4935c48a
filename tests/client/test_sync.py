"""Asking the service to exchange: waiting for the end, and hearing how far it is, with either client."""

from typing import Any

import pytest

from client.calling import Both, said
from studbook import NoPeersError, PeerFailedError

RUNNING = {"peer": "shop", "number": 7, "running": True, "requests": 1, "received": 40}
DONE = {"peer": "shop", "number": 7, "requests": 3, "received": 90, "sent": 2, "split": ["car/7/sheet/baseline"]}


def test_it_asks_until_the_exchange_has_ended(served: Any, call: Both) -> None:
    served.say(said(served, RUNNING), said(served, RUNNING), said(served, DONE))
    [done] = call(served.url, "sync", "shop")
    assert (done.running, done.received, done.split) == (False, 90, ["car/7/sheet/baseline"])
    assert [asked.path for asked in served.asked] == [
        "/v1/peers/shop/sync?within_s=10",
        *["/v1/peers/shop/sync?within_s=10&number=7"] * 2,
    ]
    assert {asked.method for asked in served.asked} == {"POST"}


def test_progress_is_told(served: Any, call: Both) -> None:
    served.say(said(served, RUNNING), said(served, DONE))
    heard: list[Any] = []
    assert call(served.url, "sync", "shop", progress=heard.append)[0].received == 90
    assert [each.received for each in heard] == [40]
    assert served.asked[0].path == "/v1/peers/shop/sync?within_s=1"


def test_all_peers_where_none_is_named(served: Any, call: Both) -> None:
    peers = {"items": [{"name": name, "url": "https://x.test", "waiting": 0} for name in ("pits", "shop")]}
    served.say(said(served, peers), said(served, DONE | {"peer": "pits"}), said(served, DONE))
    assert [each.peer for each in call(served.url, "sync")] == ["pits", "shop"]


@pytest.mark.parametrize(
    ("code", "status", "error"), [("no_peers", 409, NoPeersError), ("peer_failed", 502, PeerFailedError)]
)
def test_what_cannot_be_is_said_at_once(served: Any, call: Both, code: str, status: int, error: Any) -> None:
    problem = {"type": "t", "title": "T", "status": status, "code": code, "request_id": "r"}
    served.say(said(served, problem, status=status))
    with pytest.raises(error):
        call(served.url, "sync", "shop")
    assert len(served.asked) == 1
