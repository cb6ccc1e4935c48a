"""A split sheet: what is shown, and how a push names its side or settles it."""

from typing import Any

import msgspec
import pytest

from studbook.history.canonical import encode
from studbook.history.ids import Header, content_id, entry_id, tips_tag
from studbook_service.store import NewEntry


def beside(parent: str, notes: str) -> NewEntry:
    """Make the entry that another book would bring: a second child of a parent."""
    body = {"notes": notes}
    content = content_id(note="", body=body)
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
        body=encode(body),
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
