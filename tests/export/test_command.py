"""`studbook export` into a folder, and again for what came since; every form holds the same rows."""

import asyncio
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from export.conftest import Served
from export.reading import from_csv, from_ndjson
from studbook.cli import main
from studbook.wire.export import Table

Command = Callable[..., tuple[int, str]]


@pytest.fixture
def command(served: Served, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Run the command and give its exit code and what it said."""
    monkeypatch.setenv("STUDBOOK_URL", served.url)
    monkeypatch.setenv("STUDBOOK_TOKEN", served.team.token)

    def run(*words: str) -> tuple[int, str]:
        code = main(list(words))
        told = capsys.readouterr()
        return code, told.out + told.err

    return run


def whole(folder: Path, table: Table) -> dict[str, Any]:
    read: dict[str, list[Any]] = {"parquet": [], "csv": [], "ndjson": []}
    for file in sorted((folder / "parquet" / table.name).iterdir()):
        rows = pl.read_parquet(file).to_dicts()
        read["parquet"] += [{name: cell for name, cell in row.items() if cell is not None} for row in rows]
    for file in sorted((folder / "csv" / table.name).iterdir()):
        with file.open(encoding="utf-8", newline="") as lines:
            read["csv"] += from_csv(table, lines)
    for file in sorted((folder / "ndjson" / table.name).iterdir()):
        read["ndjson"] += from_ndjson(table, file.read_bytes())
    return read


async def test_all_tables_in_every_form_and_what_came_since(served: Served, command: Command, tmp_path: Path) -> None:
    for form in ("parquet", "csv", "ndjson"):
        code, told = await asyncio.to_thread(
            command, "export", "all", "--to", str(tmp_path / form), "--format", form, "--within-s", "0"
        )
        assert code == 0, told
        assert "not computed yet" in told
    held, last = len(served.season.entries), served.season.entries[-1]
    outing = json.loads(last.body) | {"notes": "+1 tight", "laps": 1, "lap_times_s": [16.5]}
    moment = datetime.fromtimestamp(last.at_ms / 1000 + 60, UTC)
    added = served.season.write("outing", last.line, outing, moment, last.id.hex())
    await served.add(served.season, held)
    for form in ("parquet", "csv", "ndjson"):
        words = ("export", "all", "--to", str(tmp_path / form), "--format", form, "--since", "--within-s", "300")
        code, told = await asyncio.to_thread(command, *words)
        assert code == 0, told
        assert "not computed yet" not in told
    assert len(list((tmp_path / "csv" / "laps").iterdir())) == 2
    assert "parts: nothing new\n" in told
    assert len(list((tmp_path / "csv" / "parts").iterdir())) == 1  # so there is no file of it
    with served.open() as book:

        def exported(table: Table) -> list[dict[str, Any]]:
            return list(book.export(table, within_s=0))

        tables = await asyncio.to_thread(book.tables)
        for table in tables.items:
            forms = whole(tmp_path, table)
            assert forms["csv"] == forms["ndjson"] == forms["parquet"], table.name
            rows = await asyncio.to_thread(exported, table)
            assert [_lasting(row) for row in forms["csv"]] == [_lasting(row) for row in rows], table.name
    assert [row["entry"] for row in whole(tmp_path, tables["laps"])["csv"]][-1] == added
    assert json.loads((tmp_path / "csv" / "export.json").read_bytes())["tables"]["laps"]["cursor"] == tables.cursor


def _lasting(row: dict[str, Any]) -> dict[str, Any]:
    """A row but for what a later entry may change."""
    return {name: cell for name, cell in row.items() if name != "current"}


def test_a_folder_is_not_written_over(command: Command, tmp_path: Path) -> None:
    assert command("export", "laps", "--to", str(tmp_path), "--format", "csv")[0] == 0
    code, told = command("export", "laps", "--to", str(tmp_path), "--format", "csv")
    assert (code, "--since" in told) == (2, True)
    code, told = command("export", "cars", "--to", str(tmp_path), "--format", "ndjson")
    assert (code, "csv" in told) == (2, True)
    assert command("export", "cars", "--to", str(tmp_path), "--format", "csv")[0] == 0


def test_what_is_wrong_is_told(command: Command, tmp_path: Path) -> None:
    assert command("export", "lapses", "--to", str(tmp_path))[0] == 2
    assert command("export", "laps")[0] == 2
    code, told = command("export", "laps", "--to", str(tmp_path / "none"), "--since")
    assert (code, "no export" in told) == (2, True)
    (tmp_path / "export.json").write_text("mine")
    assert command("export", "laps", "--to", str(tmp_path), "--since")[0] == 2


def test_the_tables_are_listed(command: Command) -> None:
    code, told = command("export", "list")
    assert code == 0
    assert "laps" in told
