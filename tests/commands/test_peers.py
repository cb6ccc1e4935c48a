"""`studbook peers`: another node becomes our home when it is one, and a lost home is replaced."""

import asyncio
import json
from pathlib import Path
from typing import Any

import pytest

from exchange.making import run
from exchange.wire import served, spelled
from studbook_service.commands.node import open_node, read_settings
from studbook_service.commands.peers import _add, home, show
from studbook_service.exchange.book import OtherBook
from studbook_service.exchange.driver import Address
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond
from studbook_service.store import Founded

THEIRS = b"book two"


def added(peer: MemoryBook, *, join: bool = False) -> Any:
    """Add a peer that answers from a book in memory; give where home is then, and what was recorded last."""

    async def adding() -> Any:
        async def reply(request: bytes) -> bytes:
            return spelled((await respond(peer, request, via="us")).body)

        async with served(reply) as address:
            await _add(read_settings(None, None), Address("shop", address.url, "sbk_x"), join=join)
        async with open_node(read_settings(None, None)) as node:
            rows = await node.books.access.audit(node.team, after=0, limit=100)
            return await node.books.access.home(node.team), json.loads(rows[-1].event), await node.book.identity()

    return asyncio.run(adding())


def test_a_peer_at_home_becomes_our_home(at_home: Founded, capsys: Any, tmp_path: Path) -> None:
    where, recorded, identity = added(MemoryBook(THEIRS))
    assert (where, identity) == ("shop", THEIRS)
    assert (recorded["action"], recorded["actor"], recorded["detail"]) == ("home.set", at_home.member, {"peer": "shop"})
    assert "decided there" in capsys.readouterr().out
    assert next((tmp_path / "peers").rglob("shop")).stat().st_mode & 0o777 == 0o600
    show()
    assert "shop  (home)" in capsys.readouterr().out


def test_a_peer_that_has_a_home_elsewhere_does_not(at_home: Founded, capsys: Any) -> None:
    where, recorded, _ = added(MemoryBook(THEIRS, home="elsewhere"))
    assert where is None
    assert recorded["action"] == "team.found"
    assert "decided there" not in capsys.readouterr().out
    assert at_home.team


def test_another_teams_home_does_not(at_home: Founded) -> None:
    async def fill() -> None:
        async with open_node(read_settings(None, None)) as node:
            await node.book.append(run(1, author=at_home.member))

    asyncio.run(fill())
    with pytest.raises(OtherBook):
        added(MemoryBook(THEIRS))
    assert added(MemoryBook(THEIRS), join=True)[0] == "shop"


def test_a_lost_home_is_replaced(at_home: Founded, capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    added(MemoryBook(THEIRS))
    capsys.readouterr()
    home(here=True)
    assert capsys.readouterr().out == "here\n"
    home("shop")
    home()
    assert capsys.readouterr().out == "shop\nshop\n"
    with pytest.raises(SystemExit):
        home("nobody")
    monkeypatch.delenv("STUDBOOK_TOKEN")
    with pytest.raises(SystemExit):
        home(here=True)
    assert "whose book?" in capsys.readouterr().err
    assert at_home.token
