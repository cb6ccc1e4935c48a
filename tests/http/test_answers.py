"""Answers over HTTP: computed in their own thread, remembered, refused when too many wait."""

import asyncio
import threading
from typing import Any

import pytest

STUD = {"path": "setup.front.rf.upper_stud.length_in", "value": 1.7}


async def test_the_front_of_a_revision(sheet: Any) -> None:
    answer = (await sheet.client.get(f"/v1/revisions/{sheet.id}/front?low_in=-1&high_in=1&step_in=0.5")).json()
    assert answer["rf"]["curve"]["travel_in"] == [-1, -0.5, 0, 0.5, 1]
    assert answer["rf"]["now"]["camber_deg"] == pytest.approx(-4.0, abs=1e-9)  # as surveyed


async def test_effects_and_what_if_agree_and_nothing_is_stored(sheet: Any, book: Any, team: Any) -> None:
    before = await book.team_head(team.team)
    tried = await sheet.client.post("/v1/what-if", json={"revision": sheet.id[:10], "edits": [STUD]})
    assert tried.status_code == 200, tried.text
    assert await book.team_head(team.team) == before
    longer = (await sheet.push({"edits": [STUD]})).json()["revision"]["id"]
    real = (await sheet.client.get(f"/v1/revisions/{longer}/effects?since={sheet.id}")).json()
    assert real.pop("revision") == longer
    assert real == tried.json()
    assert real["changes"] == [{"path": STUD["path"], "before": 1.2, "after": 1.7, "unit": "in"}]
    assert real["headline"]


async def test_an_answer_is_computed_once(sheet: Any, own_desk: Any) -> None:
    path = f"/v1/revisions/{sheet.id}/front"
    first = await sheet.client.get(path)
    own_desk.worker.close()  # whatever needs computing fails from here on
    assert (await sheet.client.get(path)).content == first.content
    assert (await sheet.client.get(path, headers={"if-none-match": first.headers["etag"]})).status_code == 304


async def test_a_thin_document_gets_the_list_of_what_is_missing(sheet: Any) -> None:
    thin = (await sheet.push({"document": {"notes": "thin"}})).json()["revision"]["id"]
    refused = await sheet.client.get(f"/v1/revisions/{thin}/front")
    assert (refused.status_code, refused.json()["code"]) == (422, "fields_missing")
    assert "survey.front.rf.points.upper_ball_in" in {fault["path"] for fault in refused.json()["errors"]}


async def test_arms_that_cannot_reach_are_named(sheet: Any) -> None:
    edit = {"path": "survey.front.rf.tie_rod.length_in", "value": 15}
    apart = {"path": "setup.front.rf.tie_rod.length_in", "value": 24}
    refused = await sheet.client.post("/v1/what-if", json={"revision": sheet.id, "edits": [edit, apart]})
    assert (refused.status_code, refused.json()["code"]) == (422, "cannot_close")
    assert "rf" in refused.json()["detail"].lower() or "right front" in refused.json()["detail"].lower()


@pytest.mark.parametrize("query", ["low_in=1", "high_in=nan", "step_in=0", "step_in=x", "low_in=-9", "depth=3"])
async def test_travels_out_of_bounds(sheet: Any, query: str) -> None:
    refused = await sheet.client.get(f"/v1/revisions/{sheet.id}/front?{query}")
    assert (refused.status_code, refused.json()["code"]) == (400, "bad_request")
    assert refused.json()["errors"][0]["pointer"] == query.partition("=")[0]


async def test_what_if_checks_its_edits(sheet: Any) -> None:
    for edit in (STUD | {"value": 43}, {"path": "setup.front.rf.upper_stud.lenght_in", "value": 1.7}):
        refused = await sheet.client.post("/v1/what-if", json={"revision": sheet.id, "edits": [edit]})
        assert (refused.status_code, refused.json()["code"]) == (422, "bad_document")


async def test_a_full_queue_is_busy_while_cached_reads_go_on(sheet: Any, own_desk: Any) -> None:
    gate = threading.Event()
    document = f"/v1/revisions/{sheet.id}/document"
    await sheet.client.get(document)
    waiting = [asyncio.create_task(own_desk.worker.run(gate.wait)) for _ in range(17)]
    await asyncio.sleep(0)
    busy = await sheet.client.get(f"/v1/revisions/{sheet.id}/front")
    assert (busy.status_code, busy.json()["code"]) == (503, "busy")
    assert busy.headers["retry-after"] == "1"
    assert (await sheet.client.get(document)).status_code == 200
    assert (await sheet.client.get("/livez")).status_code == 200
    gate.set()
    await asyncio.gather(*waiting)
    assert (await sheet.client.get(f"/v1/revisions/{sheet.id}/front")).status_code == 200
