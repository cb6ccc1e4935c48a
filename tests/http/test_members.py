"""Who holds a token."""

from typing import Any


async def test_a_token_says_who_holds_it(client: Any, with_role: Any) -> None:
    assert (await client.get("/v1/me")).json() == {"id": "chief", "name": "Chris", "role": "chief"}
    async with await with_role("viewer") as viewer:
        assert (await viewer.get("/v1/me")).json() == {"id": "viewer", "name": "Viewer", "role": "viewer"}
        assert (await viewer.get("/v1/me", headers={"authorization": "Bearer none"})).status_code == 401
