"""Teams of all kinds of bearers, and requests put straight to the application in this process. All is invented."""

import asyncio
import datetime as dt
import json
from collections.abc import AsyncIterator, Mapping, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from functools import cached_property
from itertools import count
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import msgspec
from litestar import Litestar

from exchange.making import entry
from exchange.wire import answering, spelled
from studbook.history.ids import tips_tag
from studbook.wire.exchange import MEDIA_TYPE, VERSION, Head
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.known_peers import PeerTokens
from studbook_service.exchange.driver import Address
from studbook_service.exchange.frames import Writer
from studbook_service.exchange.initiator import new_peer_state
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond
from studbook_service.store import Founded, NewEntry, audit_event, found_team, mint, open_book, secret_hash

Json = dict[str, Any]
DOCUMENT: Json = json.loads((Path(__file__).parents[1] / "http" / "document.json").read_bytes())
UPPER_STUD = "setup.front.rf.upper_stud.length_in"
NEW = {"if-none-match": "*"}
FRAMES = {"content-type": MEDIA_TYPE}
OF_FRAMES = {"content_type": MEDIA_TYPE}
READ_TRIES = 10
_FIRST_AT_MS = 1_780_000_000_000
_numbers = count(1)

KINDS = ("none", "malformed", "expired", "revoked", "viewer", "crew", "chief", "node", "stranger", "share")
"""Every kind of bearer: `stranger` is another team's chief, `share` holds a share of car 7."""


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    pairs: Sequence[tuple[str, str]]
    body: bytes

    @cached_property
    def headers(self) -> dict[str, str]:
        return dict(self.pairs)

    @cached_property
    def text(self) -> str:
        return self.body.decode()

    @cached_property
    def json(self) -> Json:
        read: Json = json.loads(self.body)
        return read

    @property
    def code(self) -> str:
        """The problem's code; empty for a success."""
        return str(self.json["code"]) if self.headers.get("content-type") == "application/problem+json" else ""


async def ask(
    app: Any,
    method: str,
    target: str,
    *,
    token: str | None = None,
    body: Any = None,
    headers: Mapping[str, str] | None = None,
    address: str = "192.0.2.7",
) -> Answer:
    """Put one request to an application, as a server would."""
    path, _, query = target.partition("?")
    data = body if isinstance(body, bytes) else b"" if body is None else json.dumps(body).encode()
    sent = {"host": "studbook.test", "content-length": str(len(data))}
    if body is not None:
        sent["content-type"] = "application/json"
    if token is not None:
        sent["authorization"] = f"Bearer {token}"
    sent |= headers or {}
    scope = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.4"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": unquote(path),
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "root_path": "",
        "headers": [(name.lower().encode("latin-1"), value.encode("latin-1")) for name, value in sent.items()],
        "client": (address, 50_000),
        "server": ("studbook.test", 80),
        "state": {},
    }
    messages: list[Json] = []
    unread = [{"type": "http.request", "body": data, "more_body": False}]

    async def receive() -> Json:
        return unread.pop() if unread else {"type": "http.disconnect"}

    async def send(message: Json) -> None:
        messages.append(message)

    await app(scope, receive, send)
    start, *parts = messages
    pairs = [(name.decode("latin-1").lower(), value.decode("latin-1")) for name, value in start["headers"]]
    return Answer(start["status"], pairs, b"".join(part.get("body", b"") for part in parts))


def framework(app: Any) -> Litestar:
    """Find the framework's application in what is wrapped around it."""
    while not isinstance(app, Litestar):
        app = app.app
    return app


@asynccontextmanager
async def running(app: Any) -> AsyncIterator[Any]:
    """Run an application's lifespan around a block, as a server does."""
    inbox: asyncio.Queue[Json] = asyncio.Queue()
    outbox: asyncio.Queue[Json] = asyncio.Queue()
    scope = {"type": "lifespan", "asgi": {"version": "3.0"}, "state": {}}
    task = asyncio.create_task(app(scope, inbox.get, outbox.put))
    await inbox.put({"type": "lifespan.startup"})
    assert (await outbox.get())["type"] == "lifespan.startup.complete"
    yield app
    await inbox.put({"type": "lifespan.shutdown"})
    assert (await outbox.get())["type"] == "lifespan.shutdown.complete"
    await task


@asynccontextmanager
async def small_pool(app: Any, dsn: str, size: int, peers: Path | None = None) -> AsyncIterator[Context]:
    """Let a running application work with so few connections, for whom-may and exchanges too."""
    state = framework(app).state
    usual, book = state.context, await open_book(dsn, size=size)
    state.context = context = Context(book=book, bearers=Bearers(book.access), engine_thread=EngineThread())
    if peers:
        context.exchanges = Exchanges(book, PeerTokens(peers))
    watch = asyncio.create_task(context.watch())
    yield context
    state.context = usual
    watch.cancel()
    context.engine_thread.close()
    context.search_process.close()
    await book.close()


def in_days(days: float) -> str:
    """Spell a time so many days from now."""
    return (dt.datetime.now(dt.UTC) + dt.timedelta(days=days)).isoformat()


def hello() -> bytes:
    """Begin an exchange that brings nothing."""
    writer = Writer()
    writer.add(Head(v=VERSION))
    return writer.finish()


@dataclass
class Team:
    """A team with a token of each kind, and what is in its book.

    Attributes:
        tokens: by kind; `none` is missing, `stranger` is lent by another team.
        members: ids by role.
        tags: of sheets and cars, by path, as the last push told.
        refs: ids of revisions, by path, the newest last.
    """

    app: Any
    founded: Founded
    name: str
    tokens: dict[str, str] = field(default_factory=dict)
    members: dict[str, str] = field(default_factory=dict)
    tags: dict[str, str] = field(default_factory=dict)
    refs: dict[str, list[str]] = field(default_factory=dict)

    @property
    def context(self) -> Context:
        """What the application works with."""
        context: Context = framework(self.app).state.context
        return context

    @classmethod
    async def founded_in(cls, app: Any, owner_dsn: str, name: str = "Studbook crew") -> "Team":
        """Found a team with nobody in it but its chief."""
        founded = await found_team(owner_dsn, team_name=name, chief_name=f"Chris of {name}")
        return cls(app, founded, name, {"chief": founded.token}, {"chief": founded.member})

    async def ask(self, kind: str, method: str, target: str, body: Any = None, **headers: str) -> Answer:
        """Ask as a kind of bearer of this team."""
        spelled = {name.replace("_", "-"): value for name, value in headers.items()}
        return await ask(self.app, method, target, token=self.tokens.get(kind), body=body, headers=spelled)

    async def made(self, method: str, target: str, body: Any = None, **headers: str) -> Json:
        """Ask as the chief what must succeed; a read that the machine is too busy for is asked again."""
        for _ in range(READ_TRIES if method == "GET" else 1):
            answer = await self.ask("chief", method, target, body, **headers)
            if answer.status != 503:
                break
        assert answer.status < 300, (method, target, answer.status, answer.text)
        return answer.json

    async def join(self, role: str, name: str | None = None) -> str:
        """Let a member join, with a token, which is kept under the role; give the member's id."""
        member = await self.made("POST", "/v1/members", {"name": name or f"{role} of {self.name}", "role": role})
        self.members[role] = str(member["id"])
        self.tokens[role] = await self.token(role)
        return self.members[role]

    async def token(self, kind: str, **wanted: Any) -> str:
        """Make a token for the member who joined as this."""
        asked = {"member": self.members[kind], "label": f"laptop of {self.name}", **wanted}
        return str((await self.made("POST", "/v1/tokens", asked))["token"])

    def token_id(self, kind: str) -> str:
        """Name a token as lists do."""
        return secret_hash(self.tokens[kind]).hex()[:12]

    async def share(self, car: str = "7", sheet: str | None = None, kind: str = "share") -> str:
        """Share a car or sheet; the token is kept under the kind. Gives the share's id."""
        asked = {"car": car, "label": f"friend of {self.name}", "until": in_days(30)}
        asked |= {"sheet": sheet} if sheet else {}
        made = await self.made("POST", "/v1/shares", asked)
        self.tokens[kind] = made["token"]
        return str(made["share"]["id"])

    async def add_car(self, car: str) -> None:
        """Enter a car."""
        made = await self.made("POST", "/v1/cars", {"car": car, "name": f"Blue of {self.name}", "number": car})
        self.tags[f"/v1/cars/{car}"] = made["tag"]

    async def push(self, path: str, *, note: str = "", **body: Any) -> str:
        """Push on a sheet as it stands; the first revision makes it. Gives the revision's id."""
        headers = {"if_match": f'"{self.tags[path]}"'} if path in self.tags else {"if_none_match": "*"}
        pushed = await self.made("POST", f"{path}/revisions", {"note": note, **body}, **headers)
        self.tags[path] = pushed["tag"]
        self.refs.setdefault(path, []).append(pushed["revision"]["id"])
        return self.refs[path][-1]

    async def split(self, path: str) -> str:
        """Make a sheet whose two sides agree; gives its tag."""
        _, _, _, car, _, sheet = path.split("/")
        number = next(_numbers)
        base = entry({"notes": "as it came"}, line=f"car/{car}/sheet/{sheet}", **self._new(number))
        sides = [
            entry({"notes": "as it came", **tree}, parents=[base], line=base.header.line, **self._new(number))
            for tree in (
                {"setup": {"front": {"rf": {"perch_turns": 1}}}},
                {"setup": {"front": {"lf": {"perch_turns": 2}}}},
            )
        ]
        await self.context.book.append(self.founded.team, [stored(each) for each in (base, *sides)])
        return tips_tag([side.id for side in sides])

    def _new(self, number: int) -> Json:
        return {"author": self.members["chief"], "at": _FIRST_AT_MS + 60_000 * number}


def stored(made: Any) -> NewEntry:
    """Spell an entry as the store takes it."""
    return NewEntry(
        id=bytes.fromhex(made.id),
        kind=made.header.kind,
        line=made.header.line,
        parents=tuple(bytes.fromhex(parent) for parent in made.header.parents),
        content=bytes.fromhex(made.header.content),
        note=made.note,
        body=made.body,
        author=made.header.author,
        at_ms=made.header.at,
    )


async def full_team(app: Any, owner_dsn: str, name: str = "Studbook crew", document: Json = DOCUMENT) -> Team:
    """Found a team with every kind of bearer, cars 7 and 12, and two sheets on the first of them."""
    team = await Team.founded_in(app, owner_dsn, name)
    for role in ("viewer", "crew", "node"):
        await team.join(role)
    for car in ("7", "12"):
        await team.add_car(car)
    for path, first in {
        "/v1/cars/7/sheets/baseline": document | {"notes": f"of {name}"},
        "/v1/cars/7/sheets/tacky": document | {"notes": f"tacky, of {name}"},
        "/v1/cars/12/sheets/baseline": document | {"notes": f"the other car of {name}"},
    }.items():
        await team.push(path, document=first, note=f"baseline of {name}")
        await team.push(path, edits=[{"path": UPPER_STUD, "value": 1.7}], note=f"longer stud of {name}")
    await team.share()
    team.tokens |= await dead_tokens(team)
    return team


async def dead_tokens(team: Team) -> dict[str, str]:
    """Give tokens that open nothing: one that is none, one past its date, one that was ended."""
    expired, revoked = mint(), await team.token("crew")
    await team.context.book.access.add_token(
        team.founded.team,
        secret_hash=secret_hash(expired),
        member=team.members["crew"],
        role="crew",
        label="of last year",
        expires=dt.datetime.now(dt.UTC) - dt.timedelta(minutes=1),
        audit=audit_event(actor=team.members["chief"], action="token.make", subject=secret_hash(expired).hex()[:12]),
    )
    await team.made("DELETE", f"/v1/tokens/{secret_hash(revoked).hex()[:12]}")
    return {"malformed": f"{mint()[:-1]}-", "expired": expired, "revoked": revoked}


@asynccontextmanager
async def node_of(team: Team) -> AsyncIterator[Address]:
    """Let another node keep the team's book too, which begins empty, and make it a peer."""
    book = team.context.book
    head = await book.team_head(team.founded.team)
    other = MemoryBook(head.book)

    async def reply(body: bytes) -> bytes:
        return spelled((await respond(other, body, via="ours")).body)

    async with answering(reply) as url:
        await book.peers.set(team.founded.team, "shop", url, state=msgspec.json.encode(new_peer_state(0)))
        yield Address("shop", url, mint())
