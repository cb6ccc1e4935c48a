"""Answers over HTTP: computed in their own thread, remembered, refused when too many wait."""

import asyncio
import threading
from typing import Any

import pytest

WAYS = ("compression", "rebound")
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


async def test_an_answer_is_computed_once(sheet: Any, own_context: Any) -> None:
    path = f"/v1/revisions/{sheet.id}/front"
    first = await sheet.client.get(path)
    own_context.engine_thread.close()  # whatever needs computing fails from here on
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


async def test_the_rear_of_a_revision(sheet: Any) -> None:
    path = f"/v1/revisions/{sheet.id}/rear"
    found = await sheet.client.get(f"{path}?low_in=-1&high_in=0&step_in=1&roll_low_deg=0&roll_high_deg=2")
    assert found.json()["table"]["bump_in"] == [-1, -1, -1, 0, 0, 0]
    # By an independent constraint solver, see tests/golden/rear_axles.json.
    assert found.json()["now"]["roll_center"]["height_in"] == pytest.approx(11.132, abs=1.2e-3)
    again = await sheet.client.get(found.url, headers={"if-none-match": found.headers["etag"]})
    assert again.status_code == 304
    refused = await sheet.client.get(f"{path}?roll_step_deg=0")
    assert (refused.status_code, refused.json()["code"]) == (400, "bad_request")


async def test_rods_that_do_not_locate_the_axle_are_named(sheet: Any) -> None:
    bar, ends = "survey.rear.rods.lateral_bar", ("chassis_in", "carrier_in", "on")
    pushed = await sheet.push({"edits": [{"path": f"{bar}.{end}", "remove": True} for end in ends]})
    refused = await sheet.client.get(f"/v1/revisions/{pushed.json()['revision']['id']}/rear")
    assert (refused.status_code, refused.json()["code"]) == (422, "cannot_close")
    assert "slides sideways" in refused.json()["detail"]


async def test_the_joints_of_a_revision_under_stated_forces(sheet: Any) -> None:
    path = f"/v1/revisions/{sheet.id}/joints"
    found = await sheet.client.get(f"{path}?vertical_lb=1148&side_lb=950&braking_lb=350&on=rf")
    assert found.json()["rf"]["load"]["brake"] == "locked"
    # By an independent solver, see tests/golden/joints_and_parts.py.
    assert found.json()["rf"]["joints"]["upper_ball"]["turns_rad_per_in"] == pytest.approx(0.0758, abs=6e-5)
    # 790 lb carry 590 - 70 lb there; this document records no unsprung weight.
    assert found.json()["lf"]["spring_lb"] == pytest.approx(790 * 590 / 520, abs=1)
    again = await sheet.client.get(found.url, headers={"if-none-match": found.headers["etag"]})
    assert again.status_code == 304
    for query in ("brake=soft", "on=lr", "side_lb=1e6", "tight_in_lb=301"):
        refused = await sheet.client.get(f"{path}?{query}")
        assert (refused.status_code, refused.json()["code"]) == (400, "bad_request")


async def test_the_damping_of_a_revision(sheet: Any) -> None:
    shock = "setup.front.rf.shock"
    edits = [{"path": f"{shock}.{way}.curve_in_per_s_lb", "value": [[1, 95], [5, 205]]} for way in WAYS]
    pushed = await sheet.push({"edits": edits})
    path = f"/v1/revisions/{pushed.json()['revision']['id']}/damping"
    found = (await sheet.client.get(f"{path}?stroke_in=1&frequency_hz=1")).json()
    assert found["rf"]["shock"]["at"].keys() == {"1", "3", "5"}
    assert found["rf"]["shock"]["cycle"]["peak_in_per_s"] == pytest.approx(3.1416, abs=1e-4)
    assert (await sheet.client.get(f"{path}?stroke_in=0")).status_code == 400


async def test_an_attitude_and_edits_tried_at_it(sheet: Any) -> None:
    asked = {"revision": sheet.id[:10], "heave_in": -1.0, "roll_deg": 2.0, "pitch_deg": 0.5}
    found = await sheet.client.post("/v1/attitude", json=asked)
    assert found.status_code == 200, found.text
    assert found.json()["requested"]["rf"]["travel_in"] > 1
    assert "effect" not in found.json()
    tried = (await sheet.client.post("/v1/attitude", json=asked | {"edits": [STUD]})).json()
    moved = {figure["name"]: figure["difference"] for figure in tried["effect"]["figures"]}
    assert moved["requested.rf.camber_deg"] < -0.2
    refused = await sheet.client.post("/v1/attitude", json=asked | {"roll_deg": 40})
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (400, "/roll_deg")
    far = await sheet.client.post("/v1/attitude", json=asked | {"steer_in": 5.5})
    assert (far.status_code, far.json()["errors"][0]["pointer"]) == (400, "/steer_in")
    high = await sheet.client.post("/v1/attitude", json=asked | {"heave_in": 8})
    assert (high.status_code, high.json()["code"]) == (422, "cannot_close")


async def test_an_attitude_tells_loads_and_takes_steering(sheet: Any) -> None:
    asked = {"revision": sheet.id, "heave_in": -1.0, "roll_deg": 2.0}
    straight = (await sheet.client.post("/v1/attitude", json=asked)).json()
    scales = {name: straight["ride_height"][name]["load_lb"] for name in ("lf", "rf", "lr", "rr")}
    assert scales == {"lf": 590, "rf": 503, "lr": 718, "rr": 629}
    assert straight["requested"]["rf"]["load_lb"] > 503
    assert straight["requested"]["rf"]["tire_deflection_in"] > 0
    left = (await sheet.client.post("/v1/attitude", json=asked | {"steer_in": 1.5})).json()
    # a rack of 1.5 in turns both wheels some 15 deg to the left, see tests/golden/front_corners.json
    turned = {
        name: left["requested"][name]["toe_deg"] - straight["requested"][name]["toe_deg"] for name in ("lf", "rf")
    }
    assert turned["lf"] == pytest.approx(-15, abs=1)
    assert turned["rf"] == pytest.approx(15, abs=1)
    assert left["ride_height"]["lf"] == straight["ride_height"]["lf"]


async def test_the_loads_of_a_revision(sheet: Any) -> None:
    path = f"/v1/revisions/{sheet.id}/loads"
    found = await sheet.client.get(path)
    assert found.json()["now"]["cross_percent"] == pytest.approx(50.04, abs=0.005)
    # 225 and 200 lb/in at +20.5 and -21.5 in, see tests/golden/wheel_loads.py.
    assert found.json()["rear"]["heave_lb_per_in"] == pytest.approx(425, abs=0.5)
    assert (await sheet.client.get(path, headers={"if-none-match": found.headers["etag"]})).status_code == 304
    perch = {"path": "setup.rear.lr.spring.perch.thread_showing_in", "value": 3.125}
    turned = (await sheet.push({"edits": [perch]})).json()["revision"]["id"]
    later = (await sheet.client.get(f"/v1/revisions/{turned}/loads")).json()
    assert later["read"] == found.json()["read"]
    assert later["since"] == ["LR perch 2 turns in (raises)"]
    told = (await sheet.client.get(f"/v1/revisions/{turned}/effects?since={sheet.id}")).json()
    assert told["on_scales"]["after"] == later["now"]


UNSPRUNG = [{"path": f"setup.front.{name}.unsprung_lb", "value": 72} for name in ("lf", "rf")]


async def test_a_corner_has_one_speed(sheet: Any) -> None:
    asked = {"revision": sheet.id[:10], "radius_ft": 300, "edits": UNSPRUNG}
    found = await sheet.client.post("/v1/cornering", json=asked | {"speed_mph": 50, "banking_deg": 5})
    assert found.status_code == 200, found.text
    assert found.json()["normal_lb"] == pytest.approx(2440 * found.json()["normal_g"], rel=1e-5)
    for speed in ({}, {"time_s": 18}, {"speed_mph": 50, "time_s": 18}):
        refused = await sheet.client.post("/v1/cornering", json=asked | speed)
        assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (400, "/speed_mph")
    over = await sheet.client.post("/v1/cornering", json=asked | {"speed_mph": 200})
    assert (over.status_code, over.json()["code"]) == (422, "cannot_close")
    thin = await sheet.client.post("/v1/cornering", json=asked | {"speed_mph": 50, "edits": []})
    assert (thin.status_code, thin.json()["code"]) == (422, "fields_missing")


async def test_perches_for_a_cross_weight(sheet: Any) -> None:
    asked = {"revision": sheet.id, "cross_percent": 51, "perches": ["lr", "rr"], "step_turns": 0.5}
    found = await sheet.client.post("/v1/searches/perches", json=asked)
    assert found.status_code == 200, found.text
    assert found.json()["exact"]["weights"]["cross_percent"] == pytest.approx(51, abs=1e-5)
    assert found.json()["perches"]["lr"]["turns"] % 0.5 == 0
    bad: list[dict[str, Any]] = [{"perches": []}, {"perches": ["spare"]}, {"cross_percent": 80}, {"step_turns": 0}]
    for wrong in bad:
        assert (await sheet.client.post("/v1/searches/perches", json=asked | wrong)).status_code == 400


@pytest.mark.parametrize("query", ["low_in=1", "high_in=nan", "step_in=0", "step_in=x", "low_in=-9", "depth=3"])
async def test_travels_out_of_bounds(sheet: Any, query: str) -> None:
    refused = await sheet.client.get(f"/v1/revisions/{sheet.id}/front?{query}")
    assert (refused.status_code, refused.json()["code"]) == (400, "bad_request")
    assert refused.json()["errors"][0]["pointer"] == query.partition("=")[0]


async def test_what_if_checks_its_edits(sheet: Any) -> None:
    for edit in (STUD | {"value": 43}, {"path": "setup.front.rf.upper_stud.lenght_in", "value": 1.7}):
        refused = await sheet.client.post("/v1/what-if", json={"revision": sheet.id, "edits": [edit]})
        assert (refused.status_code, refused.json()["code"]) == (422, "bad_document")


async def test_a_full_queue_is_busy_while_cached_reads_go_on(sheet: Any, own_context: Any) -> None:
    gate = threading.Event()
    document = f"/v1/revisions/{sheet.id}/document"
    await sheet.client.get(document)
    waiting = [asyncio.create_task(own_context.engine_thread.run(gate.wait)) for _ in range(17)]
    await asyncio.sleep(0)
    busy = await sheet.client.get(f"/v1/revisions/{sheet.id}/front")
    assert (busy.status_code, busy.json()["code"]) == (503, "busy")
    assert busy.headers["retry-after"] == "1"
    assert (await sheet.client.get(document)).status_code == 200
    assert (await sheet.client.get("/livez")).status_code == 200
    gate.set()
    await asyncio.gather(*waiting)
    assert (await sheet.client.get(f"/v1/revisions/{sheet.id}/front")).status_code == 200
