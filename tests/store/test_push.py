"""One push at a time: what is recorded, what is a retry, what is refused."""

from collections.abc import Callable
from hashlib import sha256

import pytest

from studbook_service.store import (
    BookMoved,
    BookStore,
    Founded,
    Judged,
    KeyReused,
    NewEntry,
    ParentNotFound,
    PushOutcome,
    StaleTips,
    UnknownTeam,
)

Make = Callable[..., NewEntry]
LINE = "car/7/sheet/baseline"


async def test_a_pushed_entry_is_read_back_whole(book: BookStore, team: Founded, make: Make) -> None:
    new = make("first", carried_from=b'{"line":"car/9"}', via="laptop")
    assert await book.push(team.team, new, expected=()) == PushOutcome(new.id, 1, 0, replayed=False)
    entry = await book.get(team.team, new.id)
    assert entry is not None
    for field in ("id", "kind", "line", "parents", "content", "note", "body", "author", "at_ms", "carried_from", "via"):
        assert getattr(entry, field) == getattr(new, field), field
    assert (entry.seq, entry.generation, entry.author_name) == (1, 0, "Chris")


async def test_each_push_moves_the_tip(book: BookStore, team: Founded, make: Make) -> None:
    first, second = make("first"), make("second", make("first").id)
    await book.push(team.team, first, expected=())
    pushed = await book.push(team.team, second, expected=(first.id,))
    assert (pushed.seq, pushed.generation) == (2, 1)
    assert [tip.id for tip in await book.tips(team.team, LINE)] == [second.id]


async def test_other_tips_are_given(book: BookStore, team: Founded, make: Make) -> None:
    first = make("first")
    await book.push(team.team, first, expected=())
    with pytest.raises(StaleTips) as new_line:
        await book.push(team.team, make("second"), expected=())
    assert new_line.value.tips == (first.id,)
    with pytest.raises(StaleTips) as no_line:
        await book.push(team.team, make("x", first.id, line="car/8"), expected=(first.id,))
    assert no_line.value.tips == ()


async def test_parents_are_tips(book: BookStore, team: Founded, make: Make) -> None:
    first = make("first")
    await book.push(team.team, first, expected=())
    with pytest.raises(ParentNotFound):
        await book.push(team.team, make("second", make("elsewhere").id), expected=(first.id,))
    with pytest.raises(ValueError, match="names its parents"):
        await book.push(team.team, make("second"), expected=(first.id,))


async def test_a_line_keeps_its_kind(book: BookStore, team: Founded, make: Make) -> None:
    first = make("first")
    await book.push(team.team, first, expected=())
    with pytest.raises(ParentNotFound):
        await book.push(team.team, make("second", first.id, kind="car"), expected=(first.id,))


async def test_one_side_of_a_split_or_all_of_it(book: BookStore, team: Founded, make: Make) -> None:
    root = make("root")
    left, right = make("left", root.id), make("right", root.id)
    await book.append(team.team, [root, left, right])
    tips = (right.id, left.id)  # any order will do
    further = make("further", left.id)
    await book.push(team.team, further, expected=tips)
    assert {tip.id for tip in await book.tips(team.team, LINE)} == {further.id, right.id}
    settled = make("settled", further.id, right.id)
    pushed = await book.push(team.team, settled, expected=(further.id, right.id))
    assert pushed.generation == 3
    assert [tip.id for tip in await book.tips(team.team, LINE)] == [settled.id]


async def test_a_key_answers_before_the_tips(book: BookStore, team: Founded, make: Make) -> None:
    first, second = make("first"), make("second", make("first").id)
    pushed = await book.push(team.team, first, expected=(), key="k1", fingerprint=b"one")
    await book.push(team.team, second, expected=(first.id,))
    again = await book.push(team.team, make("again"), expected=(), key="k1", fingerprint=b"one")
    assert again == PushOutcome(first.id, pushed.seq, pushed.generation, replayed=True)
    with pytest.raises(KeyReused):
        await book.push(team.team, make("again"), expected=(), key="k1", fingerprint=b"two")
    assert (await book.team_head(team.team)).seq == 2
    with pytest.raises(ValueError, match="come together"):
        await book.push(team.team, make("again"), expected=(), key="k1")


async def test_a_refused_push_leaves_its_key_free(book: BookStore, team: Founded, make: Make) -> None:
    first = make("first")
    with pytest.raises(StaleTips):
        await book.push(team.team, make("second", first.id), expected=(first.id,), key="k", fingerprint=b"one")
    assert not (await book.push(team.team, first, expected=(), key="k", fingerprint=b"two")).replayed


async def test_the_same_change_by_the_same_author_is_a_retry(book: BookStore, team: Founded, make: Make) -> None:
    first = make("first")
    await book.push(team.team, first, expected=())
    change = make("change", first.id)
    await book.push(team.team, change, expected=(first.id,))
    later = make("later", first.id, content=change.content, at_ms=change.at_ms + 5000)
    assert (await book.push(team.team, later, expected=(first.id,))).id == change.id
    other_author = make("later", first.id, content=change.content, author="someone")
    with pytest.raises(StaleTips):
        await book.push(team.team, other_author, expected=(first.id,))
    await book.push(team.team, make("third", change.id), expected=(change.id,))
    assert (await book.push(team.team, change, expected=(first.id,))).replayed  # its id is known, tip or not


async def test_the_chain_is_over_every_id_in_order(book: BookStore, team: Founded, make: Make) -> None:
    chain, ids = bytes(32), list[bytes]()
    parents: tuple[bytes, ...] = ()
    for number in range(5):
        new = make(str(number), *parents)
        await book.push(team.team, new, expected=parents)
        parents = (new.id,)
        ids.append(new.id)
    for id_ in ids:
        chain = sha256(chain + id_).digest()
    head = await book.team_head(team.team)
    assert (head.seq, head.chain, len(head.book)) == (5, chain, 8)


async def test_an_unknown_team_has_no_book(book: BookStore, team: Founded, make: Make) -> None:
    stranger = type(team.team)(int=7)
    with pytest.raises(UnknownTeam):
        await book.push(stranger, make("first"), expected=())
    with pytest.raises(UnknownTeam):
        await book.team_head(stranger)


async def test_what_was_judged_by_lines_that_moved_since_is_not_recorded(
    book: BookStore, team: Founded, make: Make
) -> None:
    told = make("told", line="shop/s-1/a", kind="shop_record")
    await book.push(team.team, told, expected=())
    seen = Judged(1, ("part/s-1", "shop/s-1/"))
    await book.push(team.team, make("part", line="part/s-2", kind="part"), expected=())
    other = make("other", line="shop/s-1/b", kind="shop_record")
    assert not (await book.push(team.team, other, expected=(), judged=seen)).replayed
    late = make("late", line="shop/s-1/c", kind="shop_record")
    with pytest.raises(BookMoved):
        await book.push(team.team, late, expected=(), judged=seen)
    # What came by exchange counts too.
    await book.append(team.team, [make("brought", line="shop/s-1/d", kind="shop_record")])
    with pytest.raises(BookMoved):
        await book.push(team.team, late, expected=(), judged=seen._replace(seq=3))
    assert await book.tips(team.team, late.line) == []
    assert (
        await book.push(team.team, late, expected=(), judged=seen._replace(seq=4), key="k", fingerprint=b"f")
    ).seq == 5
    # A retry is known however the book moved; other tips come first.
    again = await book.push(team.team, late, expected=(), judged=seen, key="k", fingerprint=b"f")
    assert (again.replayed, again.seq) == (True, 5)
    with pytest.raises(StaleTips):
        await book.push(team.team, make("another", line=late.line, kind="shop_record"), expected=(), judged=seen)
