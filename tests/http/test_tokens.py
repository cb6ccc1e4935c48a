"""Tokens: shown once, never more than their member may, ended within a second."""

import asyncio
import datetime as dt
import logging
from hashlib import sha256
from typing import Any

import pytest

from studbook_service.store import audit_event, mint, secret_hash


def code(reply: Any) -> tuple[int, str]:
    return reply.status_code, reply.json()["code"]


async def test_a_token_is_shown_once(client: Any, join: Any, caplog: Any) -> None:
    caplog.set_level(logging.DEBUG)
    robin = await join("Robin", days=30)
    id_ = sha256(robin.token.encode()).hexdigest()[:12]
    listed = (await client.get("/v1/tokens")).json()["items"]
    assert {token["label"] for token in listed} == {"test", "first token"}
    (made,) = [token for token in listed if token["id"] == id_]
    assert (made["member"], made["role"]) == (robin.id, "crew")
    lasts = dt.datetime.fromisoformat(made["expires_at"]) - dt.datetime.fromisoformat(made["made_at"])
    assert abs(lasts - dt.timedelta(days=30)) < dt.timedelta(minutes=1)
    for path in ("/v1/tokens", "/v1/members", "/v1/audit", "/v1/me"):
        for asking in (client, robin.client):
            assert robin.token[4:] not in (await asking.get(path)).text
    assert robin.token[4:] not in caplog.text
    assert sha256(robin.token.encode()).hexdigest() not in (await client.get("/v1/audit")).text


async def test_a_token_allows_no_more_than_its_role_and_its_member_do(client: Any, join: Any) -> None:
    looking = await client.post("/v1/tokens", json={"label": "for the screen on the wall", "role": "viewer"})
    held = {"authorization": f"Bearer {looking.json()['token']}"}
    assert (await client.get("/v1/me", headers=held)).json()["role"] == "viewer"
    assert code(await client.post("/v1/cars", json={"car": "8"}, headers=held)) == (403, "not_allowed")
    assert code(await client.get("/v1/members", headers=held)) == (403, "not_allowed")
    robin = await join("Robin")
    above = await client.post("/v1/tokens", json={"label": "more", "member": robin.id, "role": "chief"})
    assert code(above) == (400, "bad_request")
    assert f"chief is above what {robin.id} may, crew" in above.json()["detail"]


async def test_a_laptops_token_is_for_laptops(client: Any, join: Any) -> None:
    trailer, robin = await join("Trailer", "node", protected=True, introduces=True), await join("Robin")
    assert (await trailer.client.get("/v1/me")).json()["role"] == "node"
    (made,) = (await trailer.client.get("/v1/tokens")).json()["items"]
    assert (made["role"], made["protected"], made["introduces"]) == ("node", True, True)
    refusals: list[tuple[str, dict[str, Any], str]] = [
        (robin.id, {"role": "node"}, "/role"),
        (trailer.id, {"role": "crew"}, "/role"),
        (robin.id, {"protected": True}, "/protected"),
        (robin.id, {"introduces": True}, "/introduces"),
    ]
    for member, more, pointer in refusals:
        refused = await client.post("/v1/tokens", json={"label": "x", "member": member} | more)
        assert code(refused) == (400, "bad_request")
        assert refused.json()["errors"][0]["pointer"] == pointer


async def test_who_left_gets_no_token(client: Any, join: Any) -> None:
    robin = await join("Robin")
    await client.patch(f"/v1/members/{robin.id}", json={"ended": True})
    refused = await client.post("/v1/tokens", json={"label": "again", "member": robin.id})
    assert code(refused) == (400, "bad_request")
    assert "left the team" in refused.json()["detail"]


async def test_one_sees_and_ends_ones_own(client: Any, join: Any) -> None:
    robin, ada = await join("Robin", "viewer"), await join("Ada")
    (own,) = (await robin.client.get("/v1/tokens")).json()["items"]
    (hers,) = (await ada.client.get("/v1/tokens")).json()["items"]
    refused = await robin.client.delete(f"/v1/tokens/{hers['id']}")
    nothing = await robin.client.delete(f"/v1/tokens/{'0' * 12}")
    assert code(refused) == code(nothing) == (404, "not_found")
    assert refused.json()["detail"].replace(hers["id"], "0" * 12) == nothing.json()["detail"]
    ended = await robin.client.delete(f"/v1/tokens/{own['id']}")
    assert (ended.status_code, ended.json()["id"]) == (200, own["id"])
    assert "ended_at" in ended.json()
    assert (await client.delete(f"/v1/tokens/{own['id']}")).json() == ended.json()  # ended is ended
    await asyncio.sleep(1)
    assert code(await robin.client.get("/v1/me")) == (401, "token_refused")
    assert (await client.delete(f"/v1/tokens/{hers['id']}")).status_code == 200
    await asyncio.sleep(1)
    assert code(await ada.client.get("/v1/me")) == (401, "token_refused")


async def test_a_token_ends_by_itself(client: Any, book: Any, team: Any) -> None:
    token = mint()
    await book.access.add_token(
        team.team,
        secret_hash=secret_hash(token),
        member="chief",
        role="chief",
        label="short",
        expires=dt.datetime.now(dt.UTC) + dt.timedelta(seconds=0.5),
        audit=audit_event(actor="chief", action="token.make", subject="x"),
    )
    held = {"authorization": f"Bearer {token}"}
    assert (await client.get("/v1/me", headers=held)).status_code == 200
    await asyncio.sleep(0.5)
    assert code(await client.get("/v1/me", headers=held)) == (401, "token_refused")


@pytest.mark.parametrize(
    ("body", "pointer", "told"),
    [
        ({}, "/label", "missing"),
        ({"label": "a\tb"}, "/label", "one line"),
        ({"label": "x", "days": 0}, "/days", "0 days is below the least accepted, 1 days"),
        ({"label": "x", "days": 3651}, "/days", "3651 days is above the most accepted, 3650 days"),
        ({"label": "x", "days": 1.5}, "/days", "1.5 is not a whole number (days)"),
        ({"label": "x", "role": "root"}, "/role", "'root' is none of"),
        ({"label": "x", "member": "../chief"}, "/member", "'../chief' is not 1 to 48"),
        ({"label": "x", "protected": "yes"}, "/protected", "'yes' is neither true nor false"),
    ],
)
async def test_what_does_not_fit_is_named(body: Any, pointer: str, told: str, client: Any) -> None:
    refused = await client.post("/v1/tokens", json=body)
    assert code(refused) == (400, "bad_request")
    (fault,) = refused.json()["errors"]
    assert fault["pointer"] == pointer
    assert told in fault["detail"], fault
