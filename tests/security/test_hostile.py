"""A corpus of bodies that nobody means well with: each is refused in bounded time and memory, and the book stands."""

import asyncio
import base64
import contextlib
import time
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import pytest

from security.hostile.bodies import OTHER, PUSH
from security.hostile.frames import BAD, FRAMES, REFUSED, frame, head, packed
from security.hostile.tables import TABLES
from security.teams import DOCUMENT, Answer, Team, running
from security.teams import FRAMES as FRAMES_SENT
from studbook.formats import FormatError, read
from studbook.history.canonical import UnrecordableError, parse
from studbook.wire.exchange import Head
from studbook_service.app import create_app
from studbook_service.exchange.frames import DOWN, Reader

FOLDER = Path(__file__).parent / "hostile" / "found"
FOUND = {file.name: file.read_bytes() for file in sorted(FOLDER.glob("*-*"))}
SHEET = "/v1/cars/7/sheets/baseline"
CPU_MOST_S = 5.0
"""Of processor time, whatever else the machine does; the worst take a tenth."""

MEMORY_MOST = 100 * 1024 * 1024
"""Beside a body of at most 1 MiB."""

PEAK = Path("/proc/self/clear_refs")


@pytest.fixture(scope="module")
async def team(shared_database: Any) -> AsyncIterator[Team]:
    """A team with a car and a sheet, at an application of its own."""
    async with running(create_app(dsn=shared_database.serving_dsn, rate=0)) as app:
        team = await Team.founded_in(app, shared_database.owner_dsn)
        await team.add_car("7")
        await team.push(SHEET, document=DOCUMENT)
        yield team


@pytest.fixture(autouse=True)
async def unchanged(team: Team) -> AsyncIterator[None]:
    """The book stands where it stood, seq and chain, and so does access."""
    book = team.app.app.app.state.context.book

    async def stands() -> list[Any]:
        access = book.access
        return [
            await book.team_head(team.founded.team),
            *[
                await read(team.founded.team)
                for read in (access.members, access.tokens, access.shares, access.protected)
            ],
        ]

    before = await stands()
    yield
    assert await stands() == before


@contextlib.contextmanager
def bounded() -> Iterator[None]:
    """Bound a block's processor time and, where the system tells it, how far the process grows."""
    if PEAK.exists():
        PEAK.write_text("5")  # proc(5): the peak begins anew
    before, begun = resident("VmRSS"), time.process_time()
    yield
    assert time.process_time() - begun < CPU_MOST_S
    assert resident("VmHWM") - before < MEMORY_MOST


def resident(what: str) -> int:
    """Read this process's resident memory, bytes."""
    if not PEAK.exists():
        return 0
    line = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith(what))
    return int(line.split()[1]) * 1024


def refused(answer: Answer, code: str) -> None:
    """It says no, and shortly."""
    assert 400 <= answer.status < 500, answer.text[:500]
    assert answer.code == (code or answer.code), answer.text[:500]
    assert len(answer.body) < 200_000
    assert answer.json["request_id"] == answer.headers["x-request-id"]


def test_the_corpus_is_large() -> None:
    assert len(PUSH) + len(OTHER) + len(TABLES) + len(FRAMES) >= 150


@pytest.mark.parametrize(("body", "code"), PUSH.values(), ids=PUSH)
async def test_a_push(team: Team, body: str | bytes, code: str) -> None:
    data = body if isinstance(body, bytes) else body.encode()
    with bounded():
        answer = await team.ask("chief", "POST", f"{SHEET}/revisions", data, **pushing(team))
    refused(answer, code)


def pushing(team: Team) -> dict[str, str]:
    """Headers of a push on the sheet as it stands."""
    return {"if_match": f'"{team.tags[SHEET]}"', "content_type": "application/json"}


@pytest.mark.parametrize(("method", "target", "body", "code"), OTHER.values(), ids=OTHER)
async def test_another_body(team: Team, method: str, target: str, body: str, code: str) -> None:
    data = body.replace("%s", team.refs[SHEET][0]).encode()
    with bounded():
        answer = await team.ask("chief", method, target, data, **pushing(team))
    refused(answer, code)


@pytest.mark.parametrize("text", TABLES.values(), ids=TABLES)
async def test_a_table(team: Team, text: str | bytes) -> None:
    """The client refuses it, telling some lines; what the client reads, the service refuses."""
    with bounded():
        tree = readable(text)
        if tree is None:
            return
        answer = await team.ask("chief", "POST", f"{SHEET}/revisions", {"document": tree}, **pushing(team))
    refused(answer, "")


def readable(text: str | bytes) -> Any:
    """Read a table; None where it is refused, shortly."""
    try:
        return read(text, "csv")
    except FormatError as error:
        told = error
    assert len(told.faults) <= 501
    assert len(str(told)) < 500_000
    return None


@pytest.mark.parametrize(("make", "code"), FRAMES.values(), ids=FRAMES)
async def test_frames(team: Team, make: Any, code: str) -> None:
    data = make(await identity(team))
    with bounded():
        answer = await exchanged(team, data)
    refused(answer, code)


@pytest.mark.parametrize("row", REFUSED.values(), ids=REFUSED)
async def test_an_entry_of_an_exchange(team: Team, row: dict[str, Any]) -> None:
    book = await identity(team)
    said = {"lines": [["car/9", "car"]], "authors": [team.members["chief"]], "rows": [row], "checks": "AAAAAA=="}
    data = packed(head(book), frame(said | {"digest": base64.b64encode(bytes(16)).decode()}))
    with bounded():
        answer = await exchanged(team, data)
    if answer.status == 200:
        told = next(Reader(DOWN).feed(answer.body))
        assert isinstance(told, Head)
        assert told.refused
    else:
        refused(answer, BAD)


async def identity(team: Team) -> str:
    """The book's identity in base64."""
    state = await team.app.app.app.state.context.book.team_head(team.founded.team)
    return base64.b64encode(state.book).decode()


async def exchanged(team: Team, data: bytes) -> Answer:
    headers = {name.replace("-", "_"): value for name, value in FRAMES_SENT.items()}
    return await team.ask("chief", "POST", "/v1/exchange", data, **headers)


@pytest.mark.parametrize("file", FOUND)
async def test_what_the_fuzzer_found(team: Team, file: str) -> None:
    """The first part of the name is the parser; it says no in its own words."""
    data = FOUND[file]
    with bounded():
        match file.partition("-")[0]:
            case "canonical":
                with contextlib.suppress(UnrecordableError):
                    parse(data)
            case "frames":
                answer = await exchanged(team, data)
                assert answer.status < 500
            case form:
                with contextlib.suppress(FormatError):
                    read(data, form)  # type: ignore[arg-type] # named by its form


async def test_many_at_once_do_not_add_up(team: Team) -> None:
    """Eight of the largest at a time, refused alike."""
    body = PUSH["130,000 empty arrays"][0]
    assert isinstance(body, str)
    sent = [team.ask("chief", "POST", f"{SHEET}/revisions", body.encode(), **pushing(team)) for _ in range(8)]
    for answer in await asyncio.gather(*sent):
        refused(answer, "too_large")
