"""A client of the application in this process, with a car and a sheet in the book. All numbers are invented."""

import asyncio
import datetime as dt
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx2
import pytest

from studbook.history.canonical import canonical, encode
from studbook.history.changes import FieldChange, apply
from studbook.history.ids import Header, entry_id, hash_content
from studbook.history.leaves import steps
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.app import create_app
from studbook_service.store import (
    BookStore,
    Founded,
    MemberRow,
    NewEntry,
    audit_event,
    found_team,
    mint,
    open_book,
    secret_hash,
)

Json = dict[str, Any]
UPPER_STUD = "setup.front.rf.upper_stud.length_in"


@asynccontextmanager
async def running(app: Any) -> AsyncIterator[None]:
    """Run an application's lifespan around a block, as a server does."""
    inbox: asyncio.Queue[Json] = asyncio.Queue()
    outbox: asyncio.Queue[Json] = asyncio.Queue()
    scope = {"type": "lifespan", "asgi": {"version": "3.0"}, "state": {}}
    task = asyncio.create_task(app(scope, inbox.get, outbox.put))
    await inbox.put({"type": "lifespan.startup"})
    assert (await outbox.get())["type"] == "lifespan.startup.complete"
    yield
    await inbox.put({"type": "lifespan.shutdown"})
    assert (await outbox.get())["type"] == "lifespan.shutdown.complete"
    await task


def client_of(app: Any, token: str | None = None) -> httpx2.AsyncClient:
    """Make a client that talks to an application without a network."""
    headers = {} if token is None else {"authorization": f"Bearer {token}"}
    return httpx2.AsyncClient(transport=httpx2.ASGITransport(app), base_url="http://studbook.test", headers=headers)


@pytest.fixture(scope="session")
async def app(shared_database: Any) -> AsyncIterator[Any]:
    """The application, on a database where each test has a team of its own."""
    app = create_app(dsn=shared_database.serving_dsn)
    async with running(app):
        yield app


@pytest.fixture
async def context(app: Any) -> Context:
    """What the application works with."""
    context: Context = app.app.app.state.context
    return context


@pytest.fixture
async def own_context(app: Any, shared_database: Any) -> AsyncIterator[Context]:
    """A context that the test may break, put in the application's place of its own."""
    shared, book = app.app.app.state.context, await open_book(shared_database.serving_dsn)
    app.app.app.state.context = own = Context(book=book, bearers=Bearers(book.access), engine_thread=EngineThread())
    watch = asyncio.create_task(own.watch())
    yield own
    app.app.app.state.context = shared
    watch.cancel()
    own.engine_thread.close()
    own.search_process.close()
    await book.close()


@pytest.fixture
async def team(shared_database: Any) -> Founded:
    """A team of the test's own."""
    return await found_team(shared_database.owner_dsn, team_name="Studbook crew", chief_name="Chris", chief_id="chief")


@pytest.fixture
def book(context: Context) -> BookStore:
    """The books, as the service sees them."""
    return context.book


@pytest.fixture
async def client(app: Any, team: Founded) -> AsyncIterator[httpx2.AsyncClient]:
    """The chief's client."""
    async with client_of(app, team.token) as client:
        yield client


@pytest.fixture
async def stranger(app: Any, shared_database: Any) -> AsyncIterator[httpx2.AsyncClient]:
    """Another team's chief."""
    other = await found_team(shared_database.owner_dsn, team_name="Others", chief_name="Robin")
    async with client_of(app, other.token) as client:
        yield client


@pytest.fixture
def with_role(app: Any, book: BookStore, team: Founded) -> Callable[[str], Awaitable[httpx2.AsyncClient]]:
    """Make a client of a new member with a role."""

    async def make(role: str) -> httpx2.AsyncClient:
        token = mint()
        recorded = audit_event(actor=team.member, action="member.add", subject=role)
        await book.access.add_member(team.team, MemberRow(role, role.title(), role), audit=recorded)
        await book.access.add_token(
            team.team, secret_hash=secret_hash(token), member=role, role=role, label="test", audit=recorded
        )
        return client_of(app, token)

    return make


@dataclass
class Joined:
    """Somebody a chief let in."""

    id: str
    token: str
    client: httpx2.AsyncClient


@pytest.fixture
async def join(app: Any, client: httpx2.AsyncClient) -> AsyncIterator[Callable[..., Awaitable[Joined]]]:
    """Let a member with a token in, as a chief does."""
    async with AsyncExitStack() as clients:

        async def make(name: str, role: str = "crew", **of_token: Any) -> Joined:
            member = await client.post("/v1/members", json={"name": name, "role": role})
            assert member.status_code == 201, member.text
            id_ = member.json()["id"]
            made = await client.post("/v1/tokens", json={"member": id_, "label": "test"} | of_token)
            assert made.status_code == 201, made.text
            token = made.json()["token"]
            return Joined(id_, token, await clients.enter_async_context(client_of(app, token)))

        yield make


@pytest.fixture
async def shared_with(app: Any, client: httpx2.AsyncClient) -> AsyncIterator[Callable[..., Awaitable[Joined]]]:
    """Share a car or a sheet, as a chief does, and give the friend's client."""
    async with AsyncExitStack() as clients:

        async def make(car: str, sheet: str | None = None, *, until: dt.datetime | None = None) -> Joined:
            end = until or dt.datetime.now(dt.UTC) + dt.timedelta(days=30)
            wanted = {"car": car, "label": "Lee's crew", "until": end.isoformat()} | ({"sheet": sheet} if sheet else {})
            made = await client.post("/v1/shares", json=wanted)
            assert made.status_code == 201, made.text
            token = made.json()["token"]
            return Joined(made.json()["share"]["id"], token, await clients.enter_async_context(client_of(app, token)))

        yield make


@pytest.fixture
def document() -> Json:
    """A full front end with what else the answers need."""
    read: Json = json.loads(Path(__file__).with_name("document.json").read_bytes())
    return read


@dataclass
class SheetInBook:
    """A car's sheet and its first revision."""

    client: httpx2.AsyncClient
    path: str
    tag: str
    id: str
    document: Json

    async def push(self, body: Json, *, tag: str | None = None, **headers: str) -> httpx2.Response:
        """Push on a tag, the first one unless another is given."""
        sent = {"if-match": f'"{tag or self.tag}"'} | {name.replace("_", "-"): value for name, value in headers.items()}
        return await self.client.post(f"{self.path}/revisions", json=body, headers=sent)

    async def edit(self, value: float, *, tag: str | None = None, **headers: str) -> httpx2.Response:
        """Push another length of the right front upper stud."""
        return await self.push({"edits": [{"path": UPPER_STUD, "value": value}]}, tag=tag, **headers)


@pytest.fixture
async def sheet(client: httpx2.AsyncClient, document: Json) -> SheetInBook:
    """Car 7 with its baseline."""
    made = await client.post("/v1/cars", json={"car": "7", "name": "Old blue", "number": "7"})
    assert made.status_code == 201, made.text
    path = "/v1/cars/7/sheets/baseline"
    pushed = await client.post(
        f"{path}/revisions", json={"document": document, "note": "baseline"}, headers={"if-none-match": "*"}
    )
    assert pushed.status_code == 201, pushed.text
    return SheetInBook(client, path, pushed.json()["tag"], pushed.json()["revision"]["id"], document)


class Split:
    """A sheet whose history is brought entry by entry, as another book would bring it."""

    def __init__(self, sheet: SheetInBook, book: BookStore, team: Founded) -> None:
        self.sheet, self.book, self.team = sheet, book, team
        self.bodies: dict[str, Json] = {sheet.id: sheet.document}
        self.at_ms = 1_780_000_000_000

    async def bring(
        self,
        *parents: str,
        body: Json,
        by: str = "robin",
        note: str = "",
        line: str = "car/7/sheet/baseline",
        kind: str = "sheet",
    ) -> str:
        """Bring a revision; each is a minute later than the one before."""
        self.at_ms += 60_000
        header = Header(
            kind=kind,
            line=line,
            parents=tuple(sorted(parents)),
            author=by,
            at=self.at_ms,
            content=hash_content(note=note, body=encode(canonical(body))),
        )
        entry = NewEntry(
            id=bytes.fromhex(entry_id(header)),
            kind=header.kind,
            line=header.line,
            parents=tuple(bytes.fromhex(parent) for parent in header.parents),
            content=bytes.fromhex(header.content),
            note=note,
            body=encode(canonical(body)),
            author=by,
            at_ms=self.at_ms,
        )
        await self.book.append(self.team.team, [entry])
        self.bodies[entry.id.hex()] = body
        return entry.id.hex()

    async def add(self, *parents: str, by: str = "robin", note: str = "", **values: Any) -> str:
        """Bring a revision that changes the upper or lower stud, or the notes, of its first parent."""
        names = {"upper": UPPER_STUD, "lower": "setup.front.rf.lower_stud.length_in", "notes": "notes"}
        changes = [FieldChange(steps(names[name]), after=canonical(value)) for name, value in values.items()]
        return await self.bring(*parents, body=apply(changes, self.bodies[parents[0]]), by=by, note=note)

    async def shown(self) -> Json:
        """Read the sheet."""
        shown: Json = (await self.sheet.client.get(self.sheet.path)).json()
        return shown

    async def accept(self, tag: str, **headers: str) -> httpx2.Response:
        """Accept the merge that was seen under a tag."""
        sent = {"if-match": f'"{tag}"'} | {name.replace("_", "-"): value for name, value in headers.items()}
        return await self.sheet.client.post(f"{self.sheet.path}/merge", headers=sent)


@pytest.fixture
def split(sheet: SheetInBook, book: BookStore, team: Founded) -> Split:
    """Car 7's baseline, to be split."""
    return Split(sheet, book, team)
