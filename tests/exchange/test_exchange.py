"""Two books in memory become one."""

from exchange.making import BOOK, entry, run
from exchange.wire import exchange
from studbook_service.exchange.admission import NOBODYS, AdmissionRules
from studbook_service.exchange.book import ExchangeBook
from studbook_service.exchange.frames import Bounds
from studbook_service.exchange.memory_book import MemoryBook

ONLY_CHIEF = AdmissionRules(authors=NOBODYS | {"chief"})
SMALL = Bounds(aim=700, most=100_000, inflated=4_000_000, rows=1_000, frame_rows=10)


async def ids(book: ExchangeBook) -> set[str]:
    return {placed.entry.id for placed in await book.since(0, most=10_000)}


async def test_both_get_what_they_lack_in_one_request() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    common, here, there = run(3), run(4, line="car/7/sheet/dirt"), run(5, line="car/8/sheet/baseline")
    await shop.append([*common, *here])
    await exchange(laptop, shop)
    more = entry({"n": 1}, line="car/9", kind="car")
    await shop.append(there)
    await laptop.append([more])

    progress = await exchange(laptop, shop)

    assert (progress.requests, progress.sent, progress.received) == (1, 1, 5)
    assert await ids(shop) == await ids(laptop) == {each.id for each in [*common, *here, *there, more]}


async def test_nothing_to_say_is_one_small_request() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    await shop.append(run(30))
    await exchange(laptop, shop)
    progress = await exchange(laptop, shop)
    assert (progress.requests, progress.sent, progress.received) == (1, 0, 0)
    assert progress.bytes_up + progress.bytes_down < 400


async def test_small_bounds_make_more_requests_and_the_same_books() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    await shop.append(run(300))
    await laptop.append(run(200, line="car/8/sheet/baseline"))
    progress = await exchange(laptop, shop, bounds=(SMALL, SMALL))
    assert progress.requests > 4
    assert (progress.sent, progress.received) == (200, 300)
    assert await ids(shop) == await ids(laptop)


async def test_a_line_changed_on_both_sides_is_split_and_said_to_be() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    common = run(2)
    mine = entry({"n": 1}, parents=common[-1:])
    theirs = entry({"n": 2}, parents=common[-1:])
    await shop.append([*common, theirs])
    await laptop.append([*common, mine])
    progress = await exchange(laptop, shop)
    assert progress.split == ["car/7/sheet/baseline"]
    assert await shop.tips("car/7/sheet/baseline") == sorted([mine.id, theirs.id])


async def test_what_was_entered_alike_on_both_sides_is_exchanged_and_no_split() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    mine, theirs = (entry({"n": 1}, line="event/a", kind="event", at=at) for at in (1, 2))
    await shop.append([theirs])
    await laptop.append([mine])
    progress = await exchange(laptop, shop)
    assert progress.split == []
    assert await shop.tips("event/a") == await laptop.tips("event/a") == sorted([mine.id, theirs.id])
    await shop.append([entry({"n": 2}, line="event/a", kind="event", parents=[theirs])])
    assert (await exchange(laptop, shop)).split == ["event/a"]


async def test_a_shop_restored_from_a_backup_gets_back_what_it_lost() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    await shop.append(run(5))
    backup = shop.copy()
    await exchange(laptop, shop)
    await laptop.append([lost := entry({"n": 5}, line="car/9", kind="car")])
    await exchange(laptop, shop)
    shop = backup
    await shop.append([new := entry({"n": 6}, line="car/10", kind="car")])

    progress = await exchange(laptop, shop)

    assert {lost.id, new.id} < await ids(shop) == await ids(laptop)
    assert progress.sent == 1


async def test_a_shop_that_took_an_entry_beyond_the_place_we_read_to_and_lost_it_gets_it_again() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    await shop.append(run(100))
    backup = shop.copy()
    await laptop.append([mine := entry({"n": 1}, line="car/9", kind="car")])
    await exchange(laptop, shop, bounds=(SMALL, SMALL), requests=1)
    assert mine.id in await ids(shop)
    assert len(await ids(laptop)) < 101
    await exchange(laptop, backup, bounds=(SMALL, SMALL))
    assert mine.id in await ids(backup)


async def test_what_the_peer_refuses_is_kept_and_shown() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    stranger = entry({"n": 1}, line="car/9", kind="car", author="nobody")
    child = entry({"n": 2}, line="car/9", kind="car", parents=[stranger])
    await laptop.append([stranger, child, *run(2)])
    progress = await exchange(laptop, shop, rules=ONLY_CHIEF)
    assert [(each.id, each.code) for each in progress.refused] == [
        (stranger.id[:8], "unknown_author"),
        (child.id[:8], "parent_refused"),
    ]
    assert [each.code for each in (await laptop.peer_state("shop")).refused] == ["parent_refused", "unknown_author"]
    assert len(await ids(shop)) == 2
    assert (await exchange(laptop, shop, rules=ONLY_CHIEF)).bytes_up < 200


async def test_an_entry_by_merge_is_taken_though_nobody_is_called_so() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    await laptop.append([entry({"n": 1}, line="car/9", kind="car", author="merge")])
    assert not (await exchange(laptop, shop, rules=ONLY_CHIEF)).refused


async def test_a_document_emptied_and_one_rewritten_arrive_as_they_are() -> None:
    shop, laptop = MemoryBook(BOOK), MemoryBook(BOOK)
    first = entry({"a": {"b": 1}, "c": [1, 2.5, True]})
    emptied = entry({}, parents=[first])
    whole = entry({"a": 3, "z": {"y": "x"}}, parents=[emptied], carried_from=first.id)
    await shop.append([first, emptied, whole])
    await exchange(laptop, shop)
    assert (await laptop.get([whole.id]))[whole.id].body == whole.body
    assert await ids(laptop) == await ids(shop)
