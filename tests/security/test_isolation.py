"""Many teams in one database behind three connections, and revocation on every worker; the bench asks for fifty."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from security.crowd import SHEET, gathered, interleave, left_behind, owners, to_ask
from security.teams import Team, ask, full_team, running, small_pool
from studbook_service.actions.cache import Cache
from studbook_service.app import create_app
from studbook_service.store import secret_hash

TEAMS, REQUESTS, CONNECTIONS = 6, 400, 3
LONGEST_S = 1.0  # so long a worker may go by what it knew


@pytest.fixture(scope="module")
def peers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the tokens of other nodes are kept."""
    return tmp_path_factory.mktemp("peers")


@pytest.fixture(scope="module")
async def workers(shared_database: Any, peers: Path) -> AsyncIterator[list[Any]]:
    """Two processes' worth of application over one database."""
    first, second = (create_app(dsn=shared_database.serving_dsn, peers=peers, rate=0) for _ in range(2))
    async with running(first), running(second):
        yield [first, second]


async def test_no_row_of_one_team_in_anothers_answer(workers: list[Any], shared_database: Any, peers: Path) -> None:
    """Every operation there is, at once through three connections, some askers going away half-way."""
    app, dsn = workers[0], shared_database.owner_dsn
    async with gathered(app, dsn, TEAMS, peers) as askers:
        async with small_pool(app, shared_database.serving_dsn, CONNECTIONS, peers) as context:
            tally = await interleave(askers, to_ask(app), REQUESTS)
            assert await left_behind(context, CONNECTIONS) == []
        owner = await owners(dsn, askers)
    assert (tally.wrong, tally.foreign) == ([], [])
    assert tally.statuses.total() >= REQUESTS
    assert tally.operations.keys() == set(to_ask(app))
    assert tally.operations.total() > REQUESTS * 0.8
    assert set(owner.values()) == {asker.team.name for asker in askers}
    for name, seen in tally.seen.items():
        assert {owner[each] for each in seen if each in owner} == {name}


async def test_a_memory_that_forgot_whose_it_is_would_be_found(
    workers: list[Any], shared_database: Any, peers: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The search works: with documents and answers kept for all teams together it finds some."""
    get, put = Cache.get, Cache.put

    def anybodys(key: Any) -> Any:
        return key[1:] if isinstance(key, tuple) else key

    monkeypatch.setattr(Cache, "get", lambda memory, key: get(memory, anybodys(key)))
    monkeypatch.setattr(Cache, "put", lambda memory, key, value, size: put(memory, anybodys(key), value, size))
    async with gathered(workers[0], shared_database.owner_dsn, 3, peers) as askers:
        reads = [f"GET /v1/revisions/{{ref}}/{each}" for each in ("document", "changes", "damping")]
        assert (await interleave(askers, reads, 200)).foreign


@pytest.fixture
async def team(workers: list[Any], shared_database: Any) -> Team:
    return await full_team(workers[0], shared_database.owner_dsn)


async def statuses(workers: list[Any], token: str, method: str, target: str, body: Any = None) -> set[int]:
    return {(await ask(app, method, target, token=token, body=body)).status for app in workers}


async def test_an_ended_token_is_dead_on_every_worker(workers: list[Any], team: Team) -> None:
    document = f"/v1/revisions/{team.refs[SHEET][0]}/document"
    assert await statuses(workers, team.tokens["crew"], "GET", document) == {200}
    await team.made("DELETE", f"/v1/tokens/{secret_hash(team.tokens['crew']).hex()[:12]}")
    await asyncio.sleep(LONGEST_S)
    assert await statuses(workers, team.tokens["crew"], "GET", document) == {401}


async def test_an_ended_member_is_out_on_every_worker(workers: list[Any], team: Team) -> None:
    assert await statuses(workers, team.tokens["viewer"], "GET", "/v1/cars") == {200}
    await team.made("PATCH", f"/v1/members/{team.members['viewer']}", {"ended": True})
    await asyncio.sleep(LONGEST_S)
    assert await statuses(workers, team.tokens["viewer"], "GET", "/v1/cars") == {401}


async def test_a_changed_role_holds_on_every_worker(workers: list[Any], team: Team) -> None:
    """Down, it holds for tokens there are; up, a token allows no more than it was made for."""
    crew, member = team.tokens["crew"], f"/v1/members/{team.members['crew']}"
    assert await statuses(workers, crew, "GET", "/v1/members") == {403}
    await team.made("PATCH", member, {"role": "chief"})
    chief = await team.token("crew", role="chief")
    await asyncio.sleep(LONGEST_S)
    assert await statuses(workers, crew, "GET", "/v1/members") == {403}
    assert await statuses(workers, chief, "GET", "/v1/members") == {200}
    await team.made("PATCH", member, {"role": "viewer"})
    await asyncio.sleep(LONGEST_S)
    assert await statuses(workers, chief, "GET", "/v1/members") == {403}
    assert await statuses(workers, crew, "POST", "/v1/cars", {"car": "99"}) == {403}
    assert await statuses(workers, crew, "GET", "/v1/cars") == {200}


async def test_an_ended_share_shows_nothing_on_any_worker(workers: list[Any], team: Team) -> None:
    share = await team.share()
    document = f"/v1/revisions/{team.refs[SHEET][0]}/document"
    assert await statuses(workers, team.tokens["share"], "GET", document) == {200}
    await team.made("DELETE", f"/v1/shares/{share}")
    await asyncio.sleep(LONGEST_S)
    assert await statuses(workers, team.tokens["share"], "GET", document) == {401}


async def test_protection_holds_on_every_worker(workers: list[Any], team: Team) -> None:
    """The worker where it was set remembers it; the other must learn of it."""
    await team.made("PUT", f"{SHEET}/protection")
    await asyncio.sleep(LONGEST_S)
    tag = {"if-match": f'"{team.tags[SHEET]}"'}
    for app in workers:
        body = {"edits": [{"path": "notes", "value": "mine"}]}
        answer = await ask(app, "POST", f"{SHEET}/revisions", token=team.tokens["crew"], body=body, headers=tag)
        assert (answer.status, answer.code) == (403, "protected")
        shown = await ask(app, "GET", SHEET, token=team.tokens["viewer"])
        assert shown.json["protected"]
