"""The served API against its own description, walked from answer to answer; the bench walks further."""

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import pytest

from security.teams import Team, full_team, node_of, running
from security.walks import walk
from studbook_service.actions.known_peers import PeerTokens
from studbook_service.app import create_app

CASES = 150


@pytest.fixture
async def team(shared_database: Any, tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Team]:
    """A team with another node, in an application of its own."""
    folder = tmp_path_factory.mktemp("peers")
    async with running(create_app(dsn=shared_database.serving_dsn, peers=folder, rate=0)) as app:
        team = await full_team(app, shared_database.owner_dsn)
        async with node_of(team) as address:
            PeerTokens(folder).keep(team.founded.team, address.name, address.token)
            yield team


@pytest.fixture
async def loop() -> asyncio.AbstractEventLoop:
    """The loop that the application lives in."""
    return asyncio.get_running_loop()


def test_walks_by_the_description_meet_what_it_describes(team: Team, loop: asyncio.AbstractEventLoop) -> None:
    walked = walk(team, loop, CASES)
    assert walked.statuses.total() >= CASES
    assert walked.good >= 0.6, walked
    assert walked.followed > CASES / 2
    assert not [status for status in walked.statuses if status >= 500 or status == 401]
