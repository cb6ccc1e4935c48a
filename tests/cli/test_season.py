"""`studbook season`, against the real service and database. All numbers are invented."""

import json
from pathlib import Path
from typing import Any

import pytest

from studbook import AsyncStudbook, NotFoundError, Studbook
from studbook.cli import main
from studbook_service.store import found_team

DOCUMENT = json.loads((Path(__file__).parents[1] / "http" / "document.json").read_bytes())
NIGHT = "2026-05-02-north"


@pytest.fixture
async def token(shared_database: Any) -> str:
    return (await found_team(shared_database.owner_dsn, team_name="Studbook crew", chief_name="Chris")).token


async def test_a_season_from_the_book_to_the_page(
    address: str, token: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    async with AsyncStudbook(address, token) as book:
        await book.new_car("7", name="Old blue")
        await book.new_event(NIGHT, {"date": "2026-05-02", "surface": "dirt"})
        times = {"laps": 3, "lap_times_s": [17.4, 17.6, 17.5], "track_state": "tacky"}
        await book.new_outing(f"{NIGHT}/7/heat-1", times)
        waited = await book.season(car="7")
        with pytest.raises(NotFoundError):
            await book.season(car="99")
    monkeypatch.setenv("STUDBOOK_URL", address)
    monkeypatch.setenv("STUDBOOK_TOKEN", token)

    def told(*words: str) -> str:
        assert main(words) == 0
        return capsys.readouterr().out

    page = told("season", "7", "--from", "2026-05-01")
    assert page.startswith("CAR 7  Old blue\n1 nights, 1 outings, 3 laps")
    assert "heat-1  tacky     3  17.400    17.500" in page
    assert "! no revision is named" in page
    assert "0 nights" in told("season", "--to", "2026-05-01")
    assert json.loads(told("season", "--json"))["cars"][0]["car"] == "7"
    with Studbook(address, token) as blocking:
        assert blocking.season(car="7") == waited
