"""Around the scales over HTTP: what is recorded, what is told of it, what is refused. All numbers are invented."""

import datetime as dt
from typing import Any

import httpx2
import pytest

Json = dict[str, Any]
CHECK = {"measured": {"front": {"rf": {"alignment": {"camber_deg": -4.6}}}, "scales": {"rf_lb": 520}}}
PERCH = "setup.rear.rr.spring.perch.thread_showing_in"


async def enter(client: httpx2.AsyncClient, path: str, name: str, document: Json) -> Json:
    answer = await client.post(path, json={"name": name, "document": document})
    assert answer.status_code == 201, answer.text
    entered: Json = answer.json()
    return entered


def refused(answer: httpx2.Response) -> tuple[int, str]:
    return answer.status_code, answer.json()["code"]


@pytest.fixture
async def raced(sheet: Any) -> Any:
    """Car 7 with a night in the book, of which it left with the baseline."""
    night = {"date": "2026-05-02", "surface": "dirt"}
    await enter(sheet.client, "/v1/events", "2026-05-02-north", night)
    old = {"document": sheet.document, "at": "2026-05-01T12:00:00Z"}
    path = "/v1/cars/7/sheets/raced/revisions"
    pushed = await sheet.client.post(path, json=old, headers={"if-none-match": "*"})
    sheet.raced = pushed.json()["revision"]["id"]
    await enter(sheet.client, "/v1/outings", "2026-05-02-north/7/heat-1", {"revision": sheet.raced, "kind": "heat"})
    return sheet


async def test_sensitivity_is_what_a_what_if_answers_and_is_remembered(sheet: Any) -> None:
    path = f"/v1/revisions/{sheet.id}/sensitivity?perch_turns=2"
    found = await sheet.client.get(path)
    assert found.status_code == 200, found.text
    row = next(each for each in found.json()["steps"] if each["kind"] == "perch" and each["where"] == "RR")
    assert row["step"] == "2 turns in (tighten, raises)"
    tried = await sheet.client.post("/v1/what-if", json={"revision": sheet.id, "edits": row["edits"]})
    assert row["loads"] == tried.json()["on_scales"]["change"]
    assert (await sheet.client.get(path, headers={"if-none-match": found.headers["etag"]})).status_code == 304
    assert refused(await sheet.client.get(f"/v1/revisions/{sheet.id}/sensitivity?perch_turns=60")) == (
        400,
        "bad_request",
    )


async def test_a_check_is_held_against_what_was_raced_last(raced: Any) -> None:
    wanted = {"car": "7", "document": CHECK}
    found = await raced.client.post("/v1/returned", json=wanted)
    assert found.status_code == 200, found.text
    told = found.json()
    assert (told["revision"], told["chosen"]) == (raced.raced, "raced last, in 2026-05-02-north/7/heat-1")
    assert "RF camber -0.60 deg with nothing recorded: bent or slipped?" in told["headline"]
    before = {"car": "7", "document": CHECK | {"at": "2026-05-01T09:00Z"}}
    assert refused(await raced.client.post("/v1/returned", json=before)) == (404, "not_found")
    named = {"car": "7", "document": CHECK | {"revision": raced.id}}
    assert (await raced.client.post("/v1/returned", json=named)).json()["chosen"] == "named in the check"


async def test_an_outing_of_today_without_a_time_was_raced_before_a_check_of_today(raced: Any) -> None:
    today = dt.datetime.now(dt.UTC)
    night = f"{today:%Y-%m-%d}-south"
    await enter(raced.client, "/v1/events", night, {"date": f"{today:%Y-%m-%d}", "surface": "dirt"})
    await enter(raced.client, "/v1/outings", f"{night}/7/heat-1", {"revision": raced.id, "kind": "heat"})
    chosen = []
    for at in (dt.datetime.now(dt.UTC), today - dt.timedelta(minutes=1)):
        wanted = {"car": "7", "document": CHECK | {"at": f"{at:%Y-%m-%dT%H:%MZ}"}}
        chosen.append((await raced.client.post("/v1/returned", json=wanted)).json()["chosen"])
    assert chosen == [f"raced last, in {night}/7/heat-1", "raced last, in 2026-05-02-north/7/heat-1"]


async def test_of_a_night_without_times_the_outing_entered_last_counts_and_a_correction_makes_none_later(
    raced: Any,
) -> None:
    client, night = raced.client, "2026-05-02-north/7"
    other = {"document": raced.document, "at": "2026-05-01T13:00:00Z"}
    pushed = await client.post("/v1/cars/7/sheets/slick/revisions", json=other, headers={"if-none-match": "*"})
    slick = pushed.json()["revision"]["id"]
    await enter(client, "/v1/outings", f"{night}/feature", {"revision": slick, "kind": "feature"})
    heat = (await client.get(f"/v1/outings/{night}/heat-1")).json()
    edits = [{"path": "finish_place", "value": 2}]
    sent = {"if-match": f'"{heat["tag"]}"'}
    corrected = await client.patch(f"/v1/outings/{night}/heat-1", json={"edits": edits}, headers=sent)
    assert corrected.status_code == 200, corrected.text
    told = (await client.post("/v1/returned", json={"car": "7", "document": CHECK})).json()
    assert told["revision"] == slick
    assert told["chosen"].startswith(f"raced last, in {night}/feature; a time is missing that night")


async def test_a_recorded_check_tells_the_same_and_later_tolerances_count(raced: Any) -> None:
    client = raced.client
    await enter(client, "/v1/checks", "7/2026-05-04-0930", CHECK | {"revision": raced.raced})
    path = "/v1/checks/7/2026-05-04-0930/findings"
    tried = await client.post("/v1/returned", json={"car": "7", "document": CHECK | {"revision": raced.raced}})
    assert (await client.get(path)).json() == tried.json()
    await enter(client, "/v1/tolerances", "tolerances", {"camber_deg": 0.8})
    found = (await client.get(path)).json()
    assert "those of the team for camber_deg" in found["assumptions"][0]
    assert not any("camber" in each for each in found["headline"])
    assert refused(await client.get("/v1/checks/7/2026-05-05-0930/findings")) == (404, "not_found")


async def test_a_fitted_joints_own_limit_counts(raced: Any) -> None:
    client = raced.client
    await enter(client, "/v1/parts", "j-7", {"kind": "joint", "play_limit_in": 0.003})
    fitted = {
        "what": "fitted",
        "at": "2026-05-01T10:00Z",
        "place": {"where": "car", "car": "7", "corner": "rf", "slot": "lower_joint"},
    }
    await enter(client, "/v1/shop-records", "j-7/2026-05-01-fitted-1", fitted)
    loose = {"measured": {"front": {"rf": {"lower_joint": {"play_axial_in": 0.004}}}}}
    found = await client.post("/v1/returned", json={"car": "7", "document": loose})
    assert found.json()["headline"][1] == ("RF lower joint axial play 0.004 in, its limit is 0.003: replace it.")


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"measured": {"scales": {"rf_lb": 5030}}}, "/document/measured/scales/rf_lb"),
        ({"measured": {"scale": {"rf_lb": 503}}}, "/document/measured/scale/rf_lb"),
        ({"revision": "0f3a"}, "/document/revision"),
    ],
)
async def test_a_check_that_cannot_be_is_refused_at_its_field(raced: Any, body: Json, pointer: str) -> None:
    answer = await raced.client.post("/v1/returned", json={"car": "7", "document": body})
    assert refused(answer) == (422, "bad_document")
    assert answer.json()["errors"][0]["pointer"] == pointer


async def test_a_check_of_another_cars_setup_is_refused(raced: Any) -> None:
    assert (await raced.client.post("/v1/cars", json={"car": "12"})).status_code == 201
    wanted = {"car": "12", "document": CHECK | {"revision": raced.id}}
    assert refused(await raced.client.post("/v1/returned", json=wanted)) == (400, "bad_request")
    assert refused(await raced.client.post("/v1/returned", json=wanted | {"car": "9"})) == (404, "not_found")


async def test_a_session_is_averaged_and_one_reading_is_none(sheet: Any) -> None:
    client = sheet.client
    readings = [[590, 503, 718, 629], [591, 502, 717, 630]]
    one = {"name": "7/2026-05-01-1", "document": {"readings_lb": readings[:1]}}
    answer = await client.post("/v1/scale-sessions", json=one)
    assert refused(answer) == (422, "bad_document")
    [fault] = answer.json()["errors"]
    assert (fault["pointer"], fault["least"]) == ("/document/readings_lb", 2)
    await enter(client, "/v1/scale-sessions", "7/2026-05-01-1", {"readings_lb": readings})
    told = (await client.get("/v1/scale-sessions/7/2026-05-01-1/weights")).json()
    assert (told["count"], told["average"]["lf_lb"], told["spread"]["rr_lb"]) == (2, 590.5, 1)


async def test_after_the_race_against_typed_rules(sheet: Any) -> None:
    client = sheet.client
    scaled = sum(sheet.document["measured"]["scales"][f"{name}_lb"] for name in ("lf", "rf", "lr", "rr"))
    await enter(client, "/v1/rules", "late-models", {"min_total_lb": scaled - 40, "max_left_percent": 60})
    asked = {"revision": sheet.id, "fuel_burned_lb": 40, "rules": "late-models"}
    told = (await client.post("/v1/after-race", json=asked)).json()
    assert [(each["what"], each["verdict"]) for each in told["limits"]] == [("total", "too_close"), ("left", "clear")]
    assert (told["total_lb"], told["source"]) == (pytest.approx(scaled - 40, abs=1e-3), "rules late-models")
    heavier = [{"path": "setup.ballast.more", "remove": True}]
    assert refused(await client.post("/v1/after-race", json=asked | {"edits": heavier})) == (422, "bad_document")
    assert refused(await client.post("/v1/after-race", json=asked | {"rules": "none"})) == (404, "not_found")
