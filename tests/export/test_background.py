"""The background worker: computes what changes do while nobody waits, keeps it in the book, and goes to sleep."""

import asyncio
import json
import logging
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from datetime import UTC, datetime
from functools import partial
from typing import Any

import pytest

from export.season import STUD, Season, document
from security.teams import ask, running
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps
from studbook.wire.export import ExportQuery, Row
from studbook_service.actions import background, effects
from studbook_service.actions import engine_thread as engine_thread_module
from studbook_service.actions.background import BackgroundWorker
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.context import Context
from studbook_service.actions.engine_thread import IDLE_LOOK_S, QUIET_S, QUIET_WITHIN_S, EngineThread
from studbook_service.actions.export import export_table
from studbook_service.app import create_app
from studbook_service.store import (
    Bearer,
    BookStore,
    Founded,
    StoreUnavailable,
    audit_event,
    erase_entries,
    found_team,
    open_book,
)
from studbook_service.translate.effects import effects_between

NOW = datetime(2026, 5, 2, tzinfo=UTC)
LINE = "car/7/sheet/race"


@pytest.fixture
async def book(shared_database: Any) -> AsyncIterator[BookStore]:
    book = await open_book(shared_database.serving_dsn, size=3)
    yield book
    await book.close()


@pytest.fixture
def engine_thread() -> Any:
    engine_thread = EngineThread()
    yield engine_thread
    engine_thread.close()


@pytest.fixture
async def working(book: BookStore, engine_thread: EngineThread) -> AsyncIterator[BackgroundWorker]:
    """A background worker at work."""
    worker = BackgroundWorker(book, engine_thread)
    task = asyncio.create_task(worker.keep_up())
    yield worker
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task


@pytest.fixture
def begun(shared_database: Any, book: BookStore) -> Callable[..., Awaitable[tuple[Founded, list[bytes]]]]:
    """Found a team and record revisions, one on the other; give the ids of those with a parent, the oldest first."""

    async def begin(*trees: Any) -> tuple[Founded, list[bytes]]:
        team = await found_team(shared_database.owner_dsn, team_name="Crew", chief_name="Chris", chief_id="chief")
        season, parents = Season({}), list[str]()
        for tree in trees:
            parents = [season.write("sheet", LINE, tree, NOW, *parents)]
        await book.append(team.team, season.entries)
        return team, [entry.id for entry in season.entries[1:]]

    return begin


def notes(many: int) -> list[Any]:
    """Setups of which nothing can be computed, quickly."""
    return [{"notes": f"round {number}"} for number in range(many)]


async def kept(book: BookStore, team: Founded, ids: list[bytes]) -> dict[bytes, list[Row]]:
    told = await book.effects.read(team.team, ids, engine=effects.ENGINE)
    return {id_: json.loads(rows)["rows"] for id_, rows in told.items()}


async def filled(book: BookStore, team: Founded, ids: list[bytes]) -> dict[bytes, list[Row]]:
    """Wait until all is kept."""
    async with asyncio.timeout(30):
        while len(found := await kept(book, team, ids)) < len(ids):  # noqa: ASYNC110 - the book says, and it has no event
            await asyncio.sleep(0.01)
    return found


class Order:
    """Keeps in which order things are kept."""

    def __init__(self, book: BookStore, monkeypatch: pytest.MonkeyPatch) -> None:
        self.kept: list[tuple[Any, bytes]] = []
        keep = book.effects.keep

        async def noted(team: Any, id_: bytes, *args: Any, **more: Any) -> bool:
            self.kept.append((team, id_))
            return await keep(team, id_, *args, **more)

        monkeypatch.setattr(book.effects, "keep", noted)


async def test_the_newest_is_computed_first_and_then_nothing_more(
    book: BookStore, working: BackgroundWorker, begun: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = Order(book, monkeypatch)
    monkeypatch.setattr(background, "AT_ONCE", 2)
    team, ids = await begun(*notes(6))
    working.wake(team.team)
    found = await filled(book, team, ids)
    assert [id_ for _, id_ in order.kept] == ids[::-1]
    assert all("needs" in row["missing"] for rows in found.values() for row in rows)
    monkeypatch.setattr(book.effects, "missing", None)  # would fail if it went on looking
    await asyncio.sleep(0.05)


async def test_what_is_recorded_meanwhile_comes_next(
    book: BookStore, working: BackgroundWorker, begun: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = Order(book, monkeypatch)
    team, ids = await begun(*notes(5))
    season = Season({})
    late = bytes.fromhex(season.write("sheet", LINE, {"notes": "late"}, NOW, ids[-1].hex()))
    compute = working.changes.compute

    async def once(*args: Any, **more: Any) -> Any:
        if not order.kept:
            await book.append(team.team, season.entries)
            working.wake(team.team)
        return await compute(*args, **more)

    monkeypatch.setattr(working.changes, "compute", once)
    working.wake(team.team)
    await filled(book, team, [*ids, late])
    assert [id_ for _, id_ in order.kept] == [ids[-1], late, *ids[-2::-1]]


async def test_teams_take_turns(
    book: BookStore, working: BackgroundWorker, begun: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = Order(book, monkeypatch)
    (one, many), (other, few) = await begun(*notes(9)), await begun(*notes(3))
    for team in (one, other):
        working.wake(team.team)
    await filled(book, other, few)
    assert [team for team, _ in order.kept[:4]] == [one.team, other.team] * 2
    await filled(book, one, many)


async def test_what_cannot_be_computed_is_kept_with_why_and_the_rest_goes_on(
    book: BookStore,
    working: BackgroundWorker,
    begun: Any,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    team, ids = await begun(*notes(3))
    compute = effects_between

    def broken(old: Any, new: Any, **more: Any) -> Any:
        if new.tree["notes"] == "round 2":
            raise ZeroDivisionError("within the engine")
        return compute(old, new, **more)

    monkeypatch.setattr(effects, "effects_between", broken)
    with caplog.at_level(logging.ERROR, logger="studbook"):
        working.wake(team.team)
        found = await filled(book, team, ids)
    assert found[ids[1]] == [{"missing": "a fault of the engine, which the service's log tells"}]
    assert "within the engine" in caplog.text
    assert "needs" in found[ids[0]][0]["missing"]


async def test_a_database_that_is_away_is_waited_for(
    book: BookStore,
    working: BackgroundWorker,
    begun: Any,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    team, ids = await begun(*notes(3))
    keep, away = book.effects.keep, [StoreUnavailable("down"), OSError("not even that")]

    async def failing(*args: Any, **more: Any) -> bool:
        if away:
            raise away.pop(0)
        return await keep(*args, **more)

    monkeypatch.setattr(book.effects, "keep", failing)
    monkeypatch.setattr(background, "AGAIN_S", 0.001)
    working.wake(team.team)
    await filled(book, team, ids)
    assert "not even that" in caplog.text
    assert "down" not in caplog.text, "it is said elsewhere, again and again"


async def test_people_go_first_and_wait_for_one_piece_at_most(engine_thread: EngineThread) -> None:
    done: list[str] = []
    go = threading.Event()

    def piece(name: str) -> None:
        go.wait(5)
        done.append(name)

    running_now = asyncio.create_task(engine_thread.run_idle(lambda: piece("idle")))
    await asyncio.sleep(0)
    requested = [asyncio.create_task(engine_thread.run(partial(piece, name))) for name in ("first", "second")]
    await asyncio.sleep(0)
    later = asyncio.create_task(engine_thread.run_idle(lambda: piece("later")))
    await asyncio.sleep(0)
    go.set()
    await asyncio.gather(running_now, *requested, later)
    assert done == ["idle", "first", "second", "later"]


async def test_nothing_idle_begins_while_somebody_takes_a_table(engine_thread: EngineThread) -> None:
    done: list[str] = []
    with engine_thread.waited_for():
        idle = asyncio.create_task(engine_thread.run_idle(lambda: done.append("idle")))
        await engine_thread.run(lambda: done.append("asked"))
        await asyncio.sleep(3 * IDLE_LOOK_S)
        assert done == ["asked"]
    await idle
    assert done == ["asked", "idle"]


async def test_idle_work_waits_for_a_quiet_moment_but_not_for_ever(
    engine_thread: EngineThread, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = 100.0
    monkeypatch.setattr(engine_thread_module, "monotonic", lambda: now)

    async def begins_when_asked_at(*times: float) -> float | None:
        nonlocal now
        engine_thread.request_came()
        idle = asyncio.create_task(engine_thread.run_idle(lambda: now))
        for at in times:
            now = at
            await asyncio.sleep(3 * IDLE_LOOK_S)
            if idle.done():
                break
            engine_thread.request_came()
        return await idle

    assert await begins_when_asked_at(100.0 + QUIET_S / 2, 100.0 + QUIET_S, 100.0 + 3 * QUIET_S) == 100.0 + 3 * QUIET_S
    now = 200.0
    never_quiet = [200.0 + QUIET_S / 2 * count for count in range(100)]
    assert await begins_when_asked_at(*never_quiet) == 200.0 + QUIET_WITHIN_S


async def test_what_was_computed_from_an_erased_revision_is_computed_anew(
    book: BookStore, begun: Any, shared_database: Any
) -> None:
    """Erased between the reading and the keeping: nothing of it is kept, nor told."""
    weighed = {"measured": {"front": {"rf": {"alignment": {"camber_deg": -4.0}}}}}
    tree = document() | weighed
    team, [middle, last] = await begun(
        tree, *(apply([FieldChange(steps(STUD), after=value)], tree) for value in (1.75, 1.8))
    )
    erased = Season({})
    erased.write("erasure", "erasure/asked-for", {"entries": [middle.hex()]}, NOW)
    pieces = 0

    async def run(work: Callable[[], Any]) -> Any:
        nonlocal pieces
        pieces += 1
        if pieces == 5:
            told = audit_event(actor="owner", action="entries.erase", subject="entries", entries=[middle.hex()])
            await erase_entries(shared_database.owner_dsn, team.team, erased.entries[0], audit=told)
        return work()

    changes = effects.ChangeEffects(book)
    told = await changes.compute(team.team, last, run=run)
    assert told.rows == [{"missing": f"what revision {middle.hex()[:12]} held was erased"}]
    assert await kept(book, team, [last]) == {last: told.rows}


async def test_a_revision_that_is_erased_before_its_turn_comes_to_an_end(
    book: BookStore, begun: Any, shared_database: Any
) -> None:
    """Erased between the list and its turn, whether it was read already or not: it is told once, and not kept."""
    team, [first, last] = await begun(*notes(3))
    changes = effects.ChangeEffects(book)
    erased = Season({})
    erased.write("erasure", "erasure/asked-for", {"entries": [first.hex(), last.hex()]}, NOW)

    async def run(work: Callable[[], Any]) -> Any:
        if erased.entries:
            told = audit_event(
                actor="owner", action="entries.erase", subject="entries", entries=[first.hex(), last.hex()]
            )
            await erase_entries(shared_database.owner_dsn, team.team, erased.entries.pop(), audit=told)
        return work()

    async with asyncio.timeout(30):
        for id_ in (first, last):
            told = await changes.compute(team.team, id_, run=run)
            assert told.rows == [{"missing": f"what revision {id_.hex()[:12]} held was erased"}]
    assert await kept(book, team, [first, last]) == {}


async def exported(book: BookStore, team: Founded, engine_thread: EngineThread, within_s: float) -> list[Row]:
    context = Context(book=book, bearers=Bearers(book.access), engine_thread=engine_thread)
    bearer = Bearer(team.team, "chief", "chief", "Chris", None, None, protected=False, introduces=False, token="0" * 12)
    extract = await export_table(context, bearer, "effects", ExportQuery(within_s=within_s))
    return [json.loads(line) for chunk in [part async for part in extract.chunks] for line in chunk.splitlines()]


async def test_an_export_computes_and_the_next_service_tells_it_from_the_book(
    book: BookStore, begun: Any, engine_thread: EngineThread
) -> None:
    tree = document()
    team, ids = await begun(tree, apply([FieldChange(steps(STUD), after=1.8)], tree))
    assert [row["pending"] for row in await exported(book, team, engine_thread, 0)] == [True]
    rows = await exported(book, team, engine_thread, 300)
    assert {row["subject"] for row in rows if "figure" in row} >= {"front.rf", "joints", "scales"}
    closed = EngineThread()
    closed.close()  # whatever computes now fails
    assert await exported(book, team, closed, 300) == rows
    assert set(await kept(book, team, ids)) == set(ids)


async def test_a_service_computes_what_is_pushed(
    book: BookStore, shared_database: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STUDBOOK_BACKGROUND", "on")
    team = await found_team(shared_database.owner_dsn, team_name="Crew", chief_name="Chris", chief_id="chief")
    app = create_app(dsn=shared_database.serving_dsn, rate=0)

    async def post(target: str, body: Any, **headers: str) -> Any:
        answer = await ask(app, "POST", target, token=team.token, body=body, headers=headers)
        assert answer.status == 201, answer.text
        return answer.json

    async with running(app):
        await post("/v1/cars", {"car": "7"})
        path, ids = "/v1/cars/7/sheets/race/revisions", []
        pushed = await post(path, {"document": {"notes": "first"}}, **{"if-none-match": "*"})
        for number in (2, 3):
            edits = {"document": {"notes": f"round {number}"}}
            pushed = await post(path, edits, **{"if-match": f'"{pushed["tag"]}"'})
            ids.append(bytes.fromhex(pushed["revision"]["id"]))
        await filled(book, team, ids)


async def test_what_was_recorded_before_the_service_began_is_computed_once_somebody_asks(
    book: BookStore, begun: Any, shared_database: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STUDBOOK_BACKGROUND", "on")
    team, ids = await begun(*notes(3))
    app = create_app(dsn=shared_database.serving_dsn, rate=0)
    async with running(app):
        assert (await ask(app, "GET", "/v1/cars", token=team.token)).status == 200
        await filled(book, team, ids)


async def test_a_table_waits_for_its_turn_so_long_and_no_longer(
    book: BookStore, begun: Any, engine_thread: EngineThread, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(effects, "TURNS_WITHIN_S", 0.05)
    team, _ = await begun(*notes(2))
    go = threading.Event()
    ahead = asyncio.create_task(engine_thread.run(lambda: go.wait(30)))
    await asyncio.sleep(0)
    rows = await exported(book, team, engine_thread, 300)
    assert [row["missing"] for row in rows] == ["other computations were waiting"]
    go.set()
    assert await ahead
    assert not any(row.get("pending") for row in await exported(book, team, engine_thread, 300))
