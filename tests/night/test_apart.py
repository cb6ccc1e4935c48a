"""Two laptops record the same night apart and meet at the shop: one book, nothing twice, what differs is shown."""

import datetime as dt
from typing import Any

import msgspec
import pytest
from msgspec import UNSET, structs

from exchange.making import entry
from night.conftest import Node
from present import present
from studbook.wire.season import SeasonQuery, SeasonReport
from studbook_service.actions import season
from studbook_service.actions.entries import tag_of
from studbook_service.actions.refusals import Refusal

NORTH = "2026-05-02-north"
HEAT = f"{NORTH}/7/heat-1"
Nodes = tuple[Node, Node, Node]


async def all_meet(nodes: Nodes) -> None:
    shop, *laptops = nodes
    for laptop in (*laptops, *laptops):
        await laptop.meet(shop)
    assert await shop.held() == await laptops[0].held() == await laptops[1].held()


async def test_the_same_night_meets_as_one_line_with_what_differs_to_be_settled(nodes: Nodes) -> None:
    shop, one, other = nodes
    for laptop, length_mi in ((one, 0.375), (other, 0.4)):
        await laptop.enter("event", NORTH, date="2026-05-02", surface="dirt", length_mi=length_mi)
    await one.enter("outing", HEAT, kind="heat", laps=2, lap_times_s=[17.4, 17.5], words={"entry": "tight"})
    await other.enter("outing", HEAT, kind="heat", laps=2, lap_times_s=[17.4, 17.5], finish_place=3)
    await all_meet(nodes)

    event = await shop.read("event", NORTH)
    assert (event.split, len(event.tips)) == (True, 2)
    assert event.merge
    assert event.merge.document == {"date": "2026-05-02", "surface": "dirt"}
    [conflict] = event.merge.conflicts
    assert (conflict.path, {side.value for side in conflict.sides}, conflict.unit) == ("length_mi", {0.375, 0.4}, "mi")
    assert {side.set_by.author.id for side in conflict.sides if side.set_by} == {"ben", "cleo"}
    with pytest.raises(Refusal, match="differ on length_mi"):
        await shop.correct(event)
    settled = await shop.correct(event, length_mi=0.375, note="measured it again")
    assert settled.document == {"date": "2026-05-02", "surface": "dirt", "length_mi": 0.375}

    # What does not differ needs no choice; whoever accepts it, and wherever, makes the same entry.
    for node in nodes:
        outing = await node.read("outing", HEAT)
        assert outing.merge
        assert outing.merge.conflicts == []
        accepted = await node.correct(outing)
        assert (accepted.tips[0].author.id, len(accepted.tips)) == ("merge", 1)
    await all_meet(nodes)
    whole = await shop.read("outing", HEAT)
    assert (whole.split, whole.flags) == (False, [])
    assert whole.document == {
        "kind": "heat",
        "laps": 2,
        "lap_times_s": [17.4, 17.5],
        "words": {"entry": "tight"},
        "finish_place": 3,
    }


async def test_what_two_laptops_entered_alike_is_one_on_every_node(nodes: Nodes) -> None:
    shop, one, other = nodes
    place = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
    fitted = {"what": "fitted", "at": "2026-05-02T16:10-05:00", "place": place}
    played = preload("2026-05-02T16:30-05:00", 10) | {"cost_usd": 5}
    await shop.enter("part", "s-050", kind="stud", stud={"length_in": 1.7})
    raced = await shop.push("7", "raced", at=dt.datetime(2026, 5, 2, 20, tzinfo=dt.UTC))
    await all_meet(nodes)
    for laptop in (one, other):
        await laptop.enter("event", NORTH, date="2026-05-02", surface="dirt")
        await laptop.enter("part", "s-077", kind="stud", stud={"length_in": 1.6, "taper": {"in_per_ft": 1.5}})
        await laptop.enter("shop_record", "s-041/2026-05-02-fitted-1", **fitted)
        await laptop.enter("shop_record", "s-041/2026-05-02-preload-1", **played)
        await laptop.enter("outing", HEAT, revision=raced, laps=8, started_at="2026-05-02T19:40-05:00")
    await all_meet(nodes)

    kinds = ("event", "part", "shop_record", "outing")
    told = [[await node.listed(kind) for kind in kinds] for node in nodes]
    assert [[record.tips[0].id for of_kind in each for record in of_kind] for each in told] == [
        [record.tips[0].id for of_kind in told[0] for record in of_kind]
    ] * 3
    twice = [record for of_kind in told[0] for record in of_kind if len(record.tips) == 2]
    assert len(twice) == 5
    for record in twice:
        assert (record.split, record.merge, record.flags) == (False, UNSET, [])
        assert record.document == (await one.read(record.kind, record.name)).document
    for node in nodes:
        found = await node.shelf()
        assert found.splits == []
        state = next(each for each in found.items if each.part == "s-041")
        assert (len(state.places), state.laps, len(state.preloads), state.alerts) == (1, 8, 1, [])
        answer = await season.report_season(node.context, node.bearer, SeasonQuery())
        report = msgspec.json.decode(await answer.compute(), type=SeasonReport)
        assert report.splits == []
        assert [each.price_usd for each in present(report.team).money.items if each.what == "work"] == [5]

    # A correction follows both, also that of somebody who saw one of them, and is judged by the same.
    event, fitting = (next(record for record in twice if record.kind == kind) for kind in ("event", "shop_record"))
    for record, wrong, said in ((event, {"length_mi": -1}, "length_mi"), (fitting, {"place.car": "99"}, "no car 99")):
        alone = structs.replace(record, tag=tag_of([bytes.fromhex(record.tips[1].id)]))
        with pytest.raises(Refusal, match=said):
            await shop.correct(alone, **wrong)
    alone = await shop.correct(structs.replace(fitting, tag=tag_of([bytes.fromhex(fitting.tips[1].id)])), notes="new")
    assert [tip.parents for tip in alone.tips] == [[tip.id for tip in fitting.tips]]
    corrected = await shop.correct(event, surface="asphalt")
    assert corrected.document == {"date": "2026-05-02", "surface": "asphalt"}
    assert [tip.parents for tip in corrected.tips] == [[tip.id for tip in event.tips]]
    assert (await shop.correct(event, surface="asphalt")).tips == corrected.tips
    await all_meet(nodes)
    assert (await other.read("event", NORTH)).tips[0].id == corrected.tips[0].id


async def test_what_was_corrected_on_one_side_only_is_a_split(nodes: Nodes) -> None:
    shop, one, other = nodes
    for laptop in (one, other):
        await laptop.enter("event", NORTH, date="2026-05-02", surface="dirt")
    await one.correct(await one.read("event", NORTH), surface="asphalt")
    await all_meet(nodes)
    event = await shop.read("event", NORTH)
    assert (event.split, event.document) == (True, UNSET)


async def test_without_a_time_of_its_own_what_was_told_twice_is_followed_at_both_times(nodes: Nodes) -> None:
    """Contact told after the inspection is not taken for the contact that was inspected: a node of another make may."""
    shop, one, other = nodes
    place = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
    found = {"whole_corner": True, "straight": True, "signed_by": "Ben"}
    inspected = {"what": "inspected", "at": "2026-05-02T20:30Z", "place": place, "inspected": found}
    for node, author, hour in ((one, "ben", 20), (other, "cleo", 21)):
        at = int(dt.datetime(2026, 5, 2, hour, tzinfo=dt.UTC).timestamp() * 1000)
        line = "shop/s-041/2026-05-02-contact-1"
        contact = entry({"what": "contact", "place": place}, line=line, kind="shop_record", author=author, at=at)
        await node.book.append([contact])
    await one.enter("shop_record", "s-041/2026-05-02-inspected-1", **inspected)
    assert (await one.shelf()).corners == []
    await all_meet(nodes)
    assert not (await shop.read("shop_record", "s-041/2026-05-02-contact-1")).split
    assert [alert.code for alert in (await shop.shelf()).corners] == ["inspect"]


async def test_a_late_correction_never_rewrites_what_was_raced_and_a_split_says_which_tip_was_read(
    nodes: Nodes,
) -> None:
    shop, one, other = nodes
    place = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
    fitted = {"what": "fitted", "at": "2026-05-02T16:10-05:00", "place": place}
    raced = await shop.push("7", "raced", at=dt.datetime(2026, 5, 2, 20, tzinfo=dt.UTC))
    await shop.enter("event", NORTH, date="2026-05-02")
    await shop.enter("shop_record", "s-041/2026-05-02-fitted-1", **fitted)
    heat = await shop.enter("outing", HEAT, revision=raced, laps=8, started_at="2026-05-02T19:40-05:00")
    await all_meet(nodes)
    for laptop, laps in ((one, 9), (other, 10)):
        await laptop.correct(await laptop.read("outing", HEAT), laps=laps)
    await all_meet(nodes)
    split = await shop.read("outing", HEAT)
    found = await shop.shelf()
    [read] = found.splits
    assert (read.line, set(read.tips)) == (f"outing/{HEAT}", {tip.id for tip in split.tips})
    used = await shop.held()
    assert found.items[0].laps == used[read.used]["laps"]
    assert used[heat.tips[0].id] == {"revision": raced, "laps": 8, "started_at": "2026-05-02T19:40-05:00"}
    settled = await shop.correct(split, laps=9)
    assert settled.document == used[heat.tips[0].id] | {"laps": 9}
    assert (await shop.shelf()).items[0].laps == 9


async def test_a_part_fitted_to_two_cars_by_two_laptops_is_two_honest_records(nodes: Nodes) -> None:
    shop, one, other = nodes
    place = {"where": "car", "corner": "rf", "slot": "upper_stud"}
    on_7 = {"what": "fitted", "at": "2026-05-02T16:10-05:00", "place": place | {"car": "7"}}
    on_12 = {"what": "fitted", "at": "2026-05-02T16:20-05:00", "place": place | {"car": "12"}}
    # Both call it the first fitting of the day: one line, split. A third record, on its own line, says so too.
    await one.enter("shop_record", "s-041/2026-05-02-fitted-1", **on_7)
    await other.enter("shop_record", "s-041/2026-05-02-fitted-1", **on_12)
    await one.enter("shop_record", "s-041/2026-05-02-preload-1", **preload("2026-05-02T16:30-05:00", 10))
    await all_meet(nodes)

    for node in nodes:
        record = await node.read("shop_record", "s-041/2026-05-02-fitted-1")
        assert record.split
        assert {flag.tip for flag in record.flags} == {tip.id for tip in record.tips}
        assert {flag.path for flag in record.flags} == {"place.car"}
        assert "it is on car 7 since" in record.flags[0].detail
        [state] = (await node.shelf()).items
        assert [place.car for place in state.places] == ["7", "12"]
        assert [alert.code for alert in state.alerts] == ["two_places"]
    with pytest.raises(Refusal, match="it is on car 7"):
        await shop.enter("shop_record", "s-041/2026-05-03-fitted-1", **(on_12 | {"at": "2026-05-03T10:00-05:00"}))

    # The wrong side is corrected; nothing was lost on the way.
    edits: dict[str, Any] = {"at": on_12["at"], "place.car": "12", "notes": "it went on 12"}
    settled = await shop.correct(
        await shop.read("shop_record", "s-041/2026-05-02-fitted-1"),
        **edits,
    )
    assert settled.flags == []
    [state] = (await shop.shelf()).items
    assert ([place.car for place in state.places], state.alerts) == (["12"], [])


async def test_what_came_by_exchange_is_never_refused_but_flagged(nodes: Nodes) -> None:
    shop, one, _ = nodes
    await one.enter("event", NORTH, date="2026-05-02")
    # As a node of another make might: no action of ours lets this through.
    wrong = entry(
        {"laps": 3, "lap_times_s": [17.4, -2], "revision": "ab" * 32, "own": {"idea": 1}},
        line=f"outing/{NORTH}/7/feature",
        kind="outing",
        author="ben",
        at=1_780_000_000_000,
    )
    nameless = entry({"kind": "heat"}, line="outing/whenever", kind="outing", author="ben", at=1_780_000_000_000)
    await one.book.append([wrong, nameless])
    await all_meet(nodes)
    record = await shop.read("outing", f"{NORTH}/7/feature")
    assert {flag.path or "" for flag in record.flags} == {"lap_times_s.1", "laps", "revision"}
    assert record.document == {"laps": 3, "lap_times_s": [17.4, -2], "revision": "ab" * 32, "own": {"idea": 1}}
    # A correction need not mend everything that stood wrong, but brings nothing wrong in.
    with pytest.raises(Refusal, match="no revision cdcdcdcdcdcd"):
        await shop.correct(record, revision="cd" * 32)
    corrected = await shop.correct(record, lap_times_s=[17.4, 17.5, 17.6])
    assert [flag.path for flag in corrected.flags] == ["revision"]
    listed = await shop.listed("outing")
    assert {each.name: len(each.flags) for each in listed} == {f"{NORTH}/7/feature": 1, "whenever": 1}


async def test_a_card_ticked_on_two_laptops_counts_as_the_worse_of_both_until_it_is_settled(nodes: Nodes) -> None:
    shop, one, other = nodes
    place = {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"}
    contact = {"what": "contact", "at": "2026-05-02T20:00-05:00", "place": place}
    await shop.enter("shop_record", "s-041/2026-05-02-contact-1", **contact)
    await shop.enter("work", "7/2026-05-02-2010", planned=["inspect-rf"])
    await all_meet(nodes)
    for laptop, straight, minute in ((one, True, 30), (other, False, 25)):
        tick: dict[str, Any] = {
            "at": f"2026-05-02T20:{minute}-05:00",
            "inspected.straight": straight,
            "inspected.signed_by": "Ada",
        }
        edits = {f"done.inspect-rf.{field}": value for field, value in tick.items()}
        await laptop.correct(await laptop.read("work", "7/2026-05-02-2010"), **edits)
        told = [alert.code for alert in (await laptop.shelf()).corners]
        assert told == ([] if straight else ["bent"])
    await all_meet(nodes)
    for node in nodes:
        assert [alert.code for alert in (await node.shelf()).corners] == ["bent"]
    # Settled on one laptop, it is settled on all.
    split = await one.read("work", "7/2026-05-02-2010")
    again: dict[str, Any] = {
        "done.inspect-rf.at": "2026-05-02T20:30-05:00",
        "done.inspect-rf.inspected.straight": True,
    }
    await one.correct(split, **again)
    await all_meet(nodes)
    assert [(await node.shelf()).corners for node in nodes] == [[], [], []]


async def test_a_tick_that_says_nothing_is_flagged_where_it_came_by_exchange(nodes: Nodes) -> None:
    shop, one, _ = nodes
    bare = {"done": {"inspect-rf": {"by": "Ada"}}, "planned": ["toe"], "signed_off": {"at": "2026-05-02T21:00Z"}}
    card = entry(bare, line="work/7/2026-05-02-2010", kind="work", author="ben", at=1_777_755_600_000)
    await one.book.append([card])
    await all_meet(nodes)
    flags = {flag.path for flag in (await shop.read("work", "7/2026-05-02-2010")).flags}
    assert flags == {
        "done.inspect-rf.at",
        "done.inspect-rf.inspected.straight",
        "done.inspect-rf.inspected.signed_by",
        "signed_off.unfinished",
    }


def preload(at: str, torque_in_lb: float) -> dict[str, object]:
    return {"what": "preload", "at": at, "preload": {"basis": "running", "torque_in_lb": torque_in_lb}}
