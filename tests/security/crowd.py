"""Many teams that ask at once through a few connections; whatever one gets is searched for what is another's.

Every team's names, notes and labels hold a marker of its own, and its slugs are those of all others: each has a car 7
with a sheet `baseline`. Entries and members bear ids that no other team has.
"""

import asyncio
import random
import re
import zlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import asyncpg

from security.teams import DOCUMENT, OF_FRAMES, UPPER_STUD, Answer, Team, hello
from studbook.wire.exchange import MEDIA_TYPE, Head
from studbook_service.actions.desk import Desk
from studbook_service.exchange.frames import DOWN, Writer, whole

AT_ONCE = 16  # as many as computations may wait
SHEET = "/v1/cars/7/sheets/baseline"
_MARKER = re.compile(rb"mk[0-9a-f]{8}")
_ID = re.compile(rb"\b(?:[0-9a-f]{64}|m-[a-z2-7]{10}|s-[a-z2-7]{10})\b")
_CUT_AFTER_S = 0.004


@dataclass
class Tally:
    """What was asked and answered.

    Attributes:
        statuses: answers by status; `cut` where the asker went away.
        foreign: answers that held something of another team.
        seen: ids seen in answers, by team.
    """

    statuses: Counter[str] = field(default_factory=Counter)
    foreign: list[str] = field(default_factory=list)
    seen: dict[str, set[bytes]] = field(default_factory=dict)


Asking = tuple[str, str, str, Any, dict[str, str]]
"""Kind of bearer, method, target, body and headers."""


@dataclass
class Asker:
    """A team that asks.

    Attributes:
        pull: asks for its whole book, as a laptop that has nothing does.
        asks: every read there is of its things, some of them several times.
    """

    team: Team
    pull: bytes
    asks: list[Asking] = field(default_factory=list)

    @classmethod
    async def of(cls, team: Team) -> "Asker":
        """Ask which book it is, and list what can be asked."""
        told = await team.ask("node", "POST", "/v1/exchange", hello(), **OF_FRAMES)
        writer = Writer()
        writer.add(Head(v=1, book=whole(told.body, DOWN)[0].book))
        asker = cls(team, writer.finish())
        asker.renew()
        return asker

    def renew(self) -> None:
        """List what can be asked now."""
        self.asks = list(reads(self.team, self.pull))


async def gathered(app: Any, owner_dsn: str, count: int) -> list[Asker]:
    """Found so many teams, each with people of all roles, a share, a car and a sheet of three revisions."""
    askers = []
    for number in range(count):
        team = await Team.founded_in(app, owner_dsn, f"mk{number * 7919 + 0x10000000:08x}")
        for role in ("viewer", "node"):
            await team.join(role)
        await team.add_car("7")
        await team.push(SHEET, document=DOCUMENT | {"notes": team.name}, note=team.name)
        for length in (1.6, 1.7):
            await team.push(SHEET, edits=[{"path": UPPER_STUD, "value": length}], note=f"stud, {team.name}")
        await team.share()
        askers.append(await Asker.of(team))
    return askers


def reads(team: Team, pull: bytes) -> Iterator[Asking]:
    """Give every read there is of a team's things."""
    first, second, *_, last = team.refs[SHEET]
    revision, travels = f"/v1/revisions/{last}", "low_in=-1&high_in=1&step_in=1"
    shown = (
        *("/v1/me", "/v1/cars", "/v1/cars/7", "/v1/cars/7/sheets", SHEET, f"{SHEET}/history?limit=5"),
        *(revision, f"/v1/revisions/{last[:12]}", f"{revision}/changes?since={first}"),
        *(f"/v1/revisions/{each}/document" for each in (first, last, last)),
    )
    for target in shown:
        for kind in ("viewer", "viewer", "chief", "chief", "share"):
            yield kind, "GET", target, None, {}
    for target in (f"/v1/revisions/{second}/{each}" for each in ("loads", f"front?{travels}", "damping")):
        for kind in ("viewer", "chief"):
            yield kind, "GET", target, None, {}
    # For a share it is computed anew each time, for nothing of it is kept.
    yield "share", "GET", f"/v1/revisions/{second}/damping", None, {}
    for target in ("/v1/members", "/v1/tokens", "/v1/shares", "/v1/audit?limit=20", "/v1/peers"):
        yield "chief", "GET", target, None, {}
    yield "viewer", "GET", "/v1/tokens", None, {}
    yield "node", "POST", "/v1/exchange", pull, OF_FRAMES
    yield "viewer", "POST", "/v1/what-if", {"revision": last, "edits": [{"path": UPPER_STUD, "value": 1.5}]}, {}


def probe(team: Team, victim: Team, chance: random.Random) -> Asking:
    """Ask for what is another team's."""
    ref = chance.choice(victim.refs[SHEET])
    revision = f"/v1/revisions/{ref}"
    target = chance.choice(
        (
            *(revision, f"/v1/revisions/{ref[:12]}", f"{revision}/document", f"{revision}/loads"),
            *(f"{revision}/changes?since={ref}", f"/v1/revisions/{team.refs[SHEET][0]}/changes?since={ref}"),
        )
    )
    return chance.choice(("chief", "viewer", "share", "node")), "GET", target, None, {}


async def interleave(askers: list[Asker], count: int, *, seed: int = 5) -> Tally:
    """Let the teams ask so often, at random and at once."""
    chance, tally = random.Random(seed), Tally(seen={asker.team.name: set() for asker in askers})  # noqa: S311 - no secret
    todo = iter(range(count))

    async def ask_on() -> None:
        for _ in todo:
            await _one(askers, chance, tally)

    await asyncio.gather(*(ask_on() for _ in range(AT_ONCE)))
    return tally


async def _one(askers: list[Asker], chance: random.Random, tally: Tally) -> None:
    asker, dice = chance.choice(askers), chance.random()
    team = asker.team
    if dice < 0.04:
        await _push(asker, chance, tally)
    elif dice < 0.12:
        victim = chance.choice([each.team for each in askers if each is not asker])
        answer = await _asked(team, probe(team, victim, chance), tally)
        if answer.status != 404:
            tally.foreign.append(f"{team.name} was answered {answer.status} about {victim.name}")
    elif dice < 0.14:
        await _cut(team, chance.choice(asker.asks), chance, tally)
    else:
        kind, method, target, *_ = asking = chance.choice(asker.asks)
        answer = await _asked(team, asking, tally)
        if answer.status != 200:
            raise AssertionError(f"{kind} {method} {target}: {answer.status} {answer.text}")


async def _asked(team: Team, asking: Asking, tally: Tally) -> Answer:
    kind, method, target, body, headers = asking
    answer = await team.ask(kind, method, target, body, **headers)
    tally.statuses[str(answer.status)] += 1
    told = answer.body
    if answer.headers.get("content-type") == MEDIA_TYPE:
        told = zlib.decompress(told)
    told += "\n".join(value for _, value in answer.pairs).encode()
    if others := set(_MARKER.findall(told)) - {team.name.encode()}:
        tally.foreign.append(f"{team.name} {method} {target}: {others}")
    tally.seen[team.name].update(set(_ID.findall(told)) - set(_ID.findall(target.encode())))
    return answer


async def _push(asker: Asker, chance: random.Random, tally: Tally) -> None:
    team = asker.team
    edit = {"path": UPPER_STUD, "value": round(chance.uniform(1, 2), 3)}
    body, seen = {"edits": [edit], "note": team.name}, {"if_match": f'"{team.tags[SHEET]}"'}
    answer = await _asked(team, ("chief", "POST", f"{SHEET}/revisions", body, seen), tally)
    if answer.status == 201:
        team.tags[SHEET] = answer.json["tag"]
        team.refs[SHEET].append(answer.json["revision"]["id"])
        asker.renew()
    elif answer.status not in {200, 412}:  # the same values again, or another push of this team came first
        raise AssertionError(answer.text)


async def _cut(team: Team, asking: Asking, chance: random.Random, tally: Tally) -> None:
    """Go away before the answer is there; whatever the connection was at is not the next one's business."""
    kind, method, target, body, headers = asking
    try:
        async with asyncio.timeout(chance.uniform(0, _CUT_AFTER_S)):
            await team.ask(kind, method, target, body, **headers)
    except TimeoutError:
        tally.statuses["cut"] += 1
    else:
        tally.statuses["200"] += 1


async def owners(owner_dsn: str, askers: list[Asker]) -> dict[bytes, str]:
    """Say by the owner's address which team has which id: of entries, members and shares."""
    names = {asker.team.founded.team: asker.team.name for asker in askers}
    connection = await asyncpg.connect(owner_dsn)
    try:
        rows = await connection.fetch(
            "SELECT team_id, encode(id, 'hex') AS id FROM studbook.entry"
            " UNION ALL SELECT team_id, id FROM studbook.member UNION ALL SELECT team_id, id FROM studbook.share"
        )
    finally:
        await connection.close()
    return {row["id"].encode(): names[row["team_id"]] for row in rows if row["team_id"] in names}


async def left_behind(desk: Desk, size: int) -> list[str]:
    """Read what the connections of a pool still know of a team or a scope."""
    held = [await desk.book.pool.acquire() for _ in range(size)]
    try:
        query = "SELECT coalesce(current_setting(name, true), '') FROM unnest($1::text[]) name"
        names = ["studbook.team", "studbook.scope"]
        return [value for each in held for (value,) in await each.fetch(query, names) if value]
    finally:
        for each in held:
            await desk.book.pool.release(each)
