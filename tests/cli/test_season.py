"""`studbook season`, against the real service and database. All numbers are invented."""

import csv
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
    address: str, token: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
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
    assert page.startswith("CAR 7  Old blue\n1 night, 1 outing, 3 laps")
    assert "heat-1  tacky     3  17.400    17.500" in page
    assert "! no revision is named" in page
    assert "0 nights" in told("season", "--to", "2026-05-01")
    assert json.loads(told("season", "--json"))["cars"][0]["car"] == "7"
    file = tmp_path / "season_outings.csv"
    for form in ("csv", "ndjson", "parquet"):
        assert f"season_outings.{form}: 1 rows\n" in told("season", "--tables", str(tmp_path), "--format", form)
    columns = {each["name"]: each["columns"] for each in json.loads((tmp_path / "season.json").read_bytes())}
    assert {"name": "median_s", "type": "number", "unit": "s"} in columns["season_outings"]
    [row] = csv.DictReader(file.read_text().splitlines())
    assert (row["outing"], row["median_s"], row["track_state"]) == (f"{NIGHT}/7/heat-1", "17.5", "tacky")
    assert told("season", "--to", "2026-05-01", "--tables", str(tmp_path), "--format", "csv")
    assert len(file.read_text().splitlines()) == 1
    with Studbook(address, token) as blocking:
        assert blocking.season(car="7") == waited

    for wrong, why in (
        (("--format", "csv"), "say where to write: --tables FOLDER"),
        (("--json", "--tables", str(tmp_path)), "say one of --tables and --json"),
        (("--from", "2026-05-03", "--to", "2026-05-01"), "from: 2026-05-03 is after to: 2026-05-01"),
        (("--tables", str(file), "--format", "csv"), "File exists"),
    ):
        assert main(("season", *wrong)) != 0
        assert why in capsys.readouterr().err
