"""Many teams that ask at once through a few connections; whatever one gets is searched for what is another's.

Every team's names, notes and labels hold a marker of its own, and its slugs are those of all others: each has a car 7
with a sheet `baseline`, and a record of each kind by the same name. Entries and members bear ids that no other team
has. Each team's numbers are its own too: no answer of one may be that of another, and none may change that lasts.
"""

import asyncio
import random
import re
import zlib
from collections import Counter
from collections.abc import AsyncIterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import asyncpg
import msgspec

from security.asking import Wanted, example, operations, wanted
from security.expected import table
from security.teams import DOCUMENT, OF_FRAMES, Answer, Team, full_team, hello, node_of
from studbook.wire.exchange import MEDIA_TYPE, VERSION, Head
from studbook.wire.records import KINDS as RECORDS
from studbook_service.actions.context import Context
from studbook_service.actions.known_peers import PeerTokens
from studbook_service.exchange.frames import DOWN, Writer, whole
from studbook_service.tables.registry import TABLES

AT_ONCE = 16  # as many as computations may wait
SHEET = "/v1/cars/7/sheets/baseline"
KINDS = ("viewer", "crew", "chief", "node", "share")
EXPECTED = table()
GOOD = {200, 201, 204, 409}
"""Of these only an entered record is refused, since the team has it already: 409."""
OF_TEAMS = {operation for operation, statuses in EXPECTED.items() if statuses["none"] == 401}
"""What asks for a token; the rest knows of no team: whether it serves, its description and its page."""
ALIKE = {f"{method} /v1/cars/{{car}}/sheets/{{sheet}}/protection" for method in ("PUT", "DELETE")}
"""What is answered to all alike: that it is so now."""
SELDOM = {"POST /v1/searches/studs", "POST /v1/searches/carry-over", "POST /v1/searches/perches"}
"""One search at a time is computed: of these only some are asked, beside the first."""
LASTING = re.compile(r"GET /v1/revisions/\{ref\}(/\w+)?|POST /v1/(what-if|cornering|attitude)")
"""Whoever asks this again about a revision gets the same."""
LATER = {"stale", "busy", "peer_failed", "too_slow", "unavailable"}
"""Another of the team came first, or the machine has too much to do."""
_MARKER = re.compile(rb"mk[0-9a-f]{8}")
_ID = re.compile(rb"\b(?:[0-9a-f]{64}|[0-9a-f]{12}|m-[a-z2-7]{10}|s-[a-z2-7]{10})\b")
_TEXTS = {"name", "label", "note", "notes", "words"}
_FREE = {"name", "notes", "place", "driver", "supplier", "by"}
_CUT_AFTER_S = 0.004
_LONG_AGO = "2026-03-01T12:00:00Z"


@dataclass
class Tally:
    """What was asked and answered.

    Attributes:
        statuses: answers by status; `cut` where the asker went away.
        operations: successes by operation.
        wrong: answers that have another status than is written down.
        foreign: answers that held something of another team.
        seen: ids seen in answers, by team.
        told: which team was told each body; and `lasting`, what each answer that lasts was.
    """

    statuses: Counter[str] = field(default_factory=Counter)
    operations: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    foreign: list[str] = field(default_factory=list)
    seen: dict[str, set[bytes]] = field(default_factory=dict)
    told: dict[tuple[str, bytes], str] = field(default_factory=dict)
    lasting: dict[bytes, bytes] = field(default_factory=dict)


@dataclass
class Asking:
    """One request: the kind of bearer, and what it asks."""

    kind: str
    method: str
    target: str
    body: Any = None
    headers: dict[str, str] = field(default_factory=dict)
    operation: str = ""


@dataclass
class Asker:
    """A team that asks; with `pull` for its whole book, as a laptop that has nothing does."""

    team: Team
    pull: bytes = b""

    async def asking(self, operation: str, chance: random.Random) -> Asking:
        """Ask rightly, as some bearer who may, about one of the things there are."""
        method, path = operation.split()
        kind = chance.choice([kind for kind in KINDS if EXPECTED[operation][kind] in GOOD])
        asked = await wanted(self.team, operation)
        self._choose(asked, path, chance)
        target = (path + (f"?{asked.query}" if asked.query else "")).format_map(asked.names)
        body, frames = asked.body, {}
        if isinstance(body, bytes):
            body, frames = chance.choice((body, self.pull)), OF_FRAMES
        return Asking(kind, method, target, marked(body, self.team.name), frames | asked.headers, operation)

    def _choose(self, asked: Wanted, path: str, chance: random.Random) -> None:
        first, *_, last = self.team.refs[SHEET]
        if "{ref}" in path:
            ref = chance.choice((first, first, last))
            asked.names["ref"] = chance.choice((ref, ref[:12]))
            asked.query = asked.query.replace("since={ref}", f"since={self.team.refs[SHEET][1]}")
        asked.names["table"] = chance.choice(list(TABLES))


def marked(body: Any, mark: str) -> Any:
    """Put a team's mark into the texts of a body."""
    if not isinstance(body, dict):
        return body
    texts = {name for name in body.keys() & _TEXTS if isinstance(body[name], str)}
    if "document" in body:
        texts -= {"name"}  # of a record: in its address
    made = body | {name: f"{body[name]} {mark}" for name in texts}
    if "edits" in made:
        made["edits"] = [
            edit | {"value": f"{edit['value']} {mark}"} if edit["path"] in _TEXTS else edit for edit in made["edits"]
        ]
    return made


def larger(value: Any, by: float, name: str = "") -> Any:
    """Enlarge what is no count or size from a list, so that the numbers of no two teams are alike."""
    if isinstance(value, dict):
        return {name: larger(each, by, name) for name, each in value.items()}
    if isinstance(value, list):
        return [larger(each, by, name) for each in value]
    measured = isinstance(value, float) or (isinstance(value, int) and (value >= 100 or name == "time_min"))
    return round(value * by, 4) if measured else value


def to_ask(app: Any) -> list[str]:
    """Give every operation of an application that asks for a token."""
    return [each for each in operations(app) if each in OF_TEAMS]


@asynccontextmanager
async def gathered(app: Any, owner_dsn: str, count: int, peers: Path) -> AsyncIterator[list[Asker]]:
    """Found so many teams with people of all roles, a share, cars, sheets, a record of each kind and a laptop.

    Args:
        app: it keeps the tokens of other nodes in `peers`.
        owner_dsn: owner's address of its database.
        count: teams.
        peers: a folder.
    """
    async with AsyncExitStack() as laptops:
        yield [await _asker(app, owner_dsn, number, peers, laptops) for number in range(count)]


async def _asker(app: Any, owner_dsn: str, number: int, peers: Path, laptops: AsyncExitStack) -> Asker:
    mark = f"mk{number * 7919 + 0x10000000:08x}"
    by = 1 + number / 2000
    document = larger(DOCUMENT, by)
    team = await full_team(app, owner_dsn, mark, document)
    team.refs["raced"] = [await team.push("/v1/cars/7/sheets/raced", document=document, note=mark, at=_LONG_AGO)]
    for kind in RECORDS.values():
        record = larger(example(team, kind), by)
        texts = {field.name for field in msgspec.structs.fields(kind.body)} & _FREE
        record |= {text: f"{record.get(text, 'of')} {mark}" for text in texts if isinstance(record.get(text, ""), str)}
        await team.made("POST", kind.path, {"name": kind.example[0], "document": record, "note": mark})
    await team.made("POST", "/v1/parts", {"name": mark, "document": {"kind": "stud", "notes": mark}})
    laptop = await laptops.enter_async_context(node_of(team))
    PeerTokens(peers).keep(team.founded.team, laptop.name, laptop.token)
    told = await team.ask("node", "POST", "/v1/exchange", hello(), **OF_FRAMES)
    writer = Writer()
    writer.add(Head(v=VERSION, book=whole(told.body, DOWN)[0].book))
    return Asker(team, writer.finish())


def probe(victim: Team, chance: random.Random) -> Asking:
    """Ask for what is another team's."""
    ref = chance.choice(victim.refs[SHEET])
    revision, what = f"/v1/revisions/{ref}", ("", "/document", "/loads", "/sensitivity", f"/changes?since={ref}")
    target = chance.choice(
        (f"/v1/revisions/{ref[:12]}", *(f"{revision}{each}" for each in what), f"/v1/parts/{victim.name}")
    )
    return Asking(chance.choice(("chief", "viewer", "node")), "GET", target)


async def interleave(askers: list[Asker], every: Sequence[str], count: int, *, seed: int = 5) -> Tally:
    """Let the teams ask so often, at once: each of these operations at first, then at random."""
    chance, tally = random.Random(seed), Tally(seen={asker.team.name: set() for asker in askers})  # noqa: S311 - no secret
    usual = [each for each in every if each not in SELDOM]
    todo = iter([*every, *(None for _ in range(count - len(every)))])

    async def ask_on() -> None:
        for operation in todo:
            await _one(askers, operation or chance.choice(usual), chance, tally, at_random=operation is None)

    await asyncio.gather(*(ask_on() for _ in range(AT_ONCE)))
    for operation in set(every) - tally.operations.keys():  # refused in the crowd
        await _one(askers, operation, chance, tally, at_random=False)
    return tally


async def _one(askers: list[Asker], operation: str, chance: random.Random, tally: Tally, *, at_random: bool) -> None:
    asker, dice = chance.choice(askers), chance.random() if at_random else 1
    team = asker.team
    if dice < 0.08:
        victim = chance.choice([each.team for each in askers if each is not asker])
        answer = await _asked(team, probe(victim, chance), tally)
        if answer.status != 404:
            tally.foreign.append(f"{team.name} was answered {answer.status} about {victim.name}")
        return
    asking = await asker.asking(operation, chance)
    if dice < 0.1:
        await _cut(team, asking, chance, tally)
        return
    answer = await _asked(team, asking, tally)
    if answer.status == EXPECTED[operation][asking.kind]:
        _compare(team, asking, answer, tally)
    elif answer.code not in LATER:
        tally.wrong.append(f"{asking}: {answer.status} {answer.text}")
    if operation.endswith("/revisions") and answer.status == 201:
        team.refs[SHEET].append(answer.json["revision"]["id"])


def told_in(answer: Answer) -> bytes:
    """Give an answer's body as it can be searched."""
    return zlib.decompress(answer.body) if answer.headers.get("content-type") == MEDIA_TYPE else answer.body


async def _asked(team: Team, asking: Asking, tally: Tally) -> Answer:
    answer = await team.ask(asking.kind, asking.method, asking.target, asking.body, **asking.headers)
    tally.statuses[str(answer.status)] += 1
    told = told_in(answer) + "\n".join(value for _, value in answer.pairs).encode()
    if others := set(_MARKER.findall(told)) - {team.name.encode(), *_MARKER.findall(asking.target.encode())}:
        tally.foreign.append(f"{team.name} {asking.method} {asking.target}: {others}")
    named = _ID.findall(asking.target.encode())  # is repeated, or its beginning is, where it does not exist
    tally.seen[team.name].update(set(_ID.findall(told)) - {*named, *(each[:12] for each in named)})
    return answer


def _compare(team: Team, asking: Asking, answer: Answer, tally: Tally) -> None:
    """Hold an answer against those of other teams, which were told of other numbers, and against itself before."""
    tally.operations[asking.operation] += 1
    told = sha256(told_in(answer)).digest()
    if answer.body and asking.operation not in ALIKE:
        before = tally.told.setdefault((asking.operation, told), team.name)
        if before != team.name:
            tally.foreign.append(f"{team.name} {asking.operation}: as {before} was told")
    if LASTING.fullmatch(asking.operation):
        key = sha256(f"{team.name} {asking.kind} {asking.method} {asking.target} {asking.body}".encode()).digest()
        if tally.lasting.setdefault(key, told) != told:
            tally.foreign.append(f"{team.name} {asking.method} {asking.target}: not what it was before")


async def _cut(team: Team, asking: Asking, chance: random.Random, tally: Tally) -> None:
    """Go away before the answer is there; whatever the connection was at is not the next one's business."""
    try:
        async with asyncio.timeout(chance.uniform(0, _CUT_AFTER_S)):
            answer = await team.ask(asking.kind, asking.method, asking.target, asking.body, **asking.headers)
    except TimeoutError:
        tally.statuses["cut"] += 1
    else:
        tally.statuses[str(answer.status)] += 1


async def owners(owner_dsn: str, askers: list[Asker]) -> dict[bytes, str]:
    """Say by the owner's address which team has which id: of entries, as a whole and as told, and of access."""
    names = {asker.team.founded.team: asker.team.name for asker in askers}
    connection = await asyncpg.connect(owner_dsn)
    try:
        rows = await connection.fetch(
            "SELECT team_id, encode(id, 'hex') AS id FROM studbook.entry"
            " UNION ALL SELECT team_id, left(encode(id, 'hex'), 12) FROM studbook.entry"
            " UNION ALL SELECT team_id, left(encode(hash, 'hex'), 12) FROM studbook.token"
            " UNION ALL SELECT team_id, id FROM studbook.member UNION ALL SELECT team_id, id FROM studbook.share"
        )
    finally:
        await connection.close()
    return {row["id"].encode(): names[row["team_id"]] for row in rows if row["team_id"] in names}


async def left_behind(context: Context, size: int) -> list[str]:
    """Read what the connections of a pool still know of a team or a scope."""
    held = [await context.book.pool.acquire() for _ in range(size)]
    try:
        query = "SELECT coalesce(current_setting(name, true), '') FROM unnest($1::text[]) name"
        names = ["studbook.team", "studbook.scope"]
        return [value for each in held for (value,) in await each.fetch(query, names) if value]
    finally:
        for each in held:
            await context.book.pool.release(each)
