"""What was erased is in no table but that of entries, and has changed nothing."""

import asyncio
from datetime import UTC, datetime
from typing import Any

from export.conftest import Served
from export.season import Season, document
from studbook_service.store import audit_event, erase_entries, found_team, open_book


async def test_an_erased_revision_and_outing_are_told_as_entries_alone(address: str, shared_database: Any) -> None:
    season = Season(document(), cars=1, nights=1, revisions=3).made()
    team = await found_team(shared_database.owner_dsn, team_name="Crew", chief_name="Chris", chief_id="chief")
    book = await open_book(shared_database.serving_dsn, size=1)
    served = Served(address, team, season, book)
    await served.add(season, 0)
    with served.open() as client:
        await asyncio.to_thread(lambda: list(client.export("effects", within_s=300)))
        revisions = [entry for entry in season.entries if entry.kind == "sheet"]
        outing = next(entry for entry in season.entries if entry.kind == "outing")
        gone = {revisions[1].id.hex(), outing.id.hex()}
        made = Season({})
        made.write("erasure", "erasure/asked-for", {"entries": sorted(gone)}, datetime.now(UTC))
        told = audit_event(actor="owner", action="entries.erase", subject="entries", entries=sorted(gone))
        await erase_entries(shared_database.owner_dsn, team.team, made.entries[0], audit=told)
        await asyncio.sleep(1)  # the service polls for it

        def exported(name: str) -> list[dict[str, Any]]:
            return list(client.export(name, within_s=300))

        tables = {
            name: await asyncio.to_thread(exported, name)
            for name in ("entries", "revisions", "changes", "outings", "laps", "readings", "effects")
        }
    assert {row["entry"] for row in tables["entries"] if row["erased"]} == gone
    assert not any("note" in row for row in tables["entries"] if row["erased"])
    for name, rows in tables.items():
        if name != "entries":
            assert rows
            assert not {row["entry"] for row in rows} & gone, name
    after = [row for row in tables["effects"] if row["since"] in gone]
    assert after
    assert all("was erased" in row["missing"] for row in after)
    assert not any(row["since"] in gone for row in tables["changes"])
    await book.close()
