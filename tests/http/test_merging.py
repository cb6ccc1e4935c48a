"""The merge of a split sheet: what is shown, who set what, how it is accepted or settled. All numbers are invented."""

import copy
from typing import Any

import msgspec
import pytest

from studbook.history.canonical import encode
from studbook.history.changes import FieldChange, apply
from studbook.history.ids import Header, entry_id, hash_content, tips_tag
from studbook.history.leaves import at, steps
from studbook_service.actions import merges
from studbook_service.actions.context import Context
from studbook_service.actions.team_book import entry_in
from studbook_service.exchange.erasures import erasure
from studbook_service.store import NewEntry, audit_event, erase_entries, found_team

Split = Any
UPPER_STUD = "setup.front.rf.upper_stud.length_in"
LOWER_STUD = "setup.front.rf.lower_stud.length_in"
LINE = "car/7/sheet/baseline"


async def test_a_clean_merge_is_shown_and_not_recorded(split: Split) -> None:
    ours = await split.add(split.sheet.id, upper=1.7)
    theirs = await split.add(split.sheet.id, lower=1.1)
    shown = await split.shown()
    assert shown["split"] is True
    assert "document" not in shown
    assert shown["merge"]["bases"] == [split.sheet.id]
    assert shown["merge"]["conflicts"] == []
    assert at(shown["merge"]["document"], steps(UPPER_STUD)) == 1.7
    assert at(shown["merge"]["document"], steps(LOWER_STUD)) == 1.1
    assert [tip["id"] for tip in shown["tips"]] == sorted([ours, theirs])
    assert len((await split.sheet.client.get(f"{split.sheet.path}/history")).json()["items"]) == 3


async def test_a_conflict_is_shown_with_who_when_and_why(split: Split) -> None:
    ours = await split.add(split.sheet.id, by="chief", note="tight in", upper=1.7)
    later = await split.add(ours, by="chief", note="cooler", notes="tacky")
    theirs = await split.add(split.sheet.id, by="robin", note="loose off", upper=1.4, lower=1.1)
    (conflict,) = (await split.shown())["merge"]["conflicts"]
    before = at(split.sheet.document, steps(UPPER_STUD))
    assert (conflict["path"], conflict["base"], conflict["unit"]) == (UPPER_STUD, before, "in")
    sides = {side["tip"]: (side["value"], side["set_by"]) for side in conflict["sides"]}
    assert sides.keys() == {later, theirs}
    value, set_by = sides[later]
    # Not the tip set it, but the entry before, whose author is a member with a name; the other is known by id alone.
    assert (value, set_by["id"], set_by["author"], set_by["note"]) == (
        *(1.7, ours),
        *({"id": "chief", "name": "Chris"}, "tight in"),
    )
    value, set_by = sides[theirs]
    assert (value, set_by["id"], set_by["author"], set_by["note"]) == (1.4, theirs, {"id": "robin"}, "loose off")
    document = (await split.shown())["merge"]["document"]
    assert at(document, steps(UPPER_STUD)) is None
    assert at(document, steps(LOWER_STUD)) == 1.1


async def test_a_field_taken_away_is_a_side_without_value(split: Split) -> None:
    gone = copy.deepcopy(split.sheet.document)
    del gone["setup"]["front"]["rf"]["upper_stud"]["length_in"]
    without = await split.bring(split.sheet.id, body=gone)
    await split.add(split.sheet.id, upper=1.7)
    (conflict,) = (await split.shown())["merge"]["conflicts"]
    (side,) = (side for side in conflict["sides"] if side["tip"] == without)
    assert "value" not in side
    assert side["set_by"]["id"] == without


async def test_a_third_side_that_left_it_alone_set_nothing(split: Split) -> None:
    for number in (1.6, 1.7):
        await split.add(split.sheet.id, upper=number)
    third = await split.add(split.sheet.id, lower=1.1)
    (conflict,) = (await split.shown())["merge"]["conflicts"]
    assert len(conflict["sides"]) == 3
    (side,) = (side for side in conflict["sides"] if side["tip"] == third)
    assert side == {"tip": third, "value": at(split.sheet.document, steps(UPPER_STUD))}


async def test_crossed_sides_say_that_their_base_is_unknown(split: Split) -> None:
    a, b = await split.add(split.sheet.id, upper=1.6), await split.add(split.sheet.id, upper=1.7)
    x, y = await split.add(a, b, lower=1.1), await split.add(b, a, lower=1.1)
    shown = (await split.shown())["merge"]
    assert shown["bases"] == sorted([a, b])
    (conflict,) = shown["conflicts"]
    assert "base" not in conflict
    assert conflict["base_unknown"] is True
    assert {side["tip"]: side["set_by"]["id"] for side in conflict["sides"]} == {x: a, y: b}


async def test_a_long_history_is_read_no_further_than_needed(split: Split, monkeypatch: Any) -> None:
    monkeypatch.setattr(merges, "PAGE_LENGTH", 2)
    asked = []
    history = split.book.history

    async def counted(*args: Any, **named: Any) -> Any:
        asked.append(named)
        return await history(*args, **named)

    tip = split.sheet.id
    for number in range(6):
        tip = await split.add(tip, notes=f"night {number}")
    await split.add(tip, upper=1.7)
    await split.add(await split.add(tip, upper=1.6), notes="after")
    monkeypatch.setattr(split.book, "history", counted)
    shown = (await split.shown())["merge"]
    assert shown["bases"] == [tip]
    assert [conflict["path"] for conflict in shown["conflicts"]] == [UPPER_STUD]
    assert len(asked) == 2


async def test_sides_that_began_apart_are_merged_on_nothing(split: Split, monkeypatch: Any) -> None:
    monkeypatch.setattr(merges, "PAGE_LENGTH", 1)
    apart = await split.bring(body=split.sheet.document | {"notes": "begun alone"})
    await split.add(split.sheet.id, notes="here")
    merge = (await split.shown())["merge"]
    assert merge["bases"] == []
    assert [conflict["path"] for conflict in merge["conflicts"]] == ["notes"]
    assert {side["set_by"]["id"] for side in merge["conflicts"][0]["sides"]} >= {apart}
    assert merge["document"]["setup"] == split.sheet.document["setup"]


async def test_an_accepted_merge_is_by_nobody_and_of_its_latest_side(split: Split) -> None:
    await split.add(split.sheet.id, upper=1.7, note="one")
    await split.add(split.sheet.id, lower=1.1, note="other")
    before = await split.shown()
    accepted = await split.accept(before["tag"])
    assert accepted.status_code == 201, accepted.text
    made = accepted.json()["revision"]
    assert accepted.headers["location"] == f"/v1/revisions/{made['id']}"
    assert accepted.headers["etag"] == f'"{accepted.json()["tag"]}"'
    assert (made["author"], made["note"]) == ({"id": "merge", "name": "merge"}, "")
    assert made["at"] == max(tip["at"] for tip in before["tips"])
    # The rule by which every node makes the same id, spelled out once more.
    header = Header(
        kind="sheet",
        line=LINE,
        parents=tuple(sorted(tip["id"] for tip in before["tips"])),
        author="merge",
        at=split.at_ms,
        content=hash_content(note="", body=encode(before["merge"]["document"])),
    )
    assert made["id"] == entry_id(header)
    after = await split.shown()
    assert (after["split"], after["document"]) == (False, before["merge"]["document"])
    again = await split.accept(before["tag"])
    assert (again.status_code, again.json()["revision"]["id"]) == (200, made["id"])
    assert again.json()["recorded"] is False


async def test_accepted_apart_on_two_nodes_it_is_one_entry(split: Split, shared_database: Any, book: Any) -> None:
    """The team of a second node: other members, another book, the same entries."""
    await split.add(split.sheet.id, upper=1.7)
    await split.add(split.sheet.id, lower=1.1)
    there = await found_team(shared_database.owner_dsn, team_name="Laptop", chief_name="Ada")
    for line in ("car/7", LINE):
        entries = [await book.get(split.team.team, head.id) for head in await book.history(split.team.team, line)]
        names = ("id", "kind", "line", "parents", "content", "note", "body", "author", "at_ms", "carried_from")
        copies = [NewEntry(**{name: getattr(entry, name) for name in names}) for entry in reversed(entries)]
        await book.append(there.team, copies)
    tag = (await split.shown())["tag"]
    here = await split.accept(tag)
    also = await split.accept(tag, authorization=f"Bearer {there.token}")
    assert (here.status_code, also.status_code) == (201, 201)
    assert here.json()["revision"]["id"] == also.json()["revision"]["id"]


async def test_a_key_is_answered_however_late(split: Split) -> None:
    await split.add(split.sheet.id, upper=1.7)
    await split.add(split.sheet.id, lower=1.1)
    tag = (await split.shown())["tag"]
    first = await split.accept(tag, idempotency_key="k1")
    await split.sheet.push({"edits": [{"path": "notes", "value": "after"}]}, tag=first.json()["tag"])
    again = await split.accept(tag, idempotency_key="k1")
    assert (again.status_code, again.json()["revision"]["id"]) == (200, first.json()["revision"]["id"])
    stale = await split.accept(tag)
    assert (stale.status_code, stale.json()["code"]) == (412, "stale")


async def test_what_cannot_be_accepted_is_refused(split: Split, with_role: Any) -> None:
    alone = await split.accept(split.sheet.tag)
    assert (alone.status_code, alone.json()["code"]) == (400, "bad_request")
    ours, theirs = await split.add(split.sheet.id, upper=1.6), await split.add(split.sheet.id, upper=1.7, lower=1.1)
    tag = tips_tag([ours, theirs])
    differ = await split.accept(tag)
    assert (differ.status_code, differ.json()["code"]) == (409, "conflicts")
    assert UPPER_STUD in differ.json()["detail"]
    assert differ.json()["tips"] == sorted([ours, theirs])
    stale = await split.accept(split.sheet.tag)
    assert (stale.status_code, stale.json()["code"]) == (412, "stale")
    unseen = await split.sheet.client.post(f"{split.sheet.path}/merge")
    assert (unseen.status_code, unseen.json()["code"]) == (428, "precondition_missing")
    new = await split.sheet.client.post(f"{split.sheet.path}/merge", headers={"if-none-match": "*"})
    assert (new.status_code, new.json()["code"]) == (400, "bad_request")
    nowhere = await split.sheet.client.post("/v1/cars/7/sheets/none/merge", headers={"if-match": f'"{tag}"'})
    assert (nowhere.status_code, nowhere.json()["code"]) == (404, "not_found")
    async with await with_role("viewer") as viewer:
        refused = await viewer.post(f"{split.sheet.path}/merge", headers={"if-match": f'"{tag}"'})
    assert (refused.status_code, refused.json()["code"]) == (403, "not_allowed")
    assert (await split.shown())["split"] is True


async def test_settled_by_hand_it_is_not_found_accepted(split: Split) -> None:
    await split.add(split.sheet.id, upper=1.7)
    await split.add(split.sheet.id, lower=1.1)
    shown = await split.shown()
    body = {"document": shown["merge"]["document"], "parents": [tip["id"] for tip in shown["tips"]]}
    settled = await split.sheet.push(body, tag=shown["tag"])
    assert settled.status_code == 201
    late = await split.accept(shown["tag"])
    assert (late.status_code, late.json()["code"]) == (412, "stale")


async def test_a_choice_for_each_conflict_settles_it(split: Split) -> None:
    await split.add(split.sheet.id, upper=1.6)
    await split.add(split.sheet.id, upper=1.7, lower=1.1)
    shown = await split.shown()
    document = apply([FieldChange(steps(UPPER_STUD), after=1.65)], shown["merge"]["document"])
    body = {"document": document, "parents": [tip["id"] for tip in shown["tips"]], "note": "half way"}
    settled = await split.sheet.push(body, tag=shown["tag"])
    assert settled.status_code == 201, settled.text
    after = await split.shown()
    assert (after["split"], after["document"]) == (False, document)


async def test_a_split_sheet_is_named_by_its_tips(split: Split) -> None:
    await split.add(split.sheet.id, upper=1.6)
    await split.add(split.sheet.id, upper=1.7)
    reply = await split.sheet.client.get(split.sheet.path)
    tag = reply.headers["etag"]
    state = tips_tag(tip["id"] for tip in msgspec.json.decode(reply.content)["tips"])
    assert tag.startswith(f'"{state}.')
    assert (await split.sheet.client.get(split.sheet.path, headers={"if-none-match": tag})).status_code == 304


async def test_a_car_that_was_split_is_settled_by_a_change(split: Split) -> None:
    """Two laptops renamed the car, one of them gave it a number."""
    base = (await split.sheet.client.get("/v1/cars/7")).json()["revision"]["id"]
    body = {"name": "Old blue", "number": "7", "retired": False}
    for values in ({"name": "Blue"}, {"name": "Old Blue", "number": "7b"}):
        await split.bring(base, body=body | values, line="car/7", kind="car")
    tag = (await split.sheet.client.get("/v1/cars/7")).json()["tag"]

    async def change(**members: Any) -> Any:
        return await split.sheet.client.patch("/v1/cars/7", json=members, headers={"if-match": f'"{tag}"'})

    differ = await change(retired=True)
    assert (differ.status_code, differ.json()["code"]) == (409, "conflicts")
    assert "name" in differ.json()["detail"]
    settled = await change(name="Blue")
    assert settled.status_code == 200, settled.text
    assert {name: settled.json()[name] for name in body} == {"name": "Blue", "number": "7b", "retired": False}
    assert len(settled.json()["revision"]["parents"]) == 2
    assert (await change(name="Blue")).json()["revision"]["id"] == settled.json()["revision"]["id"]


async def erased(database: Any, split: Split, *ids: str) -> None:
    made = erasure(ids, reason="asked for", at_ms=split.at_ms)
    recorded = audit_event(actor="owner", action="entries.erase", subject="entries")
    await erase_entries(database.owner_dsn, split.team.team, entry_in(made), audit=recorded)


async def test_an_erased_base_is_unknown(split: Split, shared_database: Any) -> None:
    """What only one side changed may be what the other left alone, or not: nobody can tell any more."""
    base = await split.add(split.sheet.id, notes="tacky")
    before = await split.add(base, upper=1.7)
    await split.add(before, notes="after")
    await split.add(base, lower=1.1)
    await erased(shared_database, split, base)
    shown = (await split.shown())["merge"]
    assert shown["bases"] == []
    assert [(each["path"], each["base_unknown"]) for each in shown["conflicts"]] == [
        ("notes", True),
        (LOWER_STUD, True),
        (UPPER_STUD, True),
    ]
    # Who set the upper stud is known; that it was so before is not, so the other side's value is its own.
    [upper] = [each for each in shown["conflicts"] if each["path"] == UPPER_STUD]
    assert before in {side["set_by"]["id"] for side in upper["sides"] if "set_by" in side}
    refused = await split.accept((await split.shown())["tag"])
    assert (refused.status_code, refused.json()["code"]) == (409, "conflicts")


async def test_an_erased_tip_is_not_merged_and_said_to_be_erased(split: Split, shared_database: Any) -> None:
    ours = await split.add(split.sheet.id, upper=1.7)
    theirs = await split.add(split.sheet.id, lower=1.1)
    await erased(shared_database, split, ours)
    shown = await split.shown()
    assert (shown["split"], shown["erased"]) == (True, True)
    assert "merge" not in shown
    assert {tip["id"]: tip.get("erased", False) for tip in shown["tips"]} == {ours: True, theirs: False}
    refused = await split.accept(shown["tag"])
    assert (refused.status_code, refused.json()["code"]) == (410, "erased")
    body = {"document": split.bodies[theirs], "parents": [ours, theirs], "note": "theirs"}
    settled = await split.sheet.push(body, tag=shown["tag"])
    assert settled.status_code == 201, settled.text


async def test_no_more_tips_are_merged_than_a_revision_may_follow(split: Split) -> None:
    for number in range(20):
        await split.add(split.sheet.id, upper=1.5 + number / 100)
    shown = await split.shown()
    assert len(shown["tips"]) == 20
    assert shown["merge"]["left"] == 4
    first = [tip["id"] for tip in shown["tips"][:16]]
    assert [side["tip"] for side in shown["merge"]["conflicts"][0]["sides"]] == first
    refused = await split.accept(shown["tag"])
    assert (refused.status_code, refused.json()["code"]) == (422, "too_costly")
    assert refused.json()["tips"] == [tip["id"] for tip in shown["tips"]]
    body = {"document": split.bodies[first[0]], "parents": first}
    assert (await split.sheet.push(body, tag=shown["tag"])).status_code == 201
    after = await split.shown()
    assert (len(after["tips"]), after["merge"].get("left", 0)) == (5, 0)


async def test_sides_that_crossed_often_cost_no_more_than_a_few_documents(
    split: Split, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three lines of work that follow all three of the night before, night after night: every base has bases."""
    here = [await split.add(split.sheet.id, notes=f"side {side}") for side in range(3)]
    for night in range(40):
        here = [await split.add(*sorted(here), notes=f"night {night}, side {side}") for side in range(3)]
    asked: list[bytes] = []
    document = Context.document

    async def counted(self: Context, team: Any, id_: bytes) -> Any:
        asked.append(id_)
        return await document(self, team, id_)

    monkeypatch.setattr(Context, "document", counted)
    shown = (await split.shown())["merge"]
    assert [(each["path"], each["base_unknown"]) for each in shown["conflicts"]] == [("notes", True)]
    assert len(asked) <= 3 + merges.BASES_MOST + merges.LOOKED_BACK_MOST
    assert len(set(asked)) <= 3 + merges.BASES_MOST


async def test_a_past_longer_than_is_looked_at_counts_as_unknown(split: Split, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(merges, "PAGE_LENGTH", 2)
    monkeypatch.setattr(merges, "PAST_MOST", 4)
    one, other = await split.add(split.sheet.id, upper=1.7), await split.add(split.sheet.id, lower=1.1)
    for night in range(4):
        one, other = await split.add(one, notes=f"a {night}"), await split.add(other, notes=f"b {night}")
    shown = (await split.shown())["merge"]
    assert shown["bases"] == []
    assert [each["path"] for each in shown["conflicts"]] == ["notes", LOWER_STUD, UPPER_STUD]
    assert all(each["base_unknown"] for each in shown["conflicts"])


async def test_no_more_conflicts_are_told_than_can_be_read(split: Split, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(merges, "CONFLICTS_MOST", 2)
    for side in (1, 2):
        await split.add(split.sheet.id, upper=1.5 + side, lower=1.1 + side, notes=f"side {side}")
    shown = (await split.shown())["merge"]
    assert [each["path"] for each in shown["conflicts"]] == ["notes", LOWER_STUD]
    assert shown["unlisted"] == 1
    assert (await split.accept((await split.shown())["tag"])).json()["code"] == "conflicts"
