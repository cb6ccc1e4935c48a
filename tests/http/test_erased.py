"""What was erased is told plainly: the revision stands, its document does not."""

import asyncio
from typing import Any

import pytest

from studbook_service.exchange.erasures import erasure
from studbook_service.store import NewEntry, audit_event, erase_entries, erase_name

STUD = "setup.front.rf.upper_stud.length_in"


def code(reply: Any) -> tuple[int, str]:
    return reply.status_code, reply.json()["code"]


@pytest.fixture
def erase(shared_database: Any, team: Any) -> Any:
    """Erase revisions with the owner's address, and wait until every process knows."""

    async def carry_out(*ids: str) -> None:
        made = erasure(ids, reason="asked for", at_ms=1_790_000_000_000)
        header = made.header
        entry = NewEntry(
            id=bytes.fromhex(made.id),
            kind=header.kind,
            line=header.line,
            parents=(),
            content=bytes.fromhex(header.content),
            note=made.note,
            body=made.body,
            author=header.author,
            at_ms=header.at,
        )
        told = audit_event(actor="owner", action="entries.erase", subject="entries", entries=list(ids))
        await erase_entries(shared_database.owner_dsn, team.team, entry, audit=told)
        await asyncio.sleep(1)

    return carry_out


async def test_an_erased_revision_stands_without_its_document(sheet: Any, erase: Any) -> None:
    client = sheet.client
    newer = (await sheet.edit(1.7)).json()["revision"]["id"]
    document = f"/v1/revisions/{sheet.id}/document"
    front = f"/v1/revisions/{sheet.id}/front"
    for path in (document, front):
        assert (await client.get(path)).status_code == 200  # remembered from here on
    await erase(sheet.id)
    for path in (document, front, f"/v1/revisions/{newer}/changes?since={sheet.id}"):
        refused = await client.get(path)
        assert code(refused) == (410, "erased"), path
        assert sheet.id[:12] in refused.json()["detail"]
    told = (await client.get(f"/v1/revisions/{sheet.id}")).json()
    assert (told["id"], told["erased"], told["note"]) == (sheet.id, True, "")
    newest, oldest = (await client.get(f"{sheet.path}/history")).json()["items"]
    assert ("erased" in newest, oldest["erased"], oldest["note"]) == (False, True, "")
    # What came of it later stands, and is answered about.
    assert (await client.get(f"/v1/revisions/{newer}/front")).status_code == 200
    shown = (await client.get(sheet.path)).json()
    assert ("erased" in shown, "document" in shown) == (False, True)
    assert code(
        await client.post("/v1/what-if", json={"revision": sheet.id, "edits": [{"path": STUD, "value": 1.7}]})
    ) == (410, "erased")


async def test_an_erased_tip_takes_a_whole_document(sheet: Any, erase: Any) -> None:
    held = (await sheet.client.get(sheet.path)).headers["etag"]
    await erase(sheet.id)
    shown = await sheet.client.get(sheet.path, headers={"if-none-match": held})
    assert shown.status_code == 200
    assert (shown.json()["erased"], shown.json()["tips"][0]["erased"]) == (True, True)
    assert "document" not in shown.json()
    assert code(await sheet.edit(1.7)) == (410, "erased")
    pushed = await sheet.push({"document": sheet.document, "note": "again"})
    assert pushed.status_code == 201, pushed.text
    assert (await sheet.client.get(sheet.path)).json()["document"] == sheet.document


async def test_a_split_with_an_erased_side_is_shown_without_its_merge(split: Any, erase: Any) -> None:
    gone = await split.add(split.sheet.id, upper=1.6)
    await split.add(split.sheet.id, lower=1.1)
    await erase(gone)
    shown = await split.shown()
    assert (shown["split"], shown["erased"]) == (True, True)
    assert "merge" not in shown
    assert code(await split.accept(shown["tag"])) == (410, "erased")
    body = {"document": split.sheet.document, "parents": [tip["id"] for tip in shown["tips"]]}
    assert (await split.sheet.push(body, tag=shown["tag"])).status_code == 201


async def test_an_erased_car_keeps_its_slug(sheet: Any, erase: Any) -> None:
    client = sheet.client
    car = (await client.get("/v1/cars/7")).json()
    await erase(car["revision"]["id"])
    shown = await client.get("/v1/cars/7")
    assert (shown.json()["car"], shown.json()["name"], shown.json()["revision"]["erased"]) == ("7", "", True)
    renamed = await client.patch("/v1/cars/7", json={"name": "Blue"}, headers={"if-match": shown.headers["etag"]})
    assert (renamed.status_code, renamed.json()["name"]) == (200, "Blue")


async def test_an_erased_name_stays_erased(sheet: Any, join: Any, shared_database: Any, team: Any) -> None:
    robin = await join("Robin")
    edit = {"edits": [{"path": STUD, "value": 1.7}]}
    headers = {"if-match": f'"{sheet.tag}"'}
    assert (await robin.client.post(f"{sheet.path}/revisions", json=edit, headers=headers)).status_code == 201
    before = await sheet.client.get(sheet.path)
    assert "Robin" in before.text
    told = audit_event(actor="owner", action="member.erase", subject=robin.id)
    await erase_name(shared_database.owner_dsn, team.team, robin.id, audit=told)
    await asyncio.sleep(1)
    now = await sheet.client.get(sheet.path, headers={"if-none-match": before.headers["etag"]})
    assert now.status_code == 200
    assert "Robin" not in now.text
    assert now.json()["tips"][0]["author"] == {"id": robin.id}
    members = (await sheet.client.get("/v1/members")).json()["items"]
    assert {"id": robin.id, "name": "", "role": "crew", "erased": True} in members
    named = await sheet.client.patch(f"/v1/members/{robin.id}", json={"name": "Robin"})
    assert code(named) == (410, "erased")
