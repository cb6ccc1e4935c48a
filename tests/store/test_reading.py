"""Reading and appending."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from studbook_service.store import BookStore, Founded, NewEntry, ParentNotFound

Make = Callable[..., NewEntry]
LINE = "car/7/sheet/baseline"


def night(make: Make, count: int) -> list[NewEntry]:
    """A line of entries, each on the one before."""
    entries: list[NewEntry] = []
    for number in range(count):
        entries.append(make(f"night {number}", *(entry.id for entry in entries[-1:])))
    return entries


async def test_history_pages_meet_without_gap_or_repeat(book: BookStore, team: Founded, make: Make) -> None:
    root = make("root")
    twins = [make(f"twin {side}", root.id) for side in range(7)]  # one generation, seven ids
    joined = make("joined", *(twin.id for twin in twins))
    await book.append(team.team, [root, *twins, joined])
    seen: list[bytes] = []
    before: tuple[int, bytes] | None = None
    while page := await book.history(team.team, LINE, before=before, limit=2):
        seen += [head.id for head in page]
        before = (page[-1].generation, page[-1].id)
    assert seen == [joined.id, *sorted((twin.id for twin in twins), reverse=True), root.id]


async def test_history_is_of_one_line(book: BookStore, team: Founded, make: Make) -> None:
    await book.append(team.team, [make("a"), make("b", line="car/7/sheet/baseline-2"), make("c", line="car/7")])
    assert [head.note for head in await book.history(team.team, LINE)] == ["note a"]
    assert await book.history(team.team, "car/8") == []


async def test_ancestors_follow_first_parents_back(book: BookStore, team: Founded, make: Make) -> None:
    entries = night(make, 6)
    await book.append(team.team, entries)
    back = await book.ancestors(team.team, entries[-1].id, limit=4)
    assert [entry.body for entry in back] == [entry.body for entry in entries[:1:-1]]
    assert len(await book.ancestors(team.team, entries[-1].id)) == 6
    assert await book.ancestors(team.team, make("nowhere").id) == []


async def test_short_ids(book: BookStore, team: Founded, make: Make) -> None:
    entries = night(make, 300)
    await book.append(team.team, entries)
    ids = sorted(entry.id for entry in entries)
    for digits in (1, 2, 3, 8, 63, 64):
        prefix = ids[137].hex()[:digits]
        assert await book.find(team.team, prefix) == [id_ for id_ in ids if id_.hex().startswith(prefix)][:10]
    assert await book.find(team.team, ids[0].hex()[:7].upper()) == [ids[0]]
    for wrong in ("", "0" * 65, "xyz"):
        with pytest.raises(ValueError):  # noqa: PT011 - two messages, ours and the standard library's
            await book.find(team.team, wrong)


async def test_lines_were_begun_at_the_earliest_of_their_first_entries(
    book: BookStore, team: Founded, make: Make
) -> None:
    begun = [replace(make(f"side {number}"), at_ms=1000 * number) for number in (3, 2)]
    late = replace(make("late", begun[0].id), at_ms=1000)
    await book.append(team.team, [*begun, late, replace(make("other", line="car/7"), at_ms=5000)])
    assert await book.first_recorded(team.team, [LINE, "car/7", "car/8"]) == {LINE: 2000, "car/7": 5000}
    assert await book.first_recorded(team.team, []) == {}


async def test_heads_are_of_one_kind_under_a_prefix(book: BookStore, team: Founded, make: Make) -> None:
    cars = [make(f"car {n}", line=f"car/{n}", kind="car") for n in ("7", "70", "7x")]
    sheets = [make(f"sheet {n}", line=f"car/{n}/sheet/baseline") for n in ("7", "70", "7x")]
    old = make("old", line="car/7/sheet/road")
    new = make("new", old.id, line="car/7/sheet/road")
    await book.append(team.team, [*cars, *sheets, old, new])
    assert [head.line for head in await book.heads(team.team, "car/", "car")] == ["car/7", "car/70", "car/7x"]
    assert [head.id for head in await book.heads(team.team, "car/7/sheet/", "sheet")] == [sheets[0].id, new.id]
    assert [entry.body for entry in await book.head_entries(team.team, "car/7/sheet/r", "sheet")] == [new.body]
    assert await book.heads(team.team, "part/", "part") == []


async def test_heads_come_by_whole_lines_page_by_page(book: BookStore, team: Founded, make: Make) -> None:
    parts = [make(f"part {n}", line=f"part/s-{n}", kind="part") for n in (1, 2, 3)]
    root = parts[1]
    split = [make(f"side {n}", root.id, line="part/s-2", kind="part") for n in (1, 2)]
    other = make("shop", line="shop/s-1/fitted", kind="shop_record")
    await book.append(team.team, [*parts, *split, other])
    first = await book.head_page(team.team, "part/", "part", lines=2)
    assert [tip.line for tip in first] == ["part/s-1", "part/s-2", "part/s-2"]
    assert {tip.body for tip in first[1:]} == {side.body for side in split}
    assert [tip.id for tip in first[1:]] == sorted(side.id for side in split)
    second = await book.head_page(team.team, "part/", "part", after=first[-1].line, lines=2)
    assert [tip.line for tip in second] == ["part/s-3"]
    assert await book.head_page(team.team, "part/", "part", after="part/s-3") == []


async def test_tips_come_with_or_without_bodies(book: BookStore, team: Founded, make: Make) -> None:
    root = make("root")
    sides = sorted([make("left", root.id), make("right", root.id)], key=lambda side: side.id)
    await book.append(team.team, [root, *sides])
    assert [tip.id for tip in await book.tips(team.team, LINE)] == [side.id for side in sides]
    assert [tip.body for tip in await book.tip_entries(team.team, LINE)] == [side.body for side in sides]
    assert await book.tips(team.team, "car/8") == []


async def test_a_document_alone(book: BookStore, team: Founded, make: Make) -> None:
    root = make("root")
    await book.append(team.team, [root])
    assert await book.document(team.team, root.id) == (root.content, root.body)
    assert await book.document(team.team, make("nowhere").id) is None


async def test_append_passes_over_what_is_there(book: BookStore, team: Founded, make: Make) -> None:
    entries = night(make, 4)
    await book.append(team.team, entries[:2])
    appended = await book.append(team.team, entries)
    assert [(one.id, one.seq, one.generation, one.added) for one in appended] == [
        (entry.id, number + 1, number, number >= 2) for number, entry in enumerate(entries)
    ]
    assert await book.append(team.team, []) == []


async def test_append_is_all_or_nothing(book: BookStore, team: Founded, make: Make) -> None:
    root, orphan = make("root"), make("orphan", make("nowhere").id)
    with pytest.raises(ParentNotFound) as missing:
        await book.append(team.team, [root, orphan])
    assert missing.value.id == make("nowhere").id
    elsewhere = make("child", root.id, line="car/8/sheet/baseline")
    with pytest.raises(ParentNotFound):
        await book.append(team.team, [root, elsewhere])
    assert await book.get(team.team, root.id) is None
    assert (await book.team_head(team.team)).seq == 0


async def test_an_author_the_team_does_not_know_has_no_name(book: BookStore, team: Founded, make: Make) -> None:
    await book.append(team.team, [make("merged", author="merge")])
    assert [tip.author_name for tip in await book.tips(team.team, LINE)] == [None]
