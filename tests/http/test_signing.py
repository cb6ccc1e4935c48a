"""A finished work card over HTTP: not signed off before the inspection after contact, nor with jobs left out silently.

All is invented.
"""

from typing import Any

import httpx2
import pytest

Json = dict[str, Any]
CARD = "/v1/work-done/7/2026-05-02-1"
RF = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
SIGNED = {"at": "2026-05-02T21:00:00Z", "by": "Chris"}
TICK = "done__inspect-rf__"
STRAIGHT = {f"{TICK}inspected__straight": True, f"{TICK}inspected__signed_by": "Chris"}


async def enter(client: httpx2.AsyncClient, path: str, name: str, document: Json) -> httpx2.Response:
    return await client.post(path, json={"name": name, "document": document})


async def correct(client: httpx2.AsyncClient, **values: Any) -> httpx2.Response:
    tag = (await client.get(CARD)).json()["tag"]
    edits = [{"path": path.replace("__", "."), "value": value} for path, value in values.items()]
    return await client.patch(CARD, json={"edits": edits}, headers={"if-match": f'"{tag}"'})


async def shop(client: httpx2.AsyncClient, what: str, at: str, **more: Any) -> None:
    document = {"what": what, "at": at, "place": RF, **more}
    answer = await enter(client, "/v1/shop-records", f"s-041/2026-05-02-{what}-1", document)
    assert answer.status_code == 201, answer.text


@pytest.fixture
async def client(sheet: Any) -> httpx2.AsyncClient:
    """A book in which car 7 saw contact at the right front, with a card that is worked off."""
    client: httpx2.AsyncClient = sheet.client
    assert (await enter(client, "/v1/parts", "s-041", {"kind": "stud"})).status_code == 201
    await shop(client, "fitted", "2026-05-02T15:00:00Z")
    await shop(client, "contact", "2026-05-02T20:00:00Z")
    card = await enter(client, "/v1/work-done", "7/2026-05-02-1", {"crew": 2, "done": {"toe": {"by": "Robin"}}})
    assert card.status_code == 201, card.text
    return client


async def test_a_card_is_not_signed_off_before_the_inspection_is_ticked(client: httpx2.AsyncClient) -> None:
    refused = await correct(client, signed_off__by="Chris", signed_off__at=SIGNED["at"])
    assert (refused.status_code, refused.json()["code"]) == (422, "bad_document")
    [fault] = refused.json()["errors"]
    assert (fault["pointer"], fault["path"]) == ("/edits/1", "signed_off.at")
    assert "inspect-rf is not ticked" in fault["detail"]
    at_once = await enter(client, "/v1/work-done", "7/2026-05-02-2", {"signed_off": SIGNED})
    assert at_once.json()["errors"][0]["pointer"] == "/document/signed_off/at"
    bare = await correct(client, **{f"{TICK}by": "Chris", f"{TICK}at": "2026-05-02T20:30:00Z"})
    assert [fault["path"] for fault in bare.json()["errors"]] == [
        "done.inspect-rf.inspected.straight",
        "done.inspect-rf.inspected.signed_by",
    ]
    ticked = await correct(client, **STRAIGHT, **{f"{TICK}at": "2026-05-02T20:30:00Z"})
    assert ticked.status_code == 200, ticked.text
    assert (await client.get("/v1/shelf")).json().get("corners", []) == []
    signed = await correct(client, signed_off__by="Chris", signed_off__at=SIGNED["at"])
    assert signed.status_code == 200, signed.text
    assert "flags" not in signed.json()


async def test_a_signature_has_a_time_and_an_inspection_of_the_corner_counts(client: httpx2.AsyncClient) -> None:
    refused = await correct(client, signed_off__by="Chris")
    assert refused.json()["errors"][0]["detail"] == "signed_off.at: is missing: when?"
    inspected = {"straight": True, "whole_corner": True, "signed_by": "Chris"}
    await shop(client, "inspected", "2026-05-02T20:30:00Z", inspected=inspected)
    signed = await correct(client, signed_off__by="Chris", signed_off__at=SIGNED["at"])
    assert signed.status_code == 200, signed.text


async def test_contact_after_the_signature_leaves_the_card_as_it_was(client: httpx2.AsyncClient) -> None:
    before = await correct(client, signed_off__by="Chris", signed_off__at="2026-05-02T19:00:00Z")
    assert before.status_code == 200, before.text
    assert "flags" not in before.json()


async def test_contact_told_after_a_card_was_signed_flags_it(client: httpx2.AsyncClient) -> None:
    before = await correct(client, signed_off__by="Chris", signed_off__at="2026-05-02T19:30:00Z")
    assert before.status_code == 200, before.text
    earlier = {"what": "contact", "at": "2026-05-02T19:00:00Z", "place": RF}
    told = await enter(client, "/v1/shop-records", "s-041/2026-05-02-contact-2", earlier)
    assert told.status_code == 201, told.text
    [flag] = (await client.get(CARD)).json()["flags"]
    assert (flag["path"], "inspect-rf is not ticked" in flag["detail"]) == ("signed_off.at", True)
    corrected = await correct(client, notes="The right front was looked at on Sunday.")
    assert corrected.status_code == 200, corrected.text


async def test_a_corner_found_bent_is_signed_for_by_nobody_until_it_is_found_straight(
    client: httpx2.AsyncClient,
) -> None:
    bent = {f"{TICK}inspected__straight": False, f"{TICK}inspected__bent_by_in": 0.03}
    signer = {f"{TICK}inspected__signed_by": "Robin"}
    ticked = await correct(client, **bent, **signer, **{f"{TICK}at": "2026-05-02T20:30:00Z"})
    assert ticked.status_code == 200, ticked.text
    [corner] = (await client.get("/v1/shelf")).json()["corners"]
    assert corner["code"] == "bent"
    assert "bent by 0.03 in by Robin, 7/2026-05-02-1, 2026-05-02 20:30Z" in corner["detail"]
    refused = await correct(client, signed_off__by="Chris", signed_off__at=SIGNED["at"])
    assert "found bent by 0.03 in by Robin" in refused.json()["errors"][0]["detail"]
    # Ticking it again at the same time is no later inspection; the bend of what is straight goes.
    at = "2026-05-02T20:50:00Z"
    both = await correct(client, **STRAIGHT, **{f"{TICK}at": at})
    assert both.json()["errors"][0]["path"] == "done.inspect-rf.inspected.bent_by_in"
    tag = (await client.get(CARD)).json()["tag"]
    edits = [
        {"path": path.replace("__", "."), "value": value} for path, value in (STRAIGHT | {f"{TICK}at": at}).items()
    ]
    edits.append({"path": "done.inspect-rf.inspected.bent_by_in", "remove": True})
    again = await client.patch(CARD, json={"edits": edits}, headers={"if-match": f'"{tag}"'})
    assert again.status_code == 200, again.text
    assert (await client.get("/v1/shelf")).json().get("corners", []) == []
    signed = await correct(client, signed_off__by="Chris", signed_off__at=SIGNED["at"])
    assert signed.status_code == 200, signed.text


async def test_contact_after_the_tick_asks_for_another_inspection(client: httpx2.AsyncClient) -> None:
    ticked = await correct(client, **STRAIGHT, **{f"{TICK}at": "2026-05-02T19:00:00Z"})
    assert ticked.status_code == 200, ticked.text
    refused = await correct(client, signed_off__by="Chris", signed_off__at=SIGNED["at"])
    detail = refused.json()["errors"][0]["detail"]
    assert "inspect-rf was not found straight and signed since s-041 saw contact" in detail


async def test_a_card_with_planned_jobs_that_nobody_ticked_is_not_signed_silently(client: httpx2.AsyncClient) -> None:
    planned = await correct(client, planned=["toe", "gear", "scales"], **STRAIGHT, **{f"{TICK}at": SIGNED["at"]})
    assert planned.status_code == 200, planned.text
    refused = await correct(client, signed_off__by="Chris", signed_off__at=SIGNED["at"])
    [fault] = refused.json()["errors"]
    assert fault["path"] == "signed_off.unfinished"
    assert "not ticked: gear, scales;" in fault["detail"]
    named = {"signed_off__by": "Chris", "signed_off__at": SIGNED["at"], "signed_off__unfinished": ["gear", "scales"]}
    signed = await correct(client, **named)
    assert signed.status_code == 200, signed.text
    assert signed.json()["document"]["signed_off"]["unfinished"] == ["gear", "scales"]
    assert "flags" not in (await client.get(CARD)).json()


async def test_a_card_between_two_revisions_says_what_was_planned_before_it_is_signed(
    client: httpx2.AsyncClient, sheet: Any
) -> None:
    document = {"since": sheet.id, "revision": sheet.id, "signed_off": {**SIGNED, "at": "2026-05-02T19:00:00Z"}}
    refused = await enter(client, "/v1/work-done", "7/2026-05-02-1900", document)
    assert refused.json()["errors"][0]["pointer"] == "/document/planned"
    entered = await enter(client, "/v1/work-done", "7/2026-05-02-1900", document | {"planned": []})
    assert entered.status_code == 201, entered.text
