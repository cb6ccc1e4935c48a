"""Exchanging with a peer when asked to, through the service."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from exchange.making import run
from exchange.wire import served, spelled
from studbook_service.actions.context import Context
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.known_peers import PeerTokens
from studbook_service.exchange.initiator import new_peer_state
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond
from studbook_service.store import BookStore, Founded

SYNC = "/v1/peers/shop/sync"


class Shop:
    """A peer in this process, as slow and as unwilling as it is told to be."""

    def __init__(self, book: MemoryBook) -> None:
        self.book = book
        self.problem = b""
        self.open = asyncio.Event()
        self.open.set()

    async def reply(self, asked: bytes) -> bytes:
        """Answer a request when the gate is open."""
        await self.open.wait()
        if self.problem:
            return spelled(self.problem, "403 Forbidden")
        return spelled((await respond(self.book, asked, via="pits")).body)


@pytest.fixture
async def exchanging(context: Context, book: BookStore, tmp_path: Path) -> AsyncIterator[Exchanges]:
    """The service as if started to exchange, but by itself it does nothing."""
    context.exchanges = Exchanges(book, PeerTokens(tmp_path))
    yield context.exchanges
    await context.exchanges.close()
    context.exchanges = None


@pytest.fixture
async def shop(exchanging: Exchanges, book: BookStore, team: Founded, tmp_path: Path) -> AsyncIterator[Shop]:
    """A peer with some entries."""
    assert exchanging
    shop = Shop(MemoryBook((await book.team_head(team.team)).book))
    await shop.book.append(run(3, author=team.member))
    async with served(shop.reply) as address:
        await book.peers.set(team.team, "shop", address.url, state=msgspec.json.encode(new_peer_state(0)))
        PeerTokens(tmp_path).keep(team.team, "shop", "sbk_secret")
        yield shop


async def test_an_exchange_asked_for_says_what_it_came_to(
    client: Any, shop: Shop, book: BookStore, team: Founded
) -> None:
    done = await client.post(SYNC)
    assert done.status_code == 200, done.text
    counts = done.json()
    assert counts.pop("bytes_up") > 20
    assert counts.pop("bytes_down") > 100
    assert counts == {"peer": "shop", "number": 1, "requests": 1, "received": 3}
    assert (await book.team_head(team.team)).seq == 3
    assert (await client.post(SYNC, params={"number": 1})).json()["received"] == 3
    assert (await client.post(SYNC)).json()["number"] == 2
    assert await shop.book.end() == 3


async def test_one_that_goes_on_is_shown_and_joined(client: Any, shop: Shop, join: Any) -> None:
    shop.open.clear()
    begun = (await client.post(SYNC, params={"within_s": 0})).json()
    assert begun == {"peer": "shop", "number": 1, "running": True}
    crew = await join("Robin")
    assert (await crew.client.post(SYNC, params={"within_s": 0})).json()["number"] == 1
    [shown] = (await client.get("/v1/peers")).json()["items"]
    assert shown["running"] == begun
    shop.open.set()
    done = (await client.post(SYNC, params={"number": 1})).json()
    assert (done["number"], done.get("running", False), done["received"]) == (1, False, 3)
    [shown] = (await client.get("/v1/peers")).json()["items"]
    assert "running" not in shown


async def test_a_peer_that_is_gone_is_said_to_be(
    client: Any, exchanging: Exchanges, book: BookStore, team: Founded
) -> None:
    assert exchanging
    gone = await client.post(SYNC)
    assert (gone.status_code, gone.json()["code"]) == (404, "not_found")
    await book.peers.set(team.team, "shop", "http://127.0.0.1:1", state=msgspec.json.encode(new_peer_state(0)))
    assert (await client.post(SYNC)).json()["code"] == "not_found"


async def test_a_peer_that_refuses_is_quoted(client: Any, shop: Shop) -> None:
    shop.problem = (
        b'{"type":"urn:x","title":"This token may not do that","status":403,"code":"not_allowed","request_id":"r"}'
    )
    refused = await client.post(SYNC)
    assert (refused.status_code, refused.json()["code"]) == (502, "peer_failed")
    assert refused.json()["detail"] == "shop: This token may not do that"
    [shown] = (await client.get("/v1/peers")).json()["items"]
    assert shown["failure"] in refused.json()["detail"]


async def test_a_service_that_exchanges_with_nobody_says_so(client: Any) -> None:
    refused = await client.post(SYNC)
    assert (refused.status_code, refused.json()["code"]) == (409, "no_peers")
    assert "--peers" in refused.json()["detail"]


@pytest.mark.parametrize("role", ["viewer", "node"])
async def test_who_records_may_ask_for_it(with_role: Any, role: str) -> None:
    assert (await (await with_role(role)).post(SYNC)).status_code == 403


async def test_home_is_shown_among_the_peers(client: Any, shop: Shop, book: BookStore, team: Founded) -> None:
    assert shop.book
    await book.access.set_home(
        team.team, "shop", audit=b'{"action":"home.set","actor":"owner","at":0,"subject":"home"}'
    )
    assert (await client.get("/v1/peers")).json()["items"][0]["home"] is True
