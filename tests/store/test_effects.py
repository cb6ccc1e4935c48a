"""What is kept of changes: by the newest engine, of nothing erased; all of a line goes with what is erased of it."""

from collections.abc import Callable
from uuid import UUID

import pytest

from studbook_service.store import BookStore, Founded, NewEntry, UnknownTeam, erase_entries, found_team

Make = Callable[..., NewEntry]
OTHER_LINE = "car/7/sheet/road"


@pytest.fixture
async def night(book: BookStore, team: Founded, make: Make) -> list[NewEntry]:
    """Three entries on one line, two on another, and the answers of those with a parent."""
    night = [make("first")]
    night += [make("second", night[0].id)]
    night += [make("third", night[1].id)]
    night += [make("road", line=OTHER_LINE)]
    night += [make("road again", night[3].id, line=OTHER_LINE)]
    night += [make("outing", line="outing/x/7/heat", kind="outing")]
    night += [make("corrected", night[5].id, line="outing/x/7/heat", kind="outing")]
    await book.append(team.team, night)
    for entry in (night[1], night[2], night[4]):
        assert entry.note is not None
        assert await book.effects.keep(
            team.team, entry.id, entry.note.encode(), engine=1, computed_from=[entry.id, *entry.parents]
        )
    return night


def erasure(make: Make, *entries: NewEntry, name: str = "erasure") -> NewEntry:
    """The entry that says what is erased."""
    named = ",".join(f'"{entry.id.hex()}"' for entry in entries)
    return make(name, kind="erasure", line=f"erasure/{name}", body=f'{{"entries":[{named}]}}'.encode())


async def test_what_is_kept_is_read_by_its_engine_alone(book: BookStore, team: Founded, night: list[NewEntry]) -> None:
    kept = await book.effects.read(team.team, [entry.id for entry in night], engine=1)
    assert set(kept.values()) == {b"note second", b"note third", b"note road again"}
    assert await book.effects.read(team.team, [night[1].id], engine=2) == {}


async def test_the_newest_changes_without_an_answer(
    book: BookStore, team: Founded, make: Make, night: list[NewEntry]
) -> None:
    assert await book.effects.missing(team.team, engine=1, limit=9) == []
    assert await book.effects.missing(team.team, engine=2, limit=2) == [night[4].id, night[2].id]
    later = make("later", night[2].id)
    await book.append(team.team, [later])
    assert await book.effects.missing(team.team, engine=1, limit=9) == [later.id]


async def test_a_newer_engine_replaces_and_an_older_one_does_not(
    book: BookStore, team: Founded, night: list[NewEntry]
) -> None:
    id_ = night[1].id
    assert await book.effects.keep(team.team, id_, b"new", engine=2, computed_from=[id_])
    assert await book.effects.keep(team.team, id_, b"old", engine=1, computed_from=[id_])
    assert await book.effects.read(team.team, [id_], engine=2) == {id_: b"new"}
    assert await book.effects.read(team.team, [id_], engine=1) == {}
    assert id_ not in await book.effects.missing(team.team, engine=1, limit=9), "so both come to an end"


async def test_with_an_erased_entry_go_the_answers_of_its_line(
    book: BookStore, team: Founded, make: Make, owner_dsn: str, night: list[NewEntry], event: bytes
) -> None:
    await erase_entries(owner_dsn, team.team, erasure(make, night[0]), audit=event)
    ids = [entry.id for entry in night]
    assert await book.effects.read(team.team, ids, engine=1) == {night[4].id: b"note road again"}
    assert await book.effects.missing(team.team, engine=1, limit=9) == [night[2].id, night[1].id]


async def test_nothing_is_kept_that_was_computed_from_what_was_erased_meanwhile(
    book: BookStore, team: Founded, make: Make, owner_dsn: str, night: list[NewEntry], event: bytes
) -> None:
    first, second, third, *_ = night
    await erase_entries(owner_dsn, team.team, erasure(make, first), audit=event)
    assert not await book.effects.keep(
        team.team, third.id, b"stale", engine=1, computed_from=[third.id, second.id, first.id]
    )
    assert await book.effects.read(team.team, [third.id], engine=1) == {}
    assert await book.effects.keep(team.team, third.id, b"anew", engine=1, computed_from=[third.id, second.id])


async def test_an_erasure_known_already_takes_nothing_again(
    book: BookStore, team: Founded, make: Make, night: list[NewEntry]
) -> None:
    known = erasure(make, night[0])
    await book.append(team.team, [known], apply_erasures=True)
    assert await book.effects.keep(team.team, night[2].id, b"anew", engine=1, computed_from=[night[2].id])
    await book.append(team.team, [known], apply_erasures=True)
    assert await book.effects.read(team.team, [night[2].id], engine=1) == {night[2].id: b"anew"}


async def test_it_goes_on_a_node_that_learns_of_the_erasure(
    book: BookStore, team: Founded, make: Make, night: list[NewEntry], event: bytes
) -> None:
    await book.peers.set(team.team, "shop", "http://shop.test", state=b"{}")
    await book.access.set_home(team.team, "shop", audit=event)
    brought = [erasure(make, night[1])]
    await book.peers.receive(team.team, brought, peer="shop", version=1, state=b"{}", apply_erasures=True)
    kept = await book.effects.read(team.team, [entry.id for entry in night], engine=1)
    assert kept == {night[4].id: b"note road again"}


async def test_another_teams_is_another_matter(
    book: BookStore, team: Founded, make: Make, owner_dsn: str, night: list[NewEntry], event: bytes
) -> None:
    other = await found_team(owner_dsn, team_name="Laptop", chief_name="Ada")
    await book.append(other.team, night)
    assert await book.effects.read(other.team, [entry.id for entry in night], engine=1) == {}
    await erase_entries(owner_dsn, other.team, erasure(make, night[0]), audit=event)
    assert night[1].id in await book.effects.read(team.team, [night[1].id], engine=1)


async def test_a_team_that_is_none_keeps_nothing(book: BookStore, make: Make) -> None:
    with pytest.raises(UnknownTeam):
        await book.effects.keep(UUID(int=7), make("first").id, b"answer", engine=1, computed_from=[])
