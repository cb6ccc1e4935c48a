"""A build without any team condition in its SQL still leaks nothing: row-level security alone keeps teams apart.

The schema is applied with every `team_id = ...` of functions and views made `true`, as an owner whom row-level
security holds too. Two teams have the same members, lines, entries, keys and peers; only the words differ.
"""

import re
from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any, NamedTuple

import asyncpg
import pytest

from studbook_service.store import (
    BookStore,
    Founded,
    MemberRow,
    NewEntry,
    erase_entries,
    erase_name,
    found_team,
    migrate,
    mint,
    open_book,
    secret_hash,
)
from studbook_service.store.migrating import Schema, known_schema
from studbook_service.store.sql import QUERIES

CONDITION = re.compile(r"\b(\w+\.)?team_id = (\w+\.team_id|p_team|v_team)\b")
LINE, OTHER_LINE = "car/7/sheet/baseline", "car/7/sheet/road"
TOMORROW = datetime.now(UTC) + timedelta(days=1)
OWNER = "stripped_owner"


class Crew(NamedTuple):
    """A team, the word that marks all it has, and the hashes of its tokens and shares, a live and a dead one each."""

    founded: Founded
    word: str
    tokens: dict[str, bytes]
    shares: dict[str, bytes]

    @property
    def event(self) -> bytes:
        """What is recorded of its changes."""
        return f'"{self.word}"'.encode()

    def entry(self, name: str, *parents: bytes, line: str = LINE, kind: str = "sheet", body: str = "") -> NewEntry:
        """An entry with the same id in both teams."""
        return NewEntry(
            id=sha256(name.encode()).digest(),
            kind=kind,
            line=line,
            parents=parents,
            content=sha256(name.encode()).digest(),
            note=self.word,
            body=(body or f'"{self.word}"').encode(),
            author="m-chief",
            at_ms=0,
            via="laptop",
        )


class Spy:
    """A pool that keeps the queries that went through it."""

    def __init__(self, pool: Any) -> None:
        self.pool = pool
        self.queries = {QUERIES[name] for name in ("found_team", "erase_entries", "erase_name")}  # not through the pool

    def __getattr__(self, method: str) -> Any:
        async def ask(query: str, *args: object) -> Any:
            self.queries.add(query)
            return await getattr(self.pool, method)(query, *args)

        return ask


def stripped() -> Schema:
    """The schema without a team condition."""
    known = known_schema()
    return replace(known, parts={name: CONDITION.sub("true", text) for name, text in known.parts.items()})


@pytest.fixture
async def dsns(server: Any, template: str) -> AsyncIterator[tuple[str, str]]:
    """Owner's and serving role's address of a database of the stripped build."""
    assert template  # so that the serving role is there
    admin = await asyncpg.connect(server.owner_dsn("postgres"))
    await admin.execute(f"CREATE ROLE {OWNER} LOGIN PASSWORD 'only-for-tests'")
    await admin.execute(f"CREATE DATABASE studbook_stripped OWNER {OWNER}")
    serving = server.serving_dsn("studbook_stripped")
    owner = serving.replace("studbook_serve", OWNER, 1)
    await migrate(owner, schema=stripped())
    yield owner, serving
    await admin.execute("DROP DATABASE studbook_stripped WITH (FORCE)")
    await admin.execute(f"DROP ROLE {OWNER}")
    await admin.close()


async def fill(book: BookStore, crew: Crew, owner: str) -> None:
    """Call everything that writes."""
    access, team, word, event = book.access, crew.founded.team, crew.word, crew.event
    for id_ in ("m-sam", "m-ada"):
        await access.add_member(team, MemberRow(id_, f"{id_} {word}", "crew"), audit=event)
    await access.change_member(team, "m-ada", name=f"Ada {word}", ended=True, audit=event)
    for hashed in crew.tokens.values():
        await access.add_token(team, secret_hash=hashed, member="m-sam", role="crew", label=word, audit=event)
    for id_, hashed in crew.shares.items():
        await access.add_share(
            team, id=id_, secret_hash=hashed, line=LINE, label=word, until=TOMORROW, by="m-sam", audit=event
        )
    assert await access.revoke_token(team, crew.tokens["dead"].hex()[:12], audit=event)
    assert await access.end_share(team, "dead", audit=event)
    assert await access.protect(team, LINE, by="m-sam", audit=event)
    assert await access.protect(team, OTHER_LINE, by="m-sam", audit=event)
    assert await access.unprotect(team, OTHER_LINE, audit=event)
    await book.peers.set(team, "shop", f"http://{word}.test", state=event)
    first, second = crew.entry("first"), crew.entry("second", crew.entry("first").id)
    await book.push(team, first, expected=(), key="key", fingerprint=b"f", may_protected=True)
    assert (await book.push(team, first, expected=(), key="key", fingerprint=b"f")).replayed
    await book.push(team, second, expected=(first.id,), may_protected=True)
    await book.append(team, [crew.entry("third", second.id), crew.entry("fork", second.id)])
    await access.set_home(team, "shop", audit=event)
    await book.peers.receive(team, [crew.entry("road", line=OTHER_LINE)], peer="shop", version=1, state=event)
    await book.peers.name_members(team, {"m-max": f"Max {word}"})
    await access.take_home(team, [MemberRow("m-max", f"Max at home {word}", "crew")], [LINE])
    await access.set_home(team, None, audit=event)
    erased = crew.entry("erased", line="car/8", kind="car")
    await book.append(team, [erased])
    erasure = crew.entry("erasure", kind="erasure", line="erasure/x", body=f'{{"entries":["{erased.id.hex()}"]}}')
    await erase_entries(owner, team, erasure, audit=event)
    await erase_name(owner, team, "m-ada", audit=event)
    assert not await book.peers.join(team, b"another1")
    assert await book.effects.keep(team, second.id, event, engine=1, computed_from=[first.id, second.id])
    assert not await book.effects.keep(team, second.id, event, engine=1, computed_from=[erased.id])


async def look(book: BookStore, crew: Crew) -> list[Any]:
    """Call everything that reads."""
    access, peers, team = book.access, book.peers, crew.founded.team
    ids = [crew.entry(name).id for name in ("first", "second", "third", "fork", "road", "erased", "erasure")]
    return [
        await access.members(team),
        await access.tokens(team),
        await access.shares(team),
        await access.protected(team),
        await access.audit(team, after=0, limit=99),
        await access.home(team),
        [await access.bearer(hashed) for hashed in (*crew.tokens.values(), *crew.shares.values())],
        [await book.get(team, id_) for id_ in ids],
        [await book.document(team, id_) for id_ in ids],
        await book.several(team, ids),
        [await book.find(team, id_.hex()[:2]) for id_ in ids],
        [await book.tip_entries(team, line) for line in (LINE, OTHER_LINE)],
        await book.head_entries(team, "car/", "sheet"),
        await book.head_page(team, "car/", "sheet"),
        await book.first_recorded(team, [LINE, OTHER_LINE]),
        await book.history(team, LINE),
        await book.ancestors(team, ids[2]),
        await book.team_head(team),
        await book.export_page(team, None, bodies=True, after=0, until=99, limit=99),
        await peers.since(team, 0, limit=99),
        [await peers.chain_at(team, seq) for seq in range(1, 9)],
        await peers.places(team, ids),
        await peers.list(team),
        await peers.waiting(team, after=0, via="laptop"),
        await book.effects.read(team, ids, engine=1),
        await book.effects.missing(team, engine=1, limit=99),
    ]


def test_every_condition_is_stripped() -> None:
    left = " ".join(stripped().parts.values())
    taken = sum(len(CONDITION.findall(text)) for text in known_schema().parts.values())
    assert taken > 60
    left = left.replace("''", "'")
    assert set(re.findall(r"team_id\s*(?:=|<>|IN|IS)\s*[^\s$]+", left)) == {
        "team_id = current_setting('studbook.team')::uuid",
    }


async def crew_of(word: str, owner: str) -> Crew:
    """Found a team."""
    founded = await found_team(owner, team_name=word, chief_name=f"Chief {word}", chief_id="m-chief")
    tokens, shares = ({name: secret_hash(mint()) for name in ("live", "dead")} for _ in range(2))
    return Crew(founded, word, tokens, shares)


async def test_without_any_condition_nothing_leaks(dsns: tuple[str, str]) -> None:
    owner, serving = dsns
    first, second = await crew_of("amber", owner), await crew_of("birch", owner)
    spy = Spy((await open_book(serving)).pool)
    book = BookStore(spy)
    await fill(book, first, owner)
    seen = await look(book, first)
    await fill(book, second, owner)
    assert await look(book, first) == seen
    others = await look(book, second)
    for crew, other, answers in ((first, second, seen), (second, first, others)):
        for answer in answers:
            assert other.word not in repr(answer)
        assert sum(crew.word in repr(answer) for answer in answers) >= 14
    await every_function_was_reached(owner, spy.queries)
    await unfence(owner)  # and then it does leak, so the fence is what held
    assert second.word in repr(await book.history(first.founded.team, LINE))
    assert second.word in repr(await book.access.members(first.founded.team))
    await spy.pool.close()


async def unfence(owner: str) -> None:
    """Take row-level security away."""
    connection = await asyncpg.connect(owner)
    for row in await connection.fetch("SELECT relid::regclass::text FROM pg_stat_user_tables"):
        await connection.execute(f"ALTER TABLE {row[0]} DISABLE ROW LEVEL SECURITY")
    await connection.close()


async def every_function_was_reached(owner: str, queries: set[str]) -> None:
    """Fail when the schema has a function that nothing above called."""
    connection = await asyncpg.connect(owner)
    rows = await connection.fetch(
        "SELECT proname, prosrc, prorettype = 'trigger'::regtype AS triggered FROM pg_proc"
        " WHERE pronamespace = 'studbook'::regnamespace AND prokind = 'f'"
    )
    await connection.close()
    sources = {row["proname"]: row["prosrc"] for row in rows}
    reached = {row["proname"] for row in rows if row["triggered"]}
    texts = list(queries)
    while texts:
        called = set(re.findall(r"studbook\.(\w+)\(", texts.pop())) & set(sources) - reached
        reached |= called
        texts += [sources[name] for name in called]
    assert reached == set(sources)
