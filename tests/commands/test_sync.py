"""`studbook sync`: it says what stands between the books, and waits for the service's own exchange."""

import asyncio
from pathlib import Path
from typing import Any

import pytest

from exchange.making import run
from exchange.wire import served, spelled
from studbook_service.commands import sync as command
from studbook_service.commands.node import open_node, read_settings
from studbook_service.commands.peers import _add
from studbook_service.commands.sync import _sync
from studbook_service.exchange import driver
from studbook_service.exchange.admission import NOBODYS, AdmissionRules
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond
from studbook_service.store import Founded


def exchanged(author: str) -> None:
    """Record two revisions, and exchange twice with a peer that does not know their author."""

    async def exchanging() -> None:
        shop = MemoryBook(b"book two")

        async def reply(request: bytes) -> bytes:
            return spelled((await respond(shop, request, via="us", rules=AdmissionRules(authors=NOBODYS))).body)

        async with served(reply) as address:
            await _add(read_settings(None, None), address, join=False)
            async with open_node(read_settings(None, None)) as node:
                await node.book.append(run(2, author=author))
            for _ in range(2):
                await _sync(read_settings(None, None), None, from_start=False)

    asyncio.run(exchanging())


def test_what_was_refused_once_is_told_at_every_exchange(at_home: Founded, capsys: Any) -> None:
    exchanged(at_home.member)
    out = capsys.readouterr().out
    assert "shop takes what its own members record here" in out
    assert out.count("on car/7/sheet/baseline: its author is no member there") == 2 * 2
    assert out.count("  once that is mended: studbook sync shop --from-start\n") == 2


def test_an_exchange_under_way_is_waited_for(at_home: Founded, capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    carried = driver.sync
    failed: list[str] = []

    async def first_busy(*args: Any, **more: Any) -> Any:
        if not failed:
            failed.append("once")
            raise driver.UnderWay("shop: another exchange with it is under way")
        return await carried(*args, **more)

    monkeypatch.setattr(driver, "sync", first_busy)
    monkeypatch.setattr(command, "_WAITS_S", (0,))
    exchanged(at_home.member)
    assert failed
    assert capsys.readouterr().out.count("shop: 0 sent") == 2


def test_no_book_begins_by_exchanging(capsys: Any, tmp_path: Path) -> None:
    with pytest.raises(SystemExit):
        command.sync(data=tmp_path)
    assert f"there is no book in {tmp_path}: " in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
