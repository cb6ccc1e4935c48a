"""Searches that take studs from the book of parts: whose, from where, and only where they go in. Invented numbers."""

from typing import Any

import pytest

from studbook.wire.operations.records import READ_SHELF
from studbook.wire.operations.searches import SEARCH_CARRY_OVER, SEARCH_STUDS
from studbook.wire.records import KINDS

TARGET = [[-2, -1.5], [0, -4], [2, -7.2]]
MOVED = "2026-05-02-moved-1"


async def enter(client: Any, kind: str, name: str, /, **document: Any) -> None:
    entered = await client.post(KINDS[kind].path, json={"name": name, "document": document})
    assert entered.status_code == 201, entered.text


def moved(where: str) -> dict[str, Any]:
    return {"what": "moved", "at": "2026-05-02T16:10-05:00", "place": {"where": where}}


def few(revision: str, inventory: str) -> dict[str, Any]:
    """Ask for little else than studs."""
    about = {"revision": revision, "corner": "rf", "camber_target": TARGET, "inventory": inventory}
    return about | {"shims_within_in": 0, "spacers_within_in": 0}


@pytest.fixture
async def tapered(sheet: Any) -> str:
    """A revision whose right front says what taper its seats have; two studs in the trailer and one on the shelf."""
    edits = [{"path": f"setup.front.rf.{joint}_stud.taper_included_deg", "value": 7.15} for joint in ("upper", "lower")]
    pushed = await sheet.push({"edits": edits})
    for tag, where, slope, end in (
        ("s-041", "trailer", 1.5, 0.62),
        ("s-042", "shelf", 1.5, 0.62),
        ("s-050", "trailer", 2, 0.62),
        ("s-060", "trailer", 1.5, 0.75),
    ):
        sizes = {"length_in": 1.7, "taper": {"in_per_ft": slope, "large_end_in": end}}
        await enter(sheet.client, "part", tag, kind="stud", stud=sizes)
        await enter(sheet.client, "shop_record", f"{tag}/{MOVED}", **moved(where))
    id_: str = pushed.json()["revision"]["id"]
    return id_


async def test_studs_are_taken_from_the_book(sheet: Any, tapered: str) -> None:
    asked = few(tapered, "trailer")
    found = await sheet.client.post("/v1/searches/studs", json=asked)
    assert found.status_code == 200, found.text
    answer = found.json()
    inventory = answer["inventory"]
    assert inventory["studs"] == [
        {"part": "s-041", "length_in": 1.7, "where": "trailer", "fits": ["rf.upper"]},
        {"part": "s-060", "length_in": 1.7, "where": "trailer", "fits": ["rf.lower"]},
    ]
    # 2 atan(2/24), by hand: 9.527 deg.
    assert [(each["part"], each["why"]) for each in inventory["left_out"]] == [
        ("s-042", "on the shelf"),
        ("s-050", "RF upper and RF lower: its taper of 9.527 deg does not go into one of 7.15 deg"),
    ]
    jobs = [plan["todo"] for plan in answer["ranked"]]
    assert ["RF upper stud: 1.70 in instead of 1.20 in: s-041, trailer"] in [job[:1] for job in jobs]
    assert answer["counts"]["total_count"] == 4
    listed = await sheet.client.post("/v1/searches/studs", json=asked | {"inventory": "listed"})
    assert "inventory" not in listed.json()
    assert listed.json()["counts"]["total_count"] == 1


async def test_a_stud_that_was_fitted_meanwhile_is_offered_no_more(sheet: Any, tapered: str) -> None:
    asked = {"source": tapered, "revision": tapered, "inventory": "anywhere", "shims_within_in": 0}

    async def at_hand() -> list[str]:
        found = await sheet.client.post("/v1/searches/carry-over", json=asked)
        assert found.status_code == 200, found.text
        return [stud["part"] for stud in found.json()["inventory"]["studs"]]

    assert await at_hand() == ["s-041", "s-042", "s-060"]
    place = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
    fitted = {"what": "fitted", "at": "2026-05-03T16:10-05:00", "place": place}
    await enter(sheet.client, "shop_record", "s-041/2026-05-03-fitted-1", **fitted)
    assert await at_hand() == ["s-042", "s-060"]


async def test_a_stud_that_two_recorded_differently_is_left_out_until_it_is_settled(
    sheet: Any, tapered: str, split: Any
) -> None:
    for length in (1.5, 1.6):
        body = {"kind": "stud", "stud": {"length_in": length, "taper": {"in_per_ft": 1.5}}}
        await split.bring(line="part/s-077", kind="part", body=body)
    await enter(sheet.client, "shop_record", f"s-077/{MOVED}", **moved("trailer"))

    async def inventory() -> Any:
        return (await sheet.client.post("/v1/searches/studs", json=few(tapered, "trailer"))).json()["inventory"]

    found = await inventory()
    assert "splits" not in found
    assert {each["part"]: each["why"] for each in found["left_out"]}["s-077"] == (
        "recorded differently on two sides (stud.length_in): settle it first, studbook part correct s-077"
    )
    tag = (await sheet.client.get("/v1/parts/s-077")).headers["etag"]
    edits = {"edits": [{"path": "stud.length_in", "value": 1.6}]}
    assert (await sheet.client.patch("/v1/parts/s-077", json=edits, headers={"if-match": tag})).status_code == 200
    assert "s-077" in [each["part"] for each in (await inventory())["studs"]]


async def test_a_stud_whose_place_two_recorded_differently_is_left_out(sheet: Any, tapered: str, split: Any) -> None:
    for where in ("trailer", "shelf"):
        line = f"shop/s-041/{MOVED.replace('-1', '-2')}"
        body = moved(where) | {"at": "2026-05-02T17:10-05:00"}
        await split.bring(line=line, kind="shop_record", body=body)
    found = (await sheet.client.post("/v1/searches/studs", json=few(tapered, "anywhere"))).json()["inventory"]
    assert {each["part"]: each["why"] for each in found["left_out"]}["s-041"] == (
        "recorded differently on two sides (s-041/2026-05-02-moved-2): settle it first,"
        " studbook shop correct s-041/2026-05-02-moved-2"
    )


async def test_a_stud_split_in_what_does_not_matter_is_read_by_its_newest_and_that_is_said(
    sheet: Any, tapered: str, split: Any
) -> None:
    sizes = {"length_in": 1.6, "taper": {"in_per_ft": 1.5}}
    tips = [
        await split.bring(line="part/s-077", kind="part", body={"kind": "stud", "stud": sizes, "notes": notes})
        for notes in ("bought", "found")
    ]
    await enter(sheet.client, "shop_record", f"s-077/{MOVED}", **moved("trailer"))
    asked = few(tapered, "trailer")
    inventory = (await sheet.client.post("/v1/searches/studs", json=asked)).json()["inventory"]
    [told] = inventory["splits"]
    assert (told["line"], told["used"], sorted(told["tips"])) == ("part/s-077", tips[1], sorted(tips))
    [stud] = [stud for stud in inventory["studs"] if stud["part"] == "s-077"]
    assert (stud["length_in"], stud["by_angle_alone"]) == (1.6, ["rf.upper", "rf.lower"])


async def test_nobody_elses_studs_are_seen(sheet: Any, tapered: str, stranger: Any, shared_with: Any) -> None:
    asked = few(tapered, "anywhere")
    friend = (await shared_with("7")).client
    refused = await friend.post("/v1/searches/studs", json=asked)
    assert (refused.status_code, refused.json()["code"]) == (403, "not_allowed")
    assert "s-0" not in refused.text
    assert (await stranger.post("/v1/cars", json={"car": "7"})).status_code == 201
    document = (await sheet.client.get(f"/v1/revisions/{tapered}/document")).json()
    pushed = await stranger.post(
        "/v1/cars/7/sheets/ours/revisions", json={"document": document}, headers={"if-none-match": "*"}
    )
    assert pushed.status_code == 201, pushed.text
    asked |= {"revision": pushed.json()["revision"]["id"]}
    inventory = (await stranger.post("/v1/searches/studs", json=asked)).json()["inventory"]
    assert inventory == {"taken_from": "anywhere", "studs": [], "left_out": []}


def test_whoever_may_search_may_read_the_shelf() -> None:
    assert SEARCH_STUDS.roles | SEARCH_CARRY_OVER.roles <= READ_SHELF.roles
