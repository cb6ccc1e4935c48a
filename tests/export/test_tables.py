"""What the tables tell of a season, against the season as it was made up."""

import asyncio
import json
from typing import Any

import pytest

from export.conftest import Served
from export.reading import from_csv, from_ndjson
from export.season import LAPS, START, STUD
from present import present
from studbook import AsyncStudbook, BadReferenceError, BadRequestError
from studbook.history.canonical import encode
from studbook.history.changes import diff
from studbook.history.leaves import at, dotted, leaves, steps
from studbook.wire.export import Row
from studbook.wire.rows import joined
from studbook_service.store import ExportedEntry
from studbook_service.tables.definition import TableEntry
from studbook_service.tables.flat import LayoutCache
from studbook_service.tables.registry import TABLES

GROUPS = ("survey.rear.rods", "setup.rear.rods", "setup.ballast")


def taken(served: Served, table: str, **asked: Any) -> list[Row]:
    with served.open() as book:
        return list(book.export(table, **asked))


def test_every_table_has_columns_of_one_name_each_and_says_its_units(served: Served) -> None:
    with served.open() as book:
        tables = book.tables()
    assert [each.name for each in tables.items] == list(TABLES)
    for table in tables.items:
        names = [each.name for each in table.columns]
        assert len(set(names)) == len(names)
        assert set(table.key) <= set(names)
        for column in table.columns:
            if column.unit in ("in", "lb", "psi", "deg_f"):
                assert column.name.endswith(f"_{column.unit}"), column.name
    assert {each.name: each.unit for each in tables["outings"].columns}["best_lap_s"] == "s"


def test_every_entry_is_told_once_in_order(served: Served) -> None:
    rows = taken(served, "entries")
    assert [row["entry"] for row in rows] == [entry.id.hex() for entry in served.season.entries]
    assert [row["seq"] for row in rows] == list(range(1, len(rows) + 1))
    followed = {parent for row in rows for parent in json.loads(row["parents"])}
    assert all(row["current"] is (row["entry"] not in followed) for row in rows)


def test_revisions_hold_every_leaf_of_their_documents(served: Served) -> None:
    bodies = {entry.id.hex(): json.loads(entry.body) for entry in served.season.entries if entry.kind == "sheet"}
    rows = taken(served, "revisions")
    assert {row["entry"] for row in rows} == set(bodies)
    with served.open() as book:
        types = {each.name: each.type for each in book.tables()["revisions"].columns}
    for row in rows:
        for path, value in leaves(bodies[row["entry"]]).items():
            if not dotted(path).startswith(GROUPS):
                cell = row[dotted(path)]
                assert (json.loads(cell) if types[dotted(path)] == "json" else cell) == value
        for group in GROUPS:
            assert json.loads(row.get(group, "null")) == at(bodies[row["entry"]], steps(group))
        assert "other" not in row


def test_changes_are_those_between_a_revision_and_its_first_parent(served: Served) -> None:
    sheets = {entry.id.hex(): entry for entry in served.season.entries if entry.kind == "sheet"}
    wanted = {
        (id_, dotted(change.path))
        for id_, entry in sheets.items()
        if entry.parents
        for change in diff(json.loads(sheets[entry.parents[0].hex()].body), json.loads(entry.body))
    }
    rows = taken(served, "changes")
    assert {(row["entry"], row["path"]) for row in rows} == wanted
    studs = [row for row in rows if row["path"] == STUD]
    assert studs
    for row in studs:
        before, after = (at(json.loads(sheets[row[name]].body), steps(STUD)) for name in ("since", "entry"))
        assert (row["before_number"], row["after_number"], row["unit"]) == (before, after, "in")
        assert row["difference"] == pytest.approx(after - before)
    assert {type(json.loads(row["after"])) for row in rows if row["path"] == "notes"} == {str}


def test_outings_laps_and_readings_are_as_they_were_run(served: Served) -> None:
    raced = {(each.event, each.car, each.run): each for each in served.season.raced}
    outings = {(row["event"], row["car"], row["run"]): row for row in taken(served, "outings")}
    assert outings.keys() == raced.keys()
    for name, row in outings.items():
        assert (row["revision"], row["track_state"], row["best_lap_s"]) == (
            *(raced[name].revision, raced[name].state, raced[name].best_lap_s),
        )
    laps = taken(served, "laps")
    assert len(laps) == LAPS * len(raced)
    assert {row["lap"] for row in laps} == set(range(1, LAPS + 1))
    readings = taken(served, "readings")
    hot = {row["across"]: row["value"] for row in readings if row["quantity"] == "tires.temps_deg_f"}
    assert hot == {"inside": 180, "middle": 190.5, "outside": 200}
    weighed = [row for row in readings if row["kind"] == "scale_session" and row["car"] == "7"]
    assert [(row["corner"], row["number"], row["value"]) for row in weighed] == [
        *(("lf", 1, 590), ("rf", 1, 503), ("lr", 1, 718), ("rr", 1, 629)),
        *(("lf", 2, 591), ("rf", 2, 502), ("lr", 2, 717), ("rr", 2, 630)),
    ]
    assert {row["unit"] for row in weighed} == {"lb"}


def test_jobs_done_tell_what_an_inspection_found() -> None:
    inspected = {"straight": False, "bent_by_in": 0.03, "method": "dial", "signed_by": "Robin", "whole_corner": True}
    done = {"toe": {"by": "Ada", "inspected": "odd"}, "inspect-rf": {"at": "2026-05-02T20:30Z", "inspected": inspected}}
    entry = ExportedEntry(
        *(b"\1" * 32, 1, "work", "work/7/2026-05-02-1940", (), 0, b"", None, "ada", None, 0),
        *(START, None, None, False, encode({"done": done}), True),
    )
    rf, toe = map(joined, TABLES["jobs_done"].rows_of(TableEntry(entry, None, LayoutCache())))
    assert (toe["job"], toe["by"]) == ("toe", "Ada")
    assert not {"straight", "bent_by_in", "method", "signed_by"} & toe.keys()
    assert (rf["card"], rf["straight"], rf["bent_by_in"], rf["method"], rf["signed_by"]) == (
        *("2026-05-02-1940", False, 0.03, "dial", "Robin"),
    )


def test_effects_are_the_services_own_or_say_why_there_are_none(served: Served) -> None:
    with served.open() as book:
        assert all(row["pending"] for row in book.export("effects", within_s=0))
        rows = list(book.export("effects", within_s=300))
        told = [row for row in rows if row.get("figure") == "camber_gain_deg_per_in" and row["subject"] == "front.rf"]
        row = next(row for row in told if row["state"] == "height_restored")
        answer = book.effects(row["entry"], since=row["since"])
        again = list(book.export("effects", within_s=0))
    assert row["before"] == present(answer.rf).before.camber_gain_deg_per_in
    assert row["after"] == present(answer.rf).height_restored.camber_gain_deg_per_in
    assert row["unit"] == "deg_per_in"
    assert again == rows, "what was computed once is remembered"
    assert not any(row.get("pending") for row in rows)


async def test_a_later_export_tells_what_came_since_and_parents_say_what_is_not_current(served: Served) -> None:
    with served.open() as book:
        before = book.tables().cursor
        old = {name: list(book.export(name, until=before)) for name in ("entries", "revisions", "outings")}
        held = len(served.season.entries)
        sheet = next(entry for entry in reversed(served.season.entries) if entry.kind == "sheet")
        tree = json.loads(sheet.body) | {"ours": {"idea": "=2"}, "setup": {"cg": {"height_in": "tall"}}}
        season, when = served.season, served.season.entries[-1].at_ms / 1000
        moment = asyncio.get_running_loop().run_in_executor
        added = season.write("sheet", sheet.line, tree, _utc(when + 60), sheet.id.hex(), note="by hand")
        await served.add(season, held)
        after = await moment(None, lambda: book.tables().cursor)
        new = await moment(None, lambda: {name: list(book.export(name, after=before)) for name in old})
        assert [row["entry"] for row in new["entries"]] == [added]
        assert [row["entry"] for row in new["revisions"]] == [added]
        assert new["outings"] == []
        assert json.loads(new["revisions"][0]["other"]) == {
            "ours": {"idea": "=2"},
            "setup": {"cg": {"height_in": "tall"}},
        }, "what no column takes is kept"
        followed = json.loads(new["entries"][0]["parents"])
        assert followed == [sheet.id.hex()]
        assert next(row for row in old["revisions"] if row["entry"] == followed[0])["current"]
        whole = await moment(None, lambda: list(book.export("revisions", until=before)))
        assert whole == old["revisions"], "the same moment is told the same, whatever came since"
        assert await moment(None, lambda: list(book.export("entries", after=after))) == []


async def test_of_alike_tips_the_first_by_id_is_current_until_one_is_gone_on_with(served: Served) -> None:
    """Two nodes may have written them in either order: which is current does not hang on that."""
    season, start = served.season, len(served.season.entries)
    with served.open() as book:
        cursor = (await asyncio.to_thread(book.tables)).cursor
    when = season.entries[-1].at_ms / 1000
    alike = [season.write("event", "event/2031-01-01-north", {"surface": "dirt"}, _utc(when + at)) for at in (1, 2, 3)]
    other = season.write("event", "event/2031-01-01-north", {"surface": "asphalt"}, _utc(when + 4))
    await served.add(season, start)

    async def current() -> set[str]:
        rows = await asyncio.to_thread(taken, served, "events", after=cursor)
        return {row["entry"] for row in rows if row["current"]}

    assert await current() == {min(alike), other}
    added = season.write("event", "event/2031-01-01-north", {"surface": "mud"}, _utc(when + 5), min(alike))
    await served.add(season, start + 4)
    assert await current() == {added, sorted(alike)[1], other}


def _utc(seconds: float) -> Any:
    import datetime as dt  # noqa: PLC0415 - beside its only use

    return dt.datetime.fromtimestamp(seconds, dt.UTC)


def test_a_cursor_of_another_book_is_refused(served: Served) -> None:
    for name in ("after", "until"):
        with pytest.raises(BadRequestError, match=name):
            taken(served, "laps", **{name: "3-0123456789abcdef"})
        with pytest.raises(BadRequestError, match=name):
            taken(served, "laps", **{name: "third"})
    assert taken(served, "laps", until="0-0000000000000000") == []


def test_a_table_that_is_none_is_told_with_those_there_are(served: Served) -> None:
    with pytest.raises(BadReferenceError, match="laps"):
        taken(served, "lap")


async def test_both_clients_and_all_forms_tell_the_same(served: Served) -> None:
    async with AsyncStudbook(served.url, served.team.token) as book:
        tables = await book.tables()
        for table in tables.items:
            rows = [row async for row in book.export(table, within_s=0)]
            assert from_ndjson(table, (await _raw(served, f"/v1/export/{table.name}?within_s=0")).content) == rows
            answer = await _raw(served, f"/v1/export/{table.name}?format=csv&within_s=0")
            assert answer.headers["content-type"].startswith("text/csv")
            text = answer.content.decode()
            assert list(from_csv(table, text.splitlines(keepends=True))) == rows, table.name
            assert "\r\n=" not in text
            assert ",=" not in text


async def test_most_of_two_setups_is_told_once(served: Served) -> None:
    every, once = [
        len((await _raw(served, f"/v1/export/revisions?format={form}")).content) for form in ("ndjson", "pages")
    ]
    assert once < every / 3


async def _raw(served: Served, path: str) -> Any:
    import httpx2  # noqa: PLC0415 - beside its only use

    async with httpx2.AsyncClient(headers={"authorization": f"Bearer {served.team.token}"}, timeout=30) as client:
        return await client.get(served.url + path)
