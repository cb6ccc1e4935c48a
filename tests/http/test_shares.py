"""Shares: a friend sees one car or one sheet until a date, exactly that, and writes nothing."""

import asyncio
import datetime as dt
import re
from typing import Any

import pytest

STUD = "setup.front.rf.upper_stud.length_in"


def code(reply: Any) -> tuple[int, str]:
    return reply.status_code, reply.json()["code"]


@pytest.fixture
async def others(client: Any, sheet: Any) -> dict[str, str]:
    """What must not be seen beside car 7's baseline: another sheet of it, carried from there, and car 70."""
    ids = {"baseline": sheet.id}
    assert (await client.post("/v1/cars", json={"car": "70"})).status_code == 201
    for path in ("/v1/cars/7/sheets/slick", "/v1/cars/70/sheets/baseline"):
        body = {"document": sheet.document, "note": f"for {path}", "carried_from": sheet.id}
        made = await client.post(f"{path}/revisions", json=body, headers={"if-none-match": "*"})
        assert made.status_code == 201, made.text
        ids[path] = made.json()["revision"]["id"]
    return ids


def told(reply: Any, name: str) -> tuple[Any, str]:
    """Give an answer without what differs from one to the next."""
    shape = {key: value for key, value in reply.headers.items() if "rate" not in key and key != "x-request-id"}
    text = re.sub(r'"request_id":"[^"]+"', "", reply.text)
    return (reply.status_code, shape), text.replace(name, "NAME").replace(name[:12], "NAME")


async def test_a_shared_sheet_is_seen_and_nothing_else(sheet: Any, others: Any, shared_with: Any) -> None:
    friend = (await shared_with("7", "baseline")).client
    shown = (await friend.get(sheet.path)).json()
    assert shown["document"] == sheet.document
    assert shown["tips"][0]["author"] == {"id": "chief"}  # an id, and nobody's name
    for path in (
        f"{sheet.path}/history",
        f"/v1/revisions/{sheet.id}",
        f"/v1/revisions/{sheet.id[:8]}",
        f"/v1/revisions/{sheet.id}/document",
        f"/v1/revisions/{sheet.id}/front",
        f"/v1/revisions/{sheet.id}/changes?since={sheet.id}",
    ):
        assert (await friend.get(path)).status_code == 200, path
    assert (await friend.get("/v1/cars")).json() == {"items": []}
    (listed,) = (await friend.get("/v1/cars/7/sheets")).json()["items"]
    assert listed["sheet"] == "baseline"
    for path, hidden, nothing in [
        ("/v1/cars/{}", "7", "9"),
        ("/v1/cars/{}/sheets", "70", "99"),
        ("/v1/cars/7/sheets/{}", "slick", "stick"),
        ("/v1/cars/7/sheets/{}/history", "slick", "stick"),
        *(
            (path, others["/v1/cars/7/sheets/slick"], "0" * 64)
            for path in (
                "/v1/revisions/{}",
                "/v1/revisions/{}/document",
                "/v1/revisions/{}/front",
                f"/v1/revisions/{{}}/changes?since={sheet.id}",
                f"/v1/revisions/{sheet.id}/changes?since={{}}",
                f"/v1/revisions/{sheet.id}/effects?since={{}}",
            )
        ),
        ("/v1/revisions/{}", others["/v1/cars/7/sheets/slick"][:8], "00000000"),
    ]:
        refused, none = await friend.get(path.format(hidden)), await friend.get(path.format(nothing))
        assert code(refused) == (404, "not_found"), (path, refused.text)
        assert told(refused, hidden) == told(none, nothing), path


async def test_a_shared_car_is_seen_with_its_sheets(others: Any, shared_with: Any) -> None:
    friend = (await shared_with("7")).client
    assert [car["car"] for car in (await friend.get("/v1/cars")).json()["items"]] == ["7"]
    assert [each["sheet"] for each in (await friend.get("/v1/cars/7/sheets")).json()["items"]] == ["baseline", "slick"]
    carried = (await friend.get(f"/v1/revisions/{others['/v1/cars/7/sheets/slick']}")).json()
    assert carried["carried_from"] == others["baseline"]
    assert code(await friend.get(f"/v1/revisions/{others['/v1/cars/70/sheets/baseline']}")) == (404, "not_found")
    assert code(await friend.get("/v1/cars/70")) == (404, "not_found")


async def test_what_the_team_read_is_not_remembered_for_a_friend(client: Any, others: Any, shared_with: Any) -> None:
    friend = (await shared_with("7", "baseline")).client
    await friend.get("/v1/me")  # known to the process from here on
    for id_ in others.values():
        for what in ("document", "front"):
            assert (await client.get(f"/v1/revisions/{id_}/{what}")).status_code == 200
    hidden = others["/v1/cars/7/sheets/slick"]
    for what in ("document", "front", f"effects?since={others['baseline']}"):
        assert code(await friend.get(f"/v1/revisions/{hidden}/{what}")) == (404, "not_found")
    assert (await friend.get(f"/v1/revisions/{others['baseline']}/document")).status_code == 200


async def test_a_friend_writes_and_computes_nothing(sheet: Any, shared_with: Any) -> None:
    friend = (await shared_with("7")).client
    seen = {"if-match": f'"{sheet.tag}"'}
    for method, path, body in [
        ("POST", "/v1/cars", {"car": "8"}),
        ("PATCH", "/v1/cars/7", {"name": "mine"}),
        ("POST", f"{sheet.path}/revisions", {"edits": [{"path": STUD, "value": 1.7}]}),
        ("POST", f"{sheet.path}/merge", None),
        ("POST", "/v1/what-if", {"revision": sheet.id, "edits": [{"path": STUD, "value": 1.7}]}),
        ("POST", "/v1/attitude", {"revision": sheet.id}),
        ("POST", "/v1/searches/studs", {}),
        ("POST", "/v1/exchange", None),
        ("GET", "/v1/peers", None),
        ("GET", "/v1/members", None),
        ("GET", "/v1/tokens", None),
        ("GET", "/v1/shares", None),
        ("GET", "/v1/audit", None),
        ("PUT", f"{sheet.path}/protection", None),
    ]:
        refused = await friend.request(method, path, json=body, headers=seen)
        assert code(refused) == (403, "not_allowed"), (method, path)


async def test_both_sides_can_tell_what_is_shared(client: Any, sheet: Any, shared_with: Any) -> None:  # noqa: ARG001 - the sheet that is shared
    until = dt.datetime(2027, 3, 1, tzinfo=dt.UTC)
    shared = await shared_with("7", "baseline", until=until)
    (listed,) = (await client.get("/v1/shares")).json()["items"]
    assert re.fullmatch(r"s-[a-z2-7]{10}", listed["id"])
    assert (listed["car"], listed["sheet"], listed["label"], listed["made_by"]) == (
        *("7", "baseline", "Lee's crew", "chief"),
    )
    me = (await shared.client.get("/v1/me")).json()
    assert (me["id"], me["role"]) == (listed["id"], "share")
    shown = {key: value for key, value in listed.items() if key not in {"made_by", "made_at"}}
    assert me["share"] == shown
    assert dt.datetime.fromisoformat(me["share"]["until"]) == until


async def test_an_ended_share_shows_nothing_a_second_later(client: Any, sheet: Any, shared_with: Any) -> None:
    shared = await shared_with("7")
    document = f"/v1/revisions/{sheet.id}/document"
    assert (await shared.client.get(document)).status_code == 200
    ended = await client.delete(f"/v1/shares/{shared.id}")
    assert ended.json()["ended_at"]
    assert (await client.delete(f"/v1/shares/{shared.id}")).json() == ended.json()
    await asyncio.sleep(1)
    assert code(await shared.client.get(document)) == (401, "token_refused")


async def test_a_share_ends_on_its_date(sheet: Any, shared_with: Any) -> None:
    shared = await shared_with("7", until=dt.datetime.now(dt.UTC) + dt.timedelta(seconds=1))
    assert (await shared.client.get(sheet.path)).status_code == 200
    await asyncio.sleep(1)
    assert code(await shared.client.get(sheet.path)) == (401, "token_refused")


@pytest.mark.parametrize(
    ("more", "status", "pointer", "said"),
    [
        ({"until": "2020-01-01T00:00:00Z"}, 400, "/until", "not between now and 731 days"),
        ({"until": "2099-01-01T00:00:00Z"}, 400, "/until", "not between now and 731 days"),
        ({"until": "2027-01-01T00:00:00"}, 400, "/until", "no timestamp with its offset"),
        ({"until": "soon"}, 400, "/until", "'soon'"),
        ({"label": ""}, 400, "/label", "one line"),
        ({"car": "No. 7"}, 400, "/car", "is not 1 to 48"),
        ({"car": "99"}, 404, None, "there is no car 99"),
        ({"sheet": "none"}, 404, None, "car 7 has no sheet none"),
    ],
)
async def test_what_cannot_be_shared(
    more: Any,
    status: int,
    pointer: str | None,
    said: str,
    client: Any,
    sheet: Any,  # noqa: ARG001 - the car there is
) -> None:
    body = {"car": "7", "label": "Lee's crew", "until": "2027-01-01T00:00:00Z"} | more
    refused = await client.post("/v1/shares", json=body)
    assert refused.status_code == status, refused.text
    problem = refused.json()
    assert said in problem["detail"]
    assert [fault["pointer"] for fault in problem.get("errors", [])] == ([pointer] if pointer else [])
