"""Many at once. The full counts are in the benchmark."""

import asyncio
from collections.abc import Callable
from hashlib import sha256
from typing import Any

from studbook_service.store import BookStore, Founded, NewEntry, PushOutcome, StaleTips, open_book

Make = Callable[..., NewEntry]
LINE = "car/7/sheet/baseline"
PUSHERS, ROUNDS = 64, 6


async def attempt(
    book: BookStore, team: Founded, entry: NewEntry, expected: tuple[bytes, ...]
) -> PushOutcome | StaleTips:
    """Push, and hand back being too late as a value."""
    try:
        return await book.push(team.team, entry, expected=expected, key=entry.id.hex(), fingerprint=entry.id)
    except StaleTips as stale:
        return stale


async def test_of_64_on_one_tip_exactly_one_wins(book: BookStore, team: Founded, make: Make, database: Any) -> None:
    expected: tuple[bytes, ...] = ()
    winners: list[bytes] = []
    wide = await open_book(database.serving_dsn, size=32)
    for number in range(ROUNDS):
        entries = [make(f"{number}/{pusher}", *expected) for pusher in range(PUSHERS)]
        results = await asyncio.gather(*(attempt(wide, team, entry, expected) for entry in entries))
        won = [result for result in results if isinstance(result, PushOutcome)]
        assert [(one.seq, one.generation, one.replayed) for one in won] == [(number + 1, number, False)]
        expected = (won[0].id,)
        assert all(result.tips == expected for result in results if isinstance(result, StaleTips))
        winners.append(won[0].id)
    await wide.close()
    history = await book.history(team.team, LINE)
    assert [head.id for head in reversed(history)] == winners
    chain = bytes(32)
    for id_ in winners:
        chain = sha256(chain + id_).digest()
    head = await book.team_head(team.team)
    assert (head.seq, head.chain) == (ROUNDS, chain)


async def test_one_key_sent_50_times_at_once_makes_one_entry(book: BookStore, team: Founded, make: Make) -> None:
    entries = [make(f"copy {number}", at_ms=number) for number in range(50)]  # each retry has an id of its own
    results = await asyncio.gather(
        *(book.push(team.team, entry, expected=(), key="k", fingerprint=b"same") for entry in entries)
    )
    assert len({result.id for result in results}) == 1
    assert sum(not result.replayed for result in results) == 1
    assert (await book.team_head(team.team)).seq == 1


async def test_pushes_and_appends_of_two_lines_never_block_each_other_for_good(
    book: BookStore, team: Founded, make: Make
) -> None:
    roots = [make(f"root {line}", line=f"car/{line}") for line in range(8)]
    await book.append(team.team, roots)
    pushes = [book.push(team.team, make(f"p{n}", r.id, line=r.line), expected=(r.id,)) for n, r in enumerate(roots)]
    appends = [
        book.append(team.team, [make(f"a{n}-{r.line}", r.id, line=r.line) for r in roots[:: 1 if n % 2 else -1]])
        for n in range(8)
    ]
    results = await asyncio.gather(*pushes, *appends, return_exceptions=True)
    assert {type(result) for result in results} <= {PushOutcome, list, StaleTips}
    head = await book.team_head(team.team)
    pushed = sum(isinstance(result, PushOutcome) for result in results)
    assert head.seq == len(roots) + pushed + 8 * len(roots)


async def test_sequence_numbers_are_in_commit_order(book: BookStore, team: Founded, make: Make) -> None:
    """Whoever sees number n sees every number below it."""
    stop = asyncio.Event()

    async def write(line: int) -> None:
        tips: tuple[bytes, ...] = ()
        number = 0
        while not stop.is_set():
            pushed = await book.push(team.team, make(f"{line}/{number}", *tips, line=f"car/{line}"), expected=tips)
            tips, number = (pushed.id,), number + 1

    writers = [asyncio.create_task(write(line)) for line in range(4)]
    for _ in range(50):
        async with book.pool.acquire() as connection, connection.transaction():
            await connection.execute("SELECT set_config('studbook.team', $1, true)", str(team.team))
            seen = await connection.fetchrow("SELECT count(*), coalesce(max(seq), 0) FROM studbook.entry")
        assert seen[0] == seen[1]
    stop.set()
    await asyncio.gather(*writers)
