"""What a push must have seen, and what a retry gets (RFC 9110, 13; the Idempotency-Key header of the IETF draft)."""

import asyncio
from typing import Any

import httpx2
import pytest

UPPER_STUD = "setup.front.rf.upper_stud.length_in"


def code(response: httpx2.Response) -> str:
    assert response.headers["content-type"] == "application/problem+json", response.text
    return str(response.json()["code"])


async def test_edits_on_the_tip_make_a_revision(sheet: Any) -> None:
    pushed = await sheet.edit(1.7)
    assert pushed.status_code == 201
    answer = pushed.json()
    assert answer["recorded"] is True
    assert answer["revision"]["parents"] == [sheet.id]
    assert answer["revision"]["generation"] == 1
    assert answer["revision"]["author"] == {"id": "chief", "name": "Chris"}
    assert pushed.headers["etag"] == f'"{answer["tag"]}"'
    now = (await sheet.client.get(sheet.path)).json()
    assert now["tag"] == answer["tag"]
    assert now["document"]["setup"]["front"]["rf"]["upper_stud"]["length_in"] == 1.7
    assert (await sheet.client.get(pushed.headers["location"])).json() == answer["revision"]


async def test_a_whole_document_replaces(sheet: Any) -> None:
    pushed = await sheet.push({"document": {"notes": "thin"}})
    assert pushed.status_code == 201
    assert (await sheet.client.get(sheet.path)).json()["document"] == {"notes": "thin"}


async def test_without_a_precondition_nothing_is_pushed(sheet: Any) -> None:
    for headers in ({}, {"if-match": "*"}, {"if-match": 'W/"abc"'}):
        refused = await sheet.client.post(f"{sheet.path}/revisions", json={"edits": []}, headers=headers)
        assert (refused.status_code, code(refused)) == (428, "precondition_missing")


async def test_a_stale_tag_is_refused_with_what_is_there(sheet: Any) -> None:
    first = (await sheet.edit(1.7)).json()
    refused = await sheet.edit(1.9)
    assert (refused.status_code, code(refused)) == (412, "stale")
    assert refused.json()["tag"] == first["tag"]
    assert refused.json()["tips"] == [first["revision"]["id"]]


async def test_a_new_sheet_must_be_new_and_of_a_car(sheet: Any, document: Any) -> None:
    new = {"if-none-match": "*"}
    again = await sheet.client.post(f"{sheet.path}/revisions", json={"document": {"notes": "x"}}, headers=new)
    assert (again.status_code, code(again)) == (412, "stale")
    assert again.json()["tag"] == sheet.tag
    orphan = await sheet.client.post("/v1/cars/99/sheets/baseline/revisions", json={"document": document}, headers=new)
    assert (orphan.status_code, code(orphan)) == (404, "not_found")
    missing = await sheet.client.post(
        "/v1/cars/7/sheets/none/revisions", json={"edits": []}, headers={"if-match": f'"{sheet.tag}"'}
    )
    assert (missing.status_code, code(missing)) == (404, "not_found")


async def test_a_lost_reply_retried_is_a_success_with_or_without_a_key(sheet: Any) -> None:
    first = await sheet.edit(1.7, idempotency_key="k1")
    for again in (await sheet.edit(1.7, idempotency_key="k1"), await sheet.edit(1.7)):
        assert again.status_code == 200
        assert again.json()["recorded"] is False
        assert again.json()["revision"] == first.json()["revision"]
        assert again.json()["tag"] == first.json()["tag"]


async def test_a_new_sheet_retried_is_a_success(sheet: Any, document: Any) -> None:
    again = await sheet.client.post(
        f"{sheet.path}/revisions", json={"document": document, "note": "baseline"}, headers={"if-none-match": "*"}
    )
    assert again.status_code == 200
    assert again.json()["revision"]["id"] == sheet.id


async def test_a_key_is_known_however_late(sheet: Any) -> None:
    first = await sheet.edit(1.7, idempotency_key="k1")
    second = await sheet.edit(1.9, tag=first.json()["tag"])
    await sheet.edit(2.1, tag=second.json()["tag"])
    again = await sheet.edit(1.7, idempotency_key="k1")
    assert again.status_code == 200
    assert again.json()["revision"]["id"] == first.json()["revision"]["id"]
    assert code(await sheet.edit(1.7)) == "stale"
    assert code(await sheet.edit(1.7, idempotency_key="k2")) == "stale"


async def test_a_key_stands_for_one_request(sheet: Any) -> None:
    await sheet.edit(1.7, idempotency_key="k1")
    other = await sheet.edit(1.9, idempotency_key="k1")
    assert (other.status_code, code(other)) == (422, "key_reused")
    bad = await sheet.edit(1.9, idempotency_key="k" * 201)
    assert (bad.status_code, code(bad)) == (400, "bad_request")


async def test_one_key_sent_fifty_times_at_once_makes_one_revision(sheet: Any) -> None:
    replies = await asyncio.gather(*(sheet.edit(1.7, idempotency_key="k1") for _ in range(50)))
    assert sorted(reply.status_code for reply in replies) == [200] * 49 + [201]
    assert len({reply.json()["revision"]["id"] for reply in replies}) == 1
    assert len((await sheet.client.get(f"{sheet.path}/history")).json()["items"]) == 2


async def test_of_64_pushers_exactly_one_wins_each_round(sheet: Any) -> None:
    tag, winners = sheet.tag, []
    for turn in range(4):
        replies = await asyncio.gather(*(sheet.edit(1 + turn / 10 + n / 1000, tag=tag) for n in range(64)))
        won = [reply for reply in replies if reply.status_code == 201]
        assert len(won) == 1
        assert {code(reply) for reply in replies if reply.status_code != 201} == {"stale"}
        tag = won[0].json()["tag"]
        winners.append(won[0].json()["revision"]["id"])
    kept = [item["id"] for item in (await sheet.client.get(f"{sheet.path}/history")).json()["items"]]
    assert kept == [*reversed(winners), sheet.id]


async def test_a_revert_is_a_new_revision_that_says_where_it_came_from(sheet: Any) -> None:
    longer = (await sheet.edit(1.7)).json()
    old = (await sheet.client.get(f"/v1/revisions/{sheet.id}/document")).json()
    body = {"document": old, "carried_from": sheet.id, "note": "back to baseline"}
    back = await sheet.push(body, tag=longer["tag"])
    assert back.status_code == 201
    assert back.json()["revision"]["carried_from"] == sheet.id
    assert back.json()["revision"]["generation"] == 2
    assert (await sheet.client.get(sheet.path)).json()["document"] == old
    nowhere = await sheet.push(body | {"carried_from": "00" * 32}, tag=back.json()["tag"])
    assert (nowhere.status_code, code(nowhere)) == (404, "not_found")


async def test_unknown_fields_need_insisting_once(sheet: Any) -> None:
    edit = {"path": "setup.front.rf.upper_stud.lenght_in", "value": 1.7}
    refused = await sheet.push({"edits": [edit]})
    assert (refused.status_code, code(refused)) == (422, "bad_document")
    fault = refused.json()["errors"][0]
    assert fault["nearest"] == UPPER_STUD
    assert fault["pointer"].startswith("/edits/0")
    insisted = await sheet.push({"edits": [edit], "allow_unknown": True})
    assert insisted.status_code == 201
    later = await sheet.edit(1.7, tag=insisted.json()["tag"])
    assert later.status_code == 201, later.text


async def test_unusual_values_are_recorded_and_told(sheet: Any) -> None:
    pushed = await sheet.push({"edits": [{"path": "setup.front.rf.lower_stud.preload_target_in_lb", "value": 90}]})
    assert pushed.status_code == 201
    assert pushed.json()["unusual"] == [
        {"path": "setup.front.rf.lower_stud.preload_target_in_lb", "value": 90, "usual": [0, 60], "unit": "in_lb"}
    ]


async def test_when_it_was_may_be_said(sheet: Any) -> None:
    body = {"edits": [{"path": UPPER_STUD, "value": 1.7}]}
    naive = await sheet.push(body | {"at": "2026-05-02T18:30:00"})
    assert (naive.status_code, code(naive)) == (400, "bad_request")
    assert naive.json()["errors"][0]["pointer"] == "/at"
    ahead = await sheet.push(body | {"at": "2999-01-01T00:00:00Z"})
    assert (ahead.status_code, code(ahead)) == (400, "bad_request")
    pushed = await sheet.push(body | {"at": "2026-05-02T18:30:00-05:00"})
    assert pushed.json()["revision"]["at"] == "2026-05-02T23:30:00Z"


@pytest.mark.parametrize("body", [{}, {"edits": [], "document": {}}, {"edits": [], "parents": []}, {"sheet": "x"}])
async def test_an_envelope_of_another_form_is_refused(sheet: Any, body: Any) -> None:
    refused = await sheet.push(body)
    assert (refused.status_code, code(refused)) == (400, "bad_request")
    assert "detail" in refused.json()


async def test_only_crew_and_chief_write(sheet: Any, with_role: Any) -> None:
    async with await with_role("viewer") as viewer:
        assert (await viewer.get(sheet.path)).status_code == 200
        refused = await viewer.post(
            f"{sheet.path}/revisions", json={"edits": []}, headers={"if-match": f'"{sheet.tag}"'}
        )
        assert (refused.status_code, code(refused)) == (403, "not_allowed")
    async with await with_role("crew") as crew:
        body = {"edits": [{"path": UPPER_STUD, "value": 1.7}]}
        pushed = await crew.post(f"{sheet.path}/revisions", json=body, headers={"if-match": f'"{sheet.tag}"'})
        assert pushed.json()["revision"]["author"] == {"id": "crew", "name": "Crew"}
