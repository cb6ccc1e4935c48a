"""A split sheet: what is shown, and how a push names its side or settles it."""

from typing import Any

import msgspec
import pytest

from studbook.history.canonical import canonical, encode
from studbook.history.ids import Header, entry_id, hash_content, tips_tag
from studbook_service.store import NewEntry


def beside(parent: str, notes: str) -> NewEntry:
    """Make the entry that another book would bring: a second child of a parent."""
    body = {"notes": notes}
    content = hash_content(note="", body=encode(canonical(body)))
    header = Header(
        kind="sheet",
        line="car/7/sheet/baseline",
        parents=(parent,),
        author="robin",
        at=1_780_000_000_000,
        content=content,
    )
    return NewEntry(
        id=bytes.fromhex(entry_id(header)),
        kind="sheet",
        line=header.line,
        parents=(bytes.fromhex(parent),),
        content=bytes.fromhex(content),
        note="",
        body=encode(canonical(body)),
        author="robin",
        at_ms=header.at,
    )


@pytest.fixture
async def split(sheet: Any, book: Any, team: Any) -> Any:
    """The baseline's two tips, ours first."""
    ours = (await sheet.edit(1.7)).json()["revision"]["id"]
    theirs = beside(sheet.id, "from the other laptop")
    await book.append(team.team, [theirs])
    sheet.tips = [ours, theirs.id.hex()]
    sheet.tag = tips_tag(sheet.tips)
    return sheet


async def test_a_split_is_shown_without_a_document(split: Any) -> None:
    shown = (await split.client.get(split.path)).json()
    assert shown["split"] is True
    assert {tip["id"] for tip in shown["tips"]} == set(split.tips)
    assert shown["tag"] == split.tag
    assert "document" not in shown


async def test_a_push_names_its_parents(split: Any) -> None:
    refused = await split.edit(1.9)
    assert (refused.status_code, refused.json()["code"]) == (409, "split")
    assert set(refused.json()["tips"]) == set(split.tips)
    stranger = await split.push({"document": {}, "parents": ["00" * 32]})
    assert (stranger.status_code, stranger.json()["code"]) == (412, "stale")


async def test_one_tip_named_advances_that_side_and_a_retry_is_known(split: Any) -> None:
    body = {"edits": [{"path": "notes", "value": "ours again"}], "parents": split.tips[:1]}
    first, again = await split.push(body), await split.push(body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == msgspec.json.decode(again.content) | {"recorded": True}
    tips = {tip["id"] for tip in (await split.client.get(split.path)).json()["tips"]}
    assert tips == {first.json()["revision"]["id"], split.tips[1]}
    assert first.json()["tag"] == tips_tag(tips)


async def test_all_tips_named_settle_it(split: Any) -> None:
    edits = await split.push({"edits": [{"path": "notes", "value": "x"}], "parents": split.tips})
    assert (edits.status_code, edits.json()["code"]) == (400, "bad_request")
    settled = await split.push({"document": split.document, "parents": split.tips})
    assert settled.status_code == 201
    assert settled.json()["revision"]["parents"] == sorted(split.tips)
    assert (await split.client.get(split.path)).json()["split"] is False


@pytest.fixture
async def alike(sheet: Any, book: Any, team: Any) -> Any:
    """The baseline's two tips, whose documents are one."""
    theirs = beside(sheet.id, "tacky")
    ours = await sheet.push({"document": {"notes": "tacky"}, "note": "as the other laptop has it"})
    await book.append(team.team, [theirs])
    sheet.tips = sorted([ours.json()["revision"]["id"], theirs.id.hex()])
    sheet.tag = tips_tag(sheet.tips)
    return sheet


async def test_a_sheet_whose_tips_hold_one_document_is_no_split(alike: Any) -> None:
    shown = (await alike.client.get(alike.path)).json()
    assert (shown["split"], shown["document"], "merge" in shown) == (False, {"notes": "tacky"}, False)
    assert ([tip["id"] for tip in shown["tips"]], shown["tag"]) == (alike.tips, alike.tag)
    [listed] = (await alike.client.get("/v1/cars/7/sheets")).json()["items"]
    assert "split" not in listed


@pytest.mark.parametrize("body", [{"edits": [{"path": "notes", "value": "slick"}]}, {"document": {"notes": "slick"}}])
async def test_what_is_pushed_onto_alike_tips_follows_both_and_a_retry_is_known(alike: Any, body: Any) -> None:
    first, again = await alike.push(body), await alike.push(body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["revision"]["parents"] == alike.tips
    shown = (await alike.client.get(alike.path)).json()
    assert (shown["document"], [tip["id"] for tip in shown["tips"]]) == (
        {"notes": "slick"},
        [first.json()["revision"]["id"]],
    )


async def test_who_saw_one_of_alike_tips_saw_what_stands(alike: Any) -> None:
    """As a file does that was pulled by a revision's id, or before the other came."""
    both = alike.tag
    alike.tag = tips_tag(alike.tips[1:])
    body = {"edits": [{"path": "notes", "value": "slick"}]}
    first, again = [await alike.push(body, idempotency_key="ours-1") for _ in range(2)]
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["revision"]["parents"] == alike.tips
    alike.tag = both
    late = await alike.push({"edits": [{"path": "notes", "value": "green"}]})
    assert (late.status_code, late.json()["code"]) == (412, "stale")


async def test_one_of_alike_tips_may_be_gone_on_with_alone(alike: Any) -> None:
    body = {"edits": [{"path": "notes", "value": "slick"}], "parents": alike.tips[:1]}
    assert (await alike.push(body)).json()["revision"]["parents"] == alike.tips[:1]
    assert (await alike.client.get(alike.path)).json()["split"] is True


async def test_a_merge_of_alike_tips_can_still_be_accepted(alike: Any) -> None:
    accepted = await alike.client.post(f"{alike.path}/merge", headers={"if-match": f'"{alike.tag}"'})
    assert (accepted.status_code, accepted.json()["revision"]["parents"]) == (201, alike.tips)
