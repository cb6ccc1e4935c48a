"""Members: who belongs to a team, under ids that say nothing, and what a changed role holds for."""

import asyncio
import re
from dataclasses import replace
from typing import Any

import pytest
from litestar import get

from studbook.wire.operations.access import READ_ME
from studbook_service.actions.operations import bound
from studbook_service.actions.rights import refuse_unless_allowed
from studbook_service.http import service
from studbook_service.http.routes import refuse_incomplete, route_of, serves
from studbook_service.store import audit_event


def code(reply: Any) -> tuple[int, str]:
    return reply.status_code, reply.json()["code"]


async def test_a_token_says_who_holds_it(client: Any, with_role: Any) -> None:
    assert (await client.get("/v1/me")).json() == {"id": "chief", "name": "Chris", "role": "chief"}
    async with await with_role("viewer") as viewer:
        assert (await viewer.get("/v1/me")).json() == {"id": "viewer", "name": "Viewer", "role": "viewer"}
        assert (await viewer.get("/v1/me", headers={"authorization": "Bearer none"})).status_code == 401


async def test_a_member_gets_an_id_that_says_nothing(client: Any, sheet: Any, join: Any) -> None:
    robin = await join("Robin")
    assert re.fullmatch(r"m-[a-z2-7]{10}", robin.id)
    pushed = await robin.client.post(
        f"{sheet.path}/revisions", json={"document": sheet.document, "note": "mine"}, headers=seen(sheet.tag)
    )
    assert pushed.json()["revision"]["author"] == {"id": robin.id, "name": "Robin"}
    listed = (await client.get("/v1/members")).json()
    assert {"id": robin.id, "name": "Robin", "role": "crew"} in listed["items"]
    assert "home" not in listed


async def test_an_id_may_be_given_once(client: Any) -> None:
    wanted = {"id": "trailer", "name": "The trailer's laptop", "role": "node"}
    assert (await client.post("/v1/members", json=wanted)).status_code == 201
    assert code(await client.post("/v1/members", json=wanted)) == (409, "exists")
    for reserved in ("merge", "owner"):
        refused = await client.post("/v1/members", json=wanted | {"id": reserved})
        assert code(refused) == (400, "bad_request")
        assert refused.json()["errors"][0]["value"] == reserved


async def test_a_new_role_holds_for_the_tokens_there_are(client: Any, sheet: Any, join: Any) -> None:
    robin = await join("Robin")
    assert (await robin.client.get("/v1/cars")).status_code == 200
    changed = await client.patch(f"/v1/members/{robin.id}", json={"role": "viewer", "name": "Robin K."})
    assert changed.json() == {"id": robin.id, "name": "Robin K.", "role": "viewer"}
    await asyncio.sleep(1)
    assert (await robin.client.get("/v1/me")).json() == changed.json()
    refused = await robin.client.post("/v1/cars", json={"car": "8"})
    assert code(refused) == (403, "not_allowed")
    assert (await client.get(f"/v1/revisions/{sheet.id}")).json()["author"]["name"] == "Chris"


async def test_who_left_is_out_within_a_second_and_a_return_revives_no_token(client: Any, join: Any) -> None:
    robin = await join("Robin")
    assert (await robin.client.get("/v1/cars")).status_code == 200
    ended = await client.patch(f"/v1/members/{robin.id}", json={"ended": True})
    assert ended.json() == {"id": robin.id, "name": "Robin", "role": "crew", "ended": True}
    await asyncio.sleep(1)
    assert code(await robin.client.get("/v1/cars")) == (401, "token_refused")
    assert (await client.patch(f"/v1/members/{robin.id}", json={"ended": False})).status_code == 200
    await asyncio.sleep(1)
    assert code(await robin.client.get("/v1/cars")) == (401, "token_refused")


async def test_the_last_chief_stays(client: Any, join: Any) -> None:
    for change in ({"ended": True}, {"role": "crew"}):
        assert code(await client.patch("/v1/members/chief", json=change)) == (409, "last_chief")
    ada = await join("Ada", "chief")
    assert (await client.patch("/v1/members/chief", json={"role": "crew"})).status_code == 200
    assert code(await ada.client.patch(f"/v1/members/{ada.id}", json={"ended": True})) == (409, "last_chief")


async def test_a_laptop_stays_a_laptop(client: Any, join: Any) -> None:
    trailer, robin = await join("Trailer", "node"), await join("Robin")
    for id_, role in ((trailer.id, "chief"), (robin.id, "node")):
        refused = await client.patch(f"/v1/members/{id_}", json={"role": role})
        assert code(refused) == (400, "bad_request")
        assert refused.json()["errors"][0]["pointer"] == "/role"


@pytest.mark.parametrize("body", [{}, {"name": "Robin"}, {"role": "crew", "ended": False}])
async def test_what_is_so_already_is_not_recorded(body: Any, client: Any, join: Any) -> None:
    robin = await join("Robin")
    before = (await client.get("/v1/audit")).json()["items"]
    assert (await client.patch(f"/v1/members/{robin.id}", json=body)).status_code == 200
    assert (await client.get("/v1/audit")).json()["items"] == before


@pytest.mark.parametrize("role", ["viewer", "crew", "node"])
async def test_only_a_chief_decides(role: str, sheet: Any, join: Any) -> None:
    held = (await join("Robin", role)).client
    for method, path, body in [
        ("GET", "/v1/members", None),
        ("POST", "/v1/members", {"name": "Eve"}),
        ("PATCH", "/v1/members/chief", {"role": "viewer"}),
        ("POST", "/v1/tokens", {"label": "mine"}),
        ("GET", "/v1/shares", None),
        ("POST", "/v1/shares", {"car": "7", "label": "Eve", "until": "2027-01-01T00:00:00Z"}),
        ("DELETE", "/v1/shares/s-aaaaaaaaaa", None),
        ("PUT", f"{sheet.path}/protection", None),
        ("DELETE", f"{sheet.path}/protection", None),
        ("GET", "/v1/audit", None),
    ]:
        assert code(await held.request(method, path, json=body)) == (403, "not_allowed"), (method, path)


@pytest.mark.parametrize(
    ("body", "pointer", "said_of_it"),
    [
        ({}, "/name", "missing"),
        ({"name": ""}, "/name", "one line of 1 to 80 characters"),
        ({"name": " Robin"}, "/name", "one line"),
        ({"name": "Robin\n"}, "/name", "one line"),
        ({"name": "Ro\x1bbin"}, "/name", "one line"),
        ({"name": "x" * 81}, "/name", "81 characters, at most 80"),
        ({"name": 7}, "/name", "7"),
        ({"name": "Robin", "role": "owner"}, "/role", "'owner' is none of viewer, crew, chief, node"),
        ({"name": "Robin", "id": "Robin K"}, "/id", "'Robin K' is not 1 to 48 of a-z, 0-9, _ and -"),
        ({"name": "Robin", "admin": True}, "/admin", "unknown"),
    ],
)
async def test_what_does_not_fit_is_named(body: Any, pointer: str, said_of_it: str, client: Any) -> None:
    refused = await client.post("/v1/members", json=body)
    assert code(refused) == (400, "bad_request")
    (fault,) = refused.json()["errors"]
    assert fault["pointer"] == pointer
    assert said_of_it in fault["detail"], fault


async def test_away_from_home_nothing_is_decided(client: Any, sheet: Any, join: Any, book: Any, team: Any) -> None:
    robin = await join("Robin")
    share = await client.post("/v1/shares", json={"car": "7", "label": "Lee", "until": "2027-01-01T00:00:00Z"})
    trailer = (await client.post("/v1/members", json={"name": "Trailer", "role": "node"})).json()["id"]
    await book.access.set_home(team.team, "shop", audit=audit_event(actor="owner", action="home.set", subject="home"))
    for method, path, body in [
        ("POST", "/v1/members", {"name": "Eve"}),
        ("PATCH", f"/v1/members/{robin.id}", {"role": "chief"}),
        ("POST", "/v1/tokens", {"label": "trailer", "member": trailer}),
        ("POST", "/v1/shares", {"car": "7", "label": "Eve", "until": "2027-01-01T00:00:00Z"}),
        ("DELETE", f"/v1/shares/{share.json()['share']['id']}", None),
        ("PUT", f"{sheet.path}/protection", None),
        ("DELETE", f"{sheet.path}/protection", None),
    ]:
        refused = await client.request(method, path, json=body)
        assert code(refused) == (409, "not_home"), (method, path, refused.text)
        assert "shop" in refused.json()["detail"]
    assert (await client.get("/v1/members")).json()["home"] == "shop"
    made = await client.post("/v1/tokens", json={"label": "on this laptop", "member": robin.id})
    assert made.status_code == 201
    assert (await client.delete(f"/v1/tokens/{made.json()['about']['id']}")).status_code == 200


async def test_another_teams_are_not_there(client: Any, stranger: Any, sheet: Any, join: Any) -> None:
    """The answer about a thing of another team is the answer about no thing, byte for byte but for the names asked."""
    robin = await join("Robin")
    share = await client.post("/v1/shares", json={"car": "7", "label": "Lee", "until": "2027-01-01T00:00:00Z"})
    token = (await client.get("/v1/tokens")).json()["items"][0]["id"]
    for method, form, theirs, nothing, body in [
        ("PATCH", "/v1/members/{}", robin.id, "m-aaaaaaaaaa", {"role": "viewer"}),
        ("DELETE", "/v1/tokens/{}", token, "0" * 12, None),
        ("DELETE", "/v1/shares/{}", share.json()["share"]["id"], "s-aaaaaaaaaa", None),
        ("PUT", "/v1/cars/7/sheets/{}/protection", "baseline", "baselina", None),
        ("POST", "/v1/tokens", robin.id, "m-aaaaaaaaaa", {"label": "mine", "member": "{}"}),
        ("GET", "/v1/revisions/{}", sheet.id, "0" * 64, None),
    ]:
        told = []
        for name in (theirs, nothing):
            sent = {key: value.format(name) for key, value in body.items()} if body else None
            refused = await stranger.request(method, form.format(name), json=sent)
            assert code(refused) == (404, "not_found"), (method, form, refused.text)
            shape = {
                key: value for key, value in refused.headers.items() if "rate" not in key and key != "x-request-id"
            }
            text = re.sub(r'"request_id":"[^"]+"', "", refused.text).replace(name[:12], "NAME")
            told.append((shape, text.replace(name, "NAME")))
        assert told[0] == told[1], (method, form)


def test_what_is_not_decided_nobody_may(bearer: Any) -> None:
    routes = [*(route_of(operation, action) for operation, action in bound()), *service.ROUTES]
    refuse_incomplete(routes)
    with pytest.raises(RuntimeError, match=r"served without a row: .*/v1/secrets"):
        refuse_incomplete([*routes, get("/v1/secrets")(service.live.fn)])
    of_no_row = replace(READ_ME, name="list_secrets", path="/v1/secrets", roles=frozenset())
    with pytest.raises(RuntimeError, match=r"served without a row: .*/v1/secrets"):
        refuse_incomplete([*routes, serves(of_no_row)(service.live.fn)])
    with pytest.raises(RuntimeError, match=r"not served once: .*read_me"):
        refuse_incomplete([*routes, serves(READ_ME)(service.live.fn)])
    with pytest.raises(RuntimeError, match=r"not served once: .*read_me"):
        refuse_incomplete([])
    with pytest.raises(Exception, match="a chief may not do that"):
        refuse_unless_allowed(bearer, of_no_row)


def seen(tag: str) -> dict[str, str]:
    return {"if-match": f'"{tag}"'}


@pytest.fixture
async def bearer(context: Any, team: Any) -> Any:
    return await context.bearers.holder(team.token)
