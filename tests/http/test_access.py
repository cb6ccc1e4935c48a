"""Tokens at the door (RFC 6750), revocation within a second, and a database that goes away."""

import asyncio
from typing import Any

from studbook_service.store import audit_event, mint, secret_hash


async def test_no_token_no_book(client: Any) -> None:
    for header, code in [
        (None, "token_needed"),
        ("Basic Y2hyaXM6eA==", "token_needed"),
        ("Bearer", "token_refused"),
        ("Bearer sbk_short", "token_refused"),
        (f"Bearer {mint()}", "token_refused"),
    ]:
        client.headers.pop("authorization", None)
        refused = await client.get("/v1/cars", headers={} if header is None else {"authorization": header})
        assert (refused.status_code, refused.json()["code"]) == (401, code)
        assert refused.headers["www-authenticate"].startswith("Bearer")
    for path in ("/livez", "/readyz", "/openapi.json", "/docs", "/docs/swagger-ui.css"):
        assert (await client.get(path)).status_code == 200


async def test_a_mistyped_token_is_refused_without_the_database(client: Any, own_context: Any) -> None:
    asked: list[bytes] = []

    async def bearer(hashed: bytes) -> None:
        asked.append(hashed)

    own_context.book.access.bearer = bearer
    token = mint()
    await client.get("/v1/cars", headers={"authorization": f"Bearer {token[:-1]}?"})
    assert asked == []
    await client.get("/v1/cars", headers={"authorization": f"Bearer {token}"})
    assert asked == [secret_hash(token)]


async def test_a_revoked_token_ends_within_a_second(client: Any, book: Any, team: Any) -> None:
    for _ in range(5):  # remembered by now
        assert (await client.get("/v1/cars")).status_code == 200
        await asyncio.sleep(0.1)
    token = secret_hash(team.token).hex()[:12]
    recorded = audit_event(actor=team.member, action="token.end", subject=token)
    assert await book.access.revoke_token(team.team, token, audit=recorded)
    await asyncio.sleep(1)
    assert (await client.get("/v1/cars")).status_code == 401


async def test_without_the_database(client: Any, sheet: Any, own_context: Any) -> None:
    path = f"/v1/revisions/{sheet.id}/document"
    assert (await client.get(path)).status_code == 200
    await own_context.book.pool.close()
    gone = await client.get(sheet.path)
    assert (gone.status_code, gone.json()["code"]) == (503, "unavailable")
    assert gone.headers["retry-after"] == "1"
    assert (await client.get("/livez")).status_code == 200
    # Who holds the token cannot be checked any more, so what is in memory is not given either.
    await asyncio.sleep(1)
    assert (await client.get(path)).status_code == 503


async def test_a_failure_inside_tells_nothing(client: Any, own_context: Any, caplog: Any) -> None:
    async def broken(*_: Any) -> None:
        raise RuntimeError("secret detail")

    own_context.book.head_entries = broken
    failed = await client.get("/v1/cars")
    assert (failed.status_code, failed.json()["code"]) == (500, "internal")
    assert "secret" not in failed.text
    assert failed.json()["request_id"] in caplog.text
    assert "secret detail" in caplog.text
