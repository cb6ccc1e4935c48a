"""Records beside setups: entered, read, listed, corrected; what cannot have been is refused. Numbers are invented."""

from collections.abc import Awaitable, Callable
from typing import Any

import httpx2
import pytest

from studbook.wire.records import KINDS

Json = dict[str, Any]
NORTH = {"date": "2026-05-02", "place": "North oval", "surface": "dirt", "length_mi": 0.375}
HEAT = "2026-05-02-north/7/heat-1"
RF_UPPER = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}


async def enter(client: httpx2.AsyncClient, kind: str, name: str, /, **document: Any) -> httpx2.Response:
    return await client.post(KINDS[kind].path, json={"name": name, "document": document})


async def entered(client: httpx2.AsyncClient, kind: str, name: str, /, **document: Any) -> Json:
    answer = await enter(client, kind, name, **document)
    assert answer.status_code == 201, answer.text
    found: Json = answer.json()
    return found


async def read(client: httpx2.AsyncClient, kind: str, name: str) -> Json:
    answer = await client.get(f"{KINDS[kind].path}/{name}")
    assert answer.status_code == 200, answer.text
    found: Json = answer.json()
    return found


async def correct(client: httpx2.AsyncClient, record: Json, *edits: Json, **more: Any) -> httpx2.Response:
    return await client.patch(
        f"{KINDS[record['kind']].path}/{record['name']}",
        json={"edits": list(edits), **more},
        headers={"if-match": f'"{record["tag"]}"'},
    )


@pytest.fixture
async def night(sheet: Any) -> httpx2.AsyncClient:
    """A book with car 7, car 12, an event and two studs of different taper; car 7's right front takes 7.15 deg."""
    client: httpx2.AsyncClient = sheet.client
    assert (await client.post("/v1/cars", json={"car": "12"})).status_code == 201
    await entered(client, "event", "2026-05-02-north", **NORTH)
    for tag, taper in (("s-041", {"in_per_ft": 1.5}), ("s-050", {"in_per_ft": 2})):
        await entered(client, "part", tag, kind="stud", stud={"length_in": 1.7, "taper": taper}, play_limit_in=0.01)
    return client


@pytest.fixture
async def raced(night: httpx2.AsyncClient, sheet: Any) -> str:
    """The id of a setup of car 7 that stood on the afternoon before the night."""
    pushed = await night.post(
        "/v1/cars/7/sheets/raced/revisions",
        json={"document": sheet.document, "at": "2026-05-02T15:00:00-05:00"},
        headers={"if-none-match": "*"},
    )
    assert pushed.status_code == 201, pushed.text
    id_: str = pushed.json()["revision"]["id"]
    return id_


async def test_a_record_is_entered_read_corrected_and_keeps_its_history(night: httpx2.AsyncClient, raced: str) -> None:
    first = await entered(night, "outing", HEAT, revision=raced, kind="heat", laps=2, lap_times_s=[17.4, 17.5])
    assert first["document"]["revision"] == raced
    assert "flags" not in first
    corrected = await correct(night, first, {"path": "finish_place", "value": 3}, note="scored wrong at first")
    assert corrected.status_code == 200, corrected.text
    assert corrected.json()["document"] == first["document"] | {"finish_place": 3}
    assert corrected.headers["etag"] == f'"{corrected.json()["tag"]}"'
    stale = await correct(night, first, {"path": "finish_place", "value": 4})
    assert (stale.status_code, stale.json()["code"]) == (412, "stale")
    history = (await night.get(f"/v1/outings/{HEAT}/history", params={"limit": 1})).json()
    assert [each["note"] for each in history["items"]] == ["scored wrong at first"]
    older = (await night.get(f"/v1/outings/{HEAT}/history", params={"cursor": history["next"]})).json()
    assert [each["id"] for each in older["items"]] == [first["tips"][0]["id"]]


async def test_what_is_entered_twice_is_said(night: httpx2.AsyncClient) -> None:
    again = await enter(night, "event", "2026-05-02-north", **NORTH)
    # The very same words of the same author count as a retry; others do not.
    assert again.status_code == 200
    other = await enter(night, "event", "2026-05-02-north", **NORTH, notes="other")
    assert (other.status_code, other.json()["code"]) == (409, "exists")


@pytest.mark.parametrize("name", ["north", "2026-5-2-north", "2026-05-02-North", "2026-05-02-" + "n" * 40, "a/b"])
async def test_a_name_of_another_form_is_refused(night: httpx2.AsyncClient, name: str) -> None:
    answer = await enter(night, "event", name, **NORTH)
    assert (answer.status_code, answer.json()["code"]) == (400, "bad_reference")


async def test_lists_are_narrowed_and_paged(night: httpx2.AsyncClient) -> None:
    await entered(night, "event", "2026-05-09-north", date="2026-05-09")
    for event in ("2026-05-02-north", "2026-05-09-north"):
        for car in ("7", "12"):
            for run in ("heat-1", "feature"):
                await entered(night, "outing", f"{event}/{car}/{run}", kind=run.removesuffix("-1"))

    async def names(**wanted: Any) -> list[str]:
        answer = await night.get("/v1/outings", params=wanted)
        assert answer.status_code == 200, answer.text
        return [each["name"] for each in answer.json()["items"]]

    assert len(await names()) == 8
    assert await names(event="2026-05-02-north", car="7") == ["2026-05-02-north/7/feature", HEAT]
    assert await names(car="12", kind="feature") == ["2026-05-02-north/12/feature", "2026-05-09-north/12/feature"]
    assert await names(event="2026-05-03-north") == []
    walked, cursor = [], None
    while True:
        params: dict[str, Any] = {"car": "7", "limit": 1} | ({"cursor": cursor} if cursor else {})
        page = await night.get("/v1/outings", params=params)
        walked += [each["name"] for each in page.json()["items"]]
        cursor = page.json().get("next")
        if cursor is None:
            break
        assert f"/v1/outings?limit=1&car=7&cursor={cursor}" in page.headers["link"]
    assert walked == await names(car="7")
    foreign = await night.get("/v1/outings", params={"limit": 1})
    other = await night.get("/v1/outings", params={"car": "7", "cursor": foreign.json()["next"]})
    assert (other.status_code, other.json()["code"]) == (400, "bad_request")


@pytest.mark.parametrize(
    ("told", "pointer", "words"),
    [
        ({"revision": "ab" * 32}, "/document/revision", "there is no revision abababababab"),
        ({"started_at": "2026-05-02T19:40-05:00"}, "/document/started_at", "is before the revision raced was recorded"),
        ({"started_at": "2026-06-02T19:40-05:00"}, "/document/started_at", "is not in the night of 2026-05-02"),
        ({"started_at": "2026-05-02T25:40-05:00"}, "/document/started_at", "is no time"),
        ({"laps": 3}, "/document/laps", "3 laps, but 2 lap times"),
        ({"lap_times_s": [17.4, -1]}, "/document/lap_times_s/1", "-1 s is below the least accepted, 5 s"),
        ({"lap_times_s": [17.4, 5.5]}, "/document/lap_times_s/1", "below the least round 0.375 mi at 220 mph, 6.14 s"),
        ({"track_state": "sticky"}, "/document/track_state", "is none of wet, heavy, tacky"),
        ({"lap_time_s": [17.4]}, "/document/lap_time_s", "no such field; the nearest known is lap_times_s"),
    ],
)
async def test_an_impossible_outing_is_refused_with_field_value_bound_and_unit(
    night: httpx2.AsyncClient, sheet: Any, told: Json, pointer: str, words: str
) -> None:
    # The revision is recorded when the test runs, long after the night: its setup cannot have been raced then.
    lawful = {"kind": "heat", "laps": 2, "lap_times_s": [17.4, 17.5]}
    revision = {"revision": sheet.id} if "before" in words else {}
    answer = await enter(night, "outing", HEAT, **(lawful | revision | told))
    assert (answer.status_code, answer.json()["code"]) == (422, "bad_document"), answer.text
    [fault] = answer.json()["errors"]
    assert fault["pointer"] == pointer
    assert words in fault["detail"]
    assert (await night.get(f"/v1/outings/{HEAT}")).status_code == 404


async def test_names_must_be_of_something(night: httpx2.AsyncClient) -> None:
    answer = await enter(night, "outing", "2026-05-03-south/8/heat-1", kind="heat")
    assert [fault["detail"] for fault in answer.json()["errors"]] == [
        "there is no car 8",
        "there is no event 2026-05-03-south",
    ]
    assert {fault["pointer"] for fault in answer.json()["errors"]} == {"/name"}


async def test_another_cars_revision_was_not_raced(night: httpx2.AsyncClient, sheet: Any) -> None:
    answer = await enter(night, "outing", "2026-05-02-north/12/heat-1", revision=sheet.id)
    assert "is of car 7, not of car 12" in answer.json()["errors"][0]["detail"]


def fitted(number: int, *, car: str = "7", at: str = "16:10", **more: Any) -> tuple[str, Json]:
    """What fits s-041 to a car."""
    document = {"what": "fitted", "at": f"2026-05-02T{at}-05:00", "place": RF_UPPER | {"car": car}, **more}
    return f"s-041/2026-05-02-fitted-{number}", document


async def test_a_part_goes_from_car_to_car_but_is_never_on_two(night: httpx2.AsyncClient) -> None:
    name, document = fitted(1)
    await entered(night, "shop_record", name, **document)
    name, document = fitted(2, car="12", at="18:00")
    twice = await enter(night, "shop_record", name, **document)
    assert twice.status_code == 422
    [fault] = twice.json()["errors"]
    assert fault["pointer"] == "/document/place/car"
    assert "it is on car 7 since s-041/2026-05-02-fitted-1" in fault["detail"]
    # Nor by a record entered late, of before.
    name, document = fitted(3, car="12", at="15:00")
    assert (await enter(night, "shop_record", name, **document)).status_code == 422
    removed = {"what": "removed", "at": "2026-05-02T17:00-05:00", "place": {"where": "trailer"}}
    await entered(night, "shop_record", "s-041/2026-05-02-removed-1", **removed)
    name, document = fitted(2, car="12", at="18:00")
    await entered(night, "shop_record", name, **document)


async def test_what_is_yet_to_come_was_not_done(night: httpx2.AsyncClient) -> None:
    ahead = await enter(night, "shop_record", "s-041/9026-05-02-contact-1", what="contact", at="9026-05-02T20:00Z")
    [fault] = ahead.json()["errors"]
    assert (fault["pointer"], fault["value"]) == ("/document/at", "9026-05-02T20:00Z")
    assert "is more than a day from now" in fault["detail"]


async def test_a_part_ran_in_outings_without_a_time_that_were_entered_while_it_was_on(
    night: httpx2.AsyncClient,
) -> None:
    place = {**RF_UPPER, "slot": "lower_stud"}
    for tag, what, at in (("s-041", "fitted", "21:10"), ("s-041", "removed", "22:30"), ("s-050", "fitted", "22:30")):
        where = place if what == "fitted" else {"where": "trailer"}
        await entered(
            night, "shop_record", f"{tag}/2026-05-02-{what}-1", what=what, at=f"2026-05-02T{at}Z", place=where
        )
    for run, laps, at in (("heat-1", 8, "22:00"), ("feature", 30, "23:00")):
        told = {"name": f"2026-05-02-north/7/{run}", "document": {"laps": laps}, "at": f"2026-05-02T{at}:00Z"}
        outing = await night.post("/v1/outings", json=told)
        assert outing.status_code == 201, outing.text
        assert (await correct(night, outing.json(), {"path": "finish_place", "value": 3})).status_code == 200
    ran = {state["part"]: state["laps"] for state in (await night.get("/v1/shelf")).json()["items"]}
    assert ran == {"s-041": 8, "s-050": 30}
    season = (await night.get("/v1/reports/season?car=7")).json()
    assert {part["part"]: part["laps"] for part in season["cars"][0]["parts"]} == ran


@pytest.mark.parametrize(
    ("name", "told", "pointer"),
    [
        ("fitted-1", {"what": "fitted", "place": {"where": "car"}}, "/document/place/car"),
        ("fitted-1", {"what": "removed"}, "/document/what"),
        ("preload-1", {"what": "preload", "preload": {"basis": "running"}}, "/document/preload/torque_in_lb"),
        ("preload-1", {"what": "preload", "preload": {"torque_in_lb": 12}}, "/document/preload/basis"),
        ("play-1", {"what": "play"}, "/document/play_in"),
        ("inspected-1", {"what": "inspected"}, "/document/inspected/straight"),
        (
            "inspected-1",
            {"what": "inspected", "inspected": {"straight": True, "bent_by_in": 0.02}},
            "/document/inspected/bent_by_in",
        ),
        ("moved-1", {"what": "moved", "place": {"where": "shelf", "car": "7"}}, "/document/place/car"),
        ("contact-1", {"what": "contact", "at": "2026-05-09T20:00Z"}, "/document/at"),
        ("contact-1", {"what": "contact", "at": "9026-05-02T20:00Z"}, "/document/at"),
        ("contact-1", {"what": "contact", "outing": HEAT}, "/document/outing"),
    ],
)
async def test_a_shop_record_says_what_it_must(night: httpx2.AsyncClient, name: str, told: Json, pointer: str) -> None:
    answer = await enter(night, "shop_record", f"s-041/2026-05-02-{name}", **({"at": "2026-05-02T16:10-05:00"} | told))
    assert (answer.status_code, answer.json().get("code")) == (422, "bad_document"), answer.text
    assert pointer in {fault["pointer"] for fault in answer.json()["errors"]}


async def test_a_stud_goes_only_where_its_taper_fits(night: httpx2.AsyncClient, sheet: Any) -> None:
    edit = {"path": "setup.front.rf.upper_stud.taper_included_deg", "value": 7.15}
    assert (await sheet.push({"edits": [edit]})).status_code == 201
    place = {"what": "fitted", "at": "2026-05-02T16:10-05:00", "place": RF_UPPER}
    answer = await enter(night, "shop_record", "s-050/2026-05-02-fitted-1", **place)
    [fault] = answer.json()["errors"]
    # 2 atan(2/24) and 2 atan(1.5/24), by hand: 9.527 and 7.153 deg.
    assert "its taper of 9.527 deg cannot go into the 7.15 deg of car 7's rf" in fault["detail"]
    assert (fault["least"], fault["unit"]) == (7.15, "deg")
    await entered(night, "shop_record", "s-041/2026-05-02-fitted-1", **place)
    elsewhere = await enter(
        night, "shop_record", "s-050/2026-05-02-fitted-1", **(place | {"place": RF_UPPER | {"slot": "shock"}})
    )
    assert "shock takes no stud" in elsewhere.json()["errors"][0]["detail"]
    behind = place | {"place": RF_UPPER | {"corner": "rr"}}
    at_the_rear = await enter(night, "shop_record", "s-050/2026-05-02-fitted-1", **behind)
    assert "place.corner: rr has no upper_stud: lf or rf has" in at_the_rear.text


@pytest.mark.parametrize("kind", KINDS)
async def test_every_kind_takes_its_example(night: httpx2.AsyncClient, kind: str) -> None:
    name, document = KINDS[kind].example
    document = {key: value for key, value in document.items() if key != "revision"}
    answer = await enter(night, kind, name, **document)
    assert answer.status_code in (200, 201) or answer.json()["code"] == "exists", answer.text
    shown = await read(night, kind, name)
    assert shown["kind"] == kind
    listed = (await night.get(KINDS[kind].path)).json()["items"]
    assert name in [each["name"] for each in listed]


@pytest.mark.usefixtures("night")
async def test_who_only_looks_records_nothing(with_role: Callable[[str], Awaitable[httpx2.AsyncClient]]) -> None:
    async with await with_role("viewer") as viewer:
        assert (await enter(viewer, "event", "2026-05-09-north", **NORTH)).status_code == 403
        shown = await read(viewer, "event", "2026-05-02-north")
        assert (await correct(viewer, shown, {"path": "notes", "value": "x"})).status_code == 403


async def test_a_retry_is_answered_with_what_it_made(night: httpx2.AsyncClient) -> None:
    body = {"name": "2026-05-09-north", "document": {"date": "2026-05-09"}}
    made = [await night.post("/v1/events", json=body, headers={"idempotency-key": "k1"}) for _ in range(2)]
    assert [each.status_code for each in made] == [201, 200]
    record = made[0].json()
    sent = {"if-match": f'"{record["tag"]}"', "idempotency-key": "k2"}
    edit = {"edits": [{"path": "surface", "value": "dirt"}]}
    twice = [await night.patch("/v1/events/2026-05-09-north", json=edit, headers=sent) for _ in range(2)]
    assert [each.status_code for each in twice] == [200, 200]
    assert twice[0].json()["tips"] == twice[1].json()["tips"]
