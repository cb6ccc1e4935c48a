"""Exchanging over HTTP: who may, what is refused, and many at once."""

import asyncio
import json
import os
from collections.abc import AsyncIterator
from typing import Any

import httpx2
import msgspec
import pytest

from exchange.making import entry, run
from exchange.wire import NOW, run_session
from studbook.history.merge import AUTHOR
from studbook.wire.exchange import MEDIA_TYPE, VERSION, Frame, Head, Home, HomeMember
from studbook_service.actions.team_book import TeamBook
from studbook_service.exchange.composing import Composer
from studbook_service.exchange.erasures import erasure
from studbook_service.exchange.frames import DOWN, UP, Writer, whole
from studbook_service.exchange.initiator import Session, new_peer_state
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import member_names, respond
from studbook_service.store import BookStore, Founded

HEADERS = {"content-type": MEDIA_TYPE}


def hello() -> bytes:
    writer = Writer()
    writer.add(Head(v=VERSION))
    return writer.finish()


async def ours(book: BookStore, team: Founded) -> bytes:
    return (await book.team_head(team.team)).book


async def sync(client: httpx2.AsyncClient, book: Any) -> Any:
    """Let a book in this process exchange with the application."""

    async def send(request: bytes) -> AsyncIterator[bytes]:
        answer = await client.post("/v1/exchange", content=request, headers=HEADERS)
        assert answer.status_code == 200, answer.text
        yield answer.content

    session = await Session.begin(book, "shop")
    await run_session(session, send)
    return await session.finish(NOW)


async def test_a_laptop_gets_the_book_and_brings_its_own(
    sheet: Any, book: BookStore, team: Founded, with_role: Any
) -> None:
    node = await with_role("node")
    laptop = MemoryBook(await ours(book, team), home="shop")
    made = run(3, line="car/8/sheet/baseline", author="chief")
    await laptop.append(made)
    progress = await sync(node, laptop)
    assert (progress.sent, progress.received) == (3, 2)
    assert member_names(await laptop.decided()) == {team.member: "Chris", "node": "Node"}
    shown = (await sheet.client.get(f"/v1/revisions/{made[-1].id}")).json()
    assert shown["author"] == {"id": "chief", "name": "Chris"}
    kept = await book.get(team.team, bytes.fromhex(made[-1].id))
    assert kept is not None
    assert kept.via == "node"
    assert not (await sync(node, laptop)).received


@pytest.mark.parametrize(("role", "status"), [("viewer", 403), ("crew", 403), ("node", 200)])
async def test_only_nodes_and_chiefs_exchange(with_role: Any, role: str, status: int) -> None:
    client = await with_role(role)
    answer = await client.post("/v1/exchange", content=hello(), headers=HEADERS)
    assert answer.status_code == status


async def test_a_node_pushes_nothing_by_itself(with_role: Any) -> None:
    client = await with_role("node")
    assert (await client.post("/v1/cars", json={"car": "9"})).status_code == 403


async def test_an_author_the_team_never_had_is_refused(join: Any, book: BookStore, team: Founded) -> None:
    laptop = MemoryBook(await ours(book, team), home="shop")
    await laptop.append([entry({"n": 1}, line="car/9", kind="car", author="nobody")])
    node = await join("pits", "node")
    assert [each.code for each in (await sync(node.client, laptop)).refused] == ["unknown_author"]
    assert (await book.team_head(team.team)).seq == 0


async def test_a_laptop_that_began_alone_introduces_its_people(
    client: Any, join: Any, book: BookStore, team: Founded
) -> None:
    laptop = MemoryBook(await ours(book, team), home="shop")
    await laptop.take_home(Home(members={"m-ada": HomeMember("Ada", "chief")}))
    await laptop.append([entry({"n": 1}, line="car/9", kind="car", author="m-ada")])
    node = await join("pits", "node", introduces=True)
    assert not (await sync(node.client, laptop)).refused
    shown = {each["id"]: each for each in (await client.get("/v1/members")).json()["items"]}
    assert shown["m-ada"] == {"id": "m-ada", "name": "Ada", "role": "crew"}
    told = [json.loads(row.event) for row in await book.access.audit(team.team, after=0, limit=100)]
    assert {"actor": node.id, "action": "member.add", "subject": "m-ada"}.items() <= told[-1].items()
    # What home decides reached the laptop with the answer.
    assert (await laptop.decided()).members["m-ada"].role == "crew"
    assert (await laptop.decided()).members[team.member] == HomeMember("Chris", "chief")


@pytest.mark.parametrize(("flag", "codes"), [(False, ["protected"]), (True, [])])
async def test_a_protected_sheet_is_for_laptops_made_for_it(
    sheet: Any, client: Any, join: Any, book: BookStore, team: Founded, *, flag: bool, codes: list[str]
) -> None:
    assert (await client.put(f"{sheet.path}/protection")).status_code == 200
    node = await join("pits", "node", protected=flag)
    laptop = MemoryBook(await ours(book, team), home="shop")
    await sync(node.client, laptop)
    assert (await laptop.decided()).protected == ["car/7/sheet/baseline"]
    [tip] = (await laptop.get([sheet.id])).values()
    await laptop.append([entry({"notes": "tacky"}, parents=[tip])])
    assert [each.code for each in (await sync(node.client, laptop)).refused] == codes
    assert len(await book.tips(team.team, "car/7/sheet/baseline")) == 1
    assert ((await book.tips(team.team, "car/7/sheet/baseline"))[0].id.hex() == sheet.id) is not flag


async def test_a_merge_that_a_laptop_accepted_is_taken(sheet: Any, join: Any, book: BookStore, team: Founded) -> None:
    node = await join("pits", "node")
    laptop = MemoryBook(await ours(book, team), home="shop")
    await sync(node.client, laptop)
    [tip] = (await laptop.get([sheet.id])).values()
    sides = [entry({"notes": note}, parents=[tip]) for note in ("tacky", "slick")]
    await laptop.append([*sides, merged := entry({"notes": "tacky"}, parents=sides, author=AUTHOR)])
    assert not (await sync(node.client, laptop)).refused
    shown = (await sheet.client.get(sheet.path)).json()
    assert [each["id"] for each in shown["tips"]] == [merged.id]
    assert shown["tips"][0]["author"] == {"id": "merge", "name": "merge"}
    assert AUTHOR not in {member.id for member in await book.access.members(team.team)}


async def test_an_erasure_is_brought_by_nobody(sheet: Any, client: Any, book: BookStore, team: Founded) -> None:
    laptop = MemoryBook(await ours(book, team), home="shop")
    await sync(client, laptop)
    await laptop.append([erasure([sheet.id], reason="asked for", at_ms=1)])
    assert [each.code for each in (await sync(client, laptop)).refused] == ["not_home"]
    assert (await client.get(f"/v1/revisions/{sheet.id}/document")).json() == sheet.document


@pytest.mark.parametrize(
    ("content", "headers", "code"),
    [
        (b"{}", {"content-type": "application/json"}, "media_type"),
        (b"nonsense", HEADERS, "bad_frames"),
        (bytes(UP.most + 1), HEADERS, "too_large"),
    ],
)
async def test_what_is_no_exchange_is_refused(client: Any, content: bytes, headers: Any, code: str) -> None:
    assert (await client.post("/v1/exchange", content=content, headers=headers)).json()["code"] == code


async def test_another_teams_book_is_refused(stranger: Any, book: BookStore, team: Founded) -> None:
    writer = Writer()
    writer.add(Head(v=VERSION, book=await ours(book, team)))
    writer.add(Composer().frame(list(run(1)), {}))
    assert (await stranger.post("/v1/exchange", content=writer.finish(), headers=HEADERS)).json()[
        "code"
    ] == "other_book"
    assert (await book.team_head(team.team)).seq == 0


async def test_a_hello_tells_which_book_it_is_and_nothing_of_it(
    client: Any, book: BookStore, team: Founded, sheet: Any
) -> None:
    assert sheet.id
    answer = await client.post("/v1/exchange", content=hello(), headers=HEADERS)
    head, frames = whole(answer.content, DOWN)
    assert head.book == await ours(book, team)
    assert frames == [Frame(more=True)]


async def test_sixteen_laptops_on_many_sheets_with_pushers_beside_them(
    sheet: Any, book: BookStore, team: Founded
) -> None:
    """Each brings frames over the same 40 lines while the crew pushes: nobody waits for ever, no tip is lost."""
    identity = await ours(book, team)
    laptops = []
    for number in range(16):
        laptop = MemoryBook(identity)
        for line in range(40):
            await laptop.append([entry({"n": number}, line=f"car/{line}/sheet/dirt", at=number)])
        laptops.append(laptop)

    async def push() -> int:
        pushed = 0
        for turn in range(15):
            tag = (await sheet.client.get(sheet.path)).headers["etag"].strip('"')
            pushed += (await sheet.edit(1.0 + turn / 100 + os.urandom(1)[0] / 1e5, tag=tag)).status_code == 201
        return pushed

    async with asyncio.timeout(60):
        *done, one, other = await asyncio.gather(*(sync(sheet.client, laptop) for laptop in laptops), push(), push())
    assert sum(progress.sent for progress in done) == 16 * 40
    for laptop in laptops:
        await sync(sheet.client, laptop)
    seq = (await book.team_head(team.team)).seq
    assert seq == 2 + 16 * 40 + one + other
    for line in range(40):
        assert len(await book.tips(team.team, f"car/{line}/sheet/dirt")) == 16
    assert {await laptop.end() for laptop in laptops} == {seq}


async def test_peers_are_shown(client: Any, book: BookStore, team: Founded, sheet: Any) -> None:
    assert (await client.get("/v1/peers")).json() == {"items": []}
    await book.peers.set(team.team, "shop", "https://shop.test", state=msgspec.json.encode(new_peer_state(0)))
    [shown] = (await client.get("/v1/peers")).json()["items"]
    assert shown == {"name": "shop", "url": "https://shop.test", "waiting": 2}
    assert sheet.id
    other = MemoryBook(await ours(book, team))
    own = TeamBook(book, team.team)

    async def send(request: bytes) -> AsyncIterator[bytes]:
        yield (await respond(other, request, via="us")).body

    session = await Session.begin(own, "shop")
    await run_session(session, send)
    await session.finish(NOW)
    [shown] = (await client.get("/v1/peers")).json()["items"]
    assert (shown["waiting"], shown["reached_at"]) == (0, "2026-11-25T00:00:00Z")
