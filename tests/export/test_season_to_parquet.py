"""A data engineer's script, run as they run it, against the season as it was made up."""

import asyncio
import json
import os
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

from export.conftest import Served
from export.season import SHIMS, STUD, Season, document
from export.season_to_parquet import STATE
from studbook.history.changes import diff
from studbook.history.leaves import dotted
from studbook_service.store import Founded, found_team, open_book


def expected(season: Season) -> list[dict[str, Any]]:
    """Walk each car's dry-slick outings and what its sheet gained between two of them."""
    sheets = {entry.id.hex(): entry for entry in season.entries if entry.kind == "sheet"}

    def between(new: str, old: str) -> set[str]:
        paths, here = set(), sheets[new]
        while here.id.hex() != old:
            below = sheets[here.parents[0].hex()]
            paths |= {dotted(each.path) for each in diff(json.loads(below.body), json.loads(here.body))}
            here = below
        return paths - {"notes"}

    found = []
    for car in sorted({each.car for each in season.raced}):
        dry = [each for each in season.raced if each.car == car and each.state == STATE]
        for was, now in pairwise(dry):
            paths = between(now.revision, was.revision)
            assert paths <= {STUD, SHIMS}
            if now.stud_in != was.stud_in:
                moved = round(now.best_lap_s - was.best_lap_s, 3)
                told = {"path": STUD, "stud_before_in": was.stud_in, "stud_after_in": now.stud_in, "moved_s": moved}
                found.append({"car": car, **told, "beside": len(paths) - 1})
    return found


async def run(served_at: str, team: Founded, folder: Path) -> Any:
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, str(Path(__file__).with_name("season_to_parquet.py")), str(folder)),
        env=os.environ | {"STUDBOOK_URL": served_at, "STUDBOOK_TOKEN": team.token},
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    out, err = await process.communicate()
    assert process.returncode == 0, err.decode()
    return json.loads(out)


async def test_which_stud_changes_moved_the_best_lap(address: str, shared_database: Any, tmp_path: Path) -> None:
    season = Season(document(), nights=10, revisions=120).made()
    team = await found_team(shared_database.owner_dsn, team_name="Crew", chief_name="Chris", chief_id="chief")
    book = await open_book(shared_database.serving_dsn, size=1)
    served, half = Served(address, team, season, book), len(season.entries) // 2
    later, season.entries = season.entries[half:], season.entries[:half]
    await served.add(season, 0)
    first = await run(address, team, tmp_path / "season")
    season.entries += later
    await served.add(season, half)
    told = await run(address, team, tmp_path / "season")
    await book.close()
    assert told["duckdb"] == told["polars"]
    assert len(first["duckdb"]) < len(told["duckdb"]), "what came since is in it"
    answered = [{name: cell for name, cell in row.items() if name != "started_at"} for row in told["duckdb"]]
    assert answered == expected(season)
    assert any(row["beside"] == 0 for row in answered)
    assert any(row["beside"] for row in answered)
