"""Protected sheets: only a chief records on them; everybody may know."""

import asyncio
from typing import Any

STUD = "setup.front.rf.upper_stud.length_in"


def code(reply: Any) -> tuple[int, str]:
    return reply.status_code, reply.json()["code"]


async def test_only_a_chief_records_on_a_protected_sheet(client: Any, sheet: Any, join: Any) -> None:
    crew = (await join("Robin")).client
    before = await client.get(sheet.path)
    assert "protected" not in before.json()
    on = await client.put(f"{sheet.path}/protection")
    assert on.json() == {"car": "7", "sheet": "baseline", "protected": True}
    seen = {"if-match": before.headers["etag"]}
    body = {"edits": [{"path": STUD, "value": 1.7}]}
    refused = await crew.post(f"{sheet.path}/revisions", json=body, headers=seen)
    assert code(refused) == (403, "protected")
    assert "car/7/sheet/baseline" in refused.json()["detail"]
    assert len((await client.get(f"{sheet.path}/history")).json()["items"]) == 1
    pushed = await client.post(f"{sheet.path}/revisions", json=body, headers=seen)
    assert pushed.status_code == 201

    off = await client.delete(f"{sheet.path}/protection")
    assert off.json() == {"car": "7", "sheet": "baseline", "protected": False}
    body = {"edits": [{"path": STUD, "value": 1.8}]}
    pushed = await crew.post(f"{sheet.path}/revisions", json=body, headers={"if-match": pushed.headers["etag"]})
    assert pushed.status_code == 201


async def test_everybody_may_know(client: Any, sheet: Any, join: Any) -> None:
    viewer = (await join("Robin", "viewer")).client
    first = await viewer.get(sheet.path)
    await client.put(f"{sheet.path}/protection")
    await asyncio.sleep(1)
    # What was held before is not what is there now, though no revision came.
    now = await viewer.get(sheet.path, headers={"if-none-match": first.headers["etag"]})
    assert (now.status_code, now.json()["protected"]) == (200, True)
    assert now.json()["tag"] == first.json()["tag"]
    again = await viewer.get(sheet.path, headers={"if-none-match": now.headers["etag"]})
    assert again.status_code == 304
    (listed,) = (await viewer.get("/v1/cars/7/sheets")).json()["items"]
    assert listed["protected"] is True


async def test_a_merge_is_recorded_too(client: Any, split: Any, join: Any) -> None:
    crew = (await join("Robin")).client
    await split.add(split.sheet.id, upper=1.6)
    await split.add(split.sheet.id, lower=1.1)
    await client.put(f"{split.sheet.path}/protection")
    tag = (await split.shown())["tag"]
    refused = await crew.post(f"{split.sheet.path}/merge", headers={"if-match": f'"{tag}"'})
    assert code(refused) == (403, "protected")
    assert (await split.accept(tag)).status_code == 201


async def test_a_retry_of_what_was_recorded_before_is_answered(client: Any, sheet: Any, join: Any) -> None:
    crew = (await join("Robin")).client
    sent = {"if-match": f'"{sheet.tag}"', "idempotency-key": "k1"}
    body = {"edits": [{"path": STUD, "value": 1.7}], "at": "2026-05-02T18:30:00Z"}
    first = await crew.post(f"{sheet.path}/revisions", json=body, headers=sent)
    await client.put(f"{sheet.path}/protection")
    again = await crew.post(f"{sheet.path}/revisions", json=body, headers=sent)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json()["revision"] == first.json()["revision"]


async def test_what_is_so_already_is_not_recorded(client: Any, sheet: Any) -> None:
    for method, protected in (("PUT", True), ("PUT", True), ("DELETE", False), ("DELETE", False)):
        assert (await client.request(method, f"{sheet.path}/protection")).json()["protected"] is protected
    actions = [line["action"] for line in (await client.get("/v1/audit")).json()["items"]]
    assert actions == ["team.found", "protection.on", "protection.off"]
    assert code(await client.put("/v1/cars/7/sheets/none/protection")) == (404, "not_found")
