"""Erasure: content and names go; ids, headers, hashes and chains stay and verify."""

from collections.abc import Callable
from hashlib import sha256

import asyncpg
import pytest

from studbook_service.store import (
    BookStore,
    Founded,
    MemberRow,
    NewEntry,
    UnknownMember,
    erase_entries,
    erase_name,
    found_team,
)

Make = Callable[..., NewEntry]


def erasure(make: Make, *entries: NewEntry, name: str = "erasure") -> NewEntry:
    """The entry that says what is erased."""
    named = ",".join(f'"{entry.id.hex()}"' for entry in entries)
    return make(
        name, kind="erasure", line=f"erasure/{name}", body=f'{{"entries":[{named}]}}'.encode(), note="asked for"
    )


@pytest.fixture
async def night(book: BookStore, team: Founded, make: Make) -> list[NewEntry]:
    """Three entries on one line."""
    night = [make("first")]
    night += [make("second", night[0].id)]
    night += [make("third", night[1].id)]
    await book.append(team.team, night)
    return night


async def test_an_erased_entry_keeps_all_but_its_content(
    book: BookStore, team: Founded, make: Make, owner_dsn: str, night: list[NewEntry], event: bytes
) -> None:
    erased, epoch = night[1], await book.access.epoch()
    before = await book.get(team.team, erased.id)
    assert before is not None
    await erase_entries(owner_dsn, team.team, erasure(make, erased), audit=event)
    after = await book.get(team.team, erased.id)
    assert after is not None
    for field in before.__dataclass_fields__:
        if field not in {"note", "body", "erased"}:
            assert getattr(after, field) == getattr(before, field), field
    assert (after.note, after.body, after.erased) == (None, b"", True)
    assert await book.document(team.team, erased.id) == (erased.content, b"")
    assert await book.access.epoch() > epoch
    assert [row.event for row in await book.access.audit(team.team, after=1, limit=9)] == [event]
    chain = bytes(32)
    for number, placed in enumerate(await book.peers.since(team.team, 0, limit=9), start=1):
        chain = sha256(chain + placed.entry.id).digest()
        assert (placed.seq, placed.chain, placed.entry.body == b"") == (number, chain, placed.entry.id == erased.id)
    assert (await book.team_head(team.team)).chain == chain
    for kept in (night[0], night[2]):
        assert await book.document(team.team, kept.id) == (kept.content, kept.body)


async def test_the_line_goes_on_after_an_erased_tip(
    book: BookStore, team: Founded, make: Make, owner_dsn: str, night: list[NewEntry], event: bytes
) -> None:
    await erase_entries(owner_dsn, team.team, erasure(make, night[2]), audit=event)
    await book.push(team.team, make("fourth", night[2].id), expected=(night[2].id,))
    assert [entry.body for entry in await book.ancestors(team.team, make("fourth").id)] == [
        make("fourth").body,
        b"",
        night[1].body,
        night[0].body,
    ]


async def test_what_was_erased_arrives_without_its_content(
    book: BookStore, team: Founded, make: Make, owner_dsn: str, event: bytes
) -> None:
    late, other = make("late"), make("other", line="car/8")
    await erase_entries(owner_dsn, team.team, erasure(make, late), audit=event)
    await book.append(team.team, [late, other])
    assert await book.document(team.team, late.id) == (late.content, b"")
    assert await book.document(team.team, other.id) == (other.content, other.body)


async def test_an_erased_entry_travels(book: BookStore, owner_dsn: str, make: Make, night: list[NewEntry]) -> None:
    other = await found_team(owner_dsn, team_name="Laptop", chief_name="Ada")
    bare = make("second", night[0].id, body=b"", note="")
    await book.append(other.team, [night[0], bare, night[2]])
    entry = await book.get(other.team, bare.id)
    assert entry is not None
    assert (entry.content, entry.note, entry.body, entry.author_name) == (bare.content, None, b"", None)


async def test_a_peers_erasure_is_carried_out_where_the_peer_is_home(
    book: BookStore, team: Founded, make: Make, night: list[NewEntry], event: bytes
) -> None:
    away = erasure(make, night[0])

    async def receive(peer: str, version: int, *, apply_erasures: bool) -> bytes:
        await book.peers.receive(
            team.team, [away], peer=peer, version=version, state=b"{}", apply_erasures=apply_erasures
        )
        document = await book.document(team.team, night[0].id)
        assert document is not None
        return document[1]

    for peer in ("shop", "friend"):
        await book.peers.set(team.team, peer, f"http://{peer}.test", state=b"{}")
    assert await receive("shop", 1, apply_erasures=True) == night[0].body  # home is here
    await book.access.set_home(team.team, "shop", audit=event)
    assert await receive("friend", 1, apply_erasures=True) == night[0].body
    assert await receive("shop", 2, apply_erasures=False) == night[0].body
    assert await receive("shop", 3, apply_erasures=True) == b""  # though the book held the erasure before


@pytest.mark.parametrize(
    "body", [b"{}", b'{"entries":"all"}', b'{"entries":["zz",7,"%s",["x"]]}' % (b"A" * 64), b"[1]", b'""']
)
async def test_an_erasure_that_names_nothing_erases_nothing(
    book: BookStore, team: Founded, make: Make, night: list[NewEntry], body: bytes
) -> None:
    await book.append(team.team, [make("odd", kind="erasure", line="erasure/odd", body=body)], apply_erasures=True)
    assert [entry.body for entry in await book.ancestors(team.team, night[2].id)] == [
        entry.body for entry in reversed(night)
    ]


async def test_erasures_stay_whole_and_only_they_erase(
    book: BookStore, team: Founded, make: Make, night: list[NewEntry]
) -> None:
    first = erasure(make, night[0])
    second = erasure(make, first, night[0], name="again")
    await book.append(team.team, [first, second], apply_erasures=True)
    for kept in (first, second):
        assert await book.document(team.team, kept.id) == (kept.content, kept.body)
    sheet = make("sheet", line="car/9", body=second.body)
    await book.append(team.team, [sheet], apply_erasures=True)
    async with book.pool.acquire() as connection:
        await connection.execute("SELECT studbook.apply_erasure($1, $2)", team.team, night[1].id)


async def test_of_an_entry_nothing_else_may_be_changed(
    book: BookStore, team: Founded, make: Make, owner_dsn: str, night: list[NewEntry]
) -> None:
    await book.append(team.team, [erasure(make, night[0])], apply_erasures=True)
    owner = await asyncpg.connect(owner_dsn)
    await owner.execute("SELECT set_config('studbook.team', $1, false)", str(team.team))
    for change, id_ in (
        ("body = NULL, note = NULL", night[1].id),  # no erasure names it
        ("body = '{}'", night[0].id),
        ("author = 'somebody'", night[0].id),
        ("chain = sha256('x')", night[0].id),
    ):
        with pytest.raises(asyncpg.PostgresError, match="what is recorded never changes") as refused:
            await owner.execute(f"UPDATE studbook.entry SET {change} WHERE team_id = $1 AND id = $2", team.team, id_)  # noqa: S608 - above
        assert refused.value.sqlstate == "SB003"
    await owner.close()


async def test_a_name_is_forgotten_and_the_id_stays(
    book: BookStore, team: Founded, owner_dsn: str, night: list[NewEntry], event: bytes
) -> None:
    await erase_name(owner_dsn, team.team, "chief", audit=event)
    assert await book.access.members(team.team) == [MemberRow("chief", "", "chief", erased=True)]
    entry = await book.get(team.team, night[0].id)
    assert entry is not None
    assert (entry.author, entry.author_name) == ("chief", "")
    assert await book.access.change_member(team.team, "chief", name="Chris", audit=event) == MemberRow(
        "chief", "Chris", "chief"
    )
    with pytest.raises(UnknownMember):
        await erase_name(owner_dsn, team.team, "nobody", audit=event)
