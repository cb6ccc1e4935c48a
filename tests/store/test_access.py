"""Tokens and members."""

from datetime import UTC, datetime, timedelta

import pytest

from studbook_service.store import Bearer, Book, Founded, Member, MemberExists, UnknownMember, mint, secret_hash


async def test_the_first_token_is_the_chiefs(book: Book, team: Founded) -> None:
    bearer = await book.access.bearer(secret_hash(team.token))
    assert bearer == Bearer(team.team, "chief", "chief", "Chris", None)
    assert await book.access.members(team.team) == [Member("chief", "Chris", "chief")]


async def test_a_token_lives_until_it_expires_or_is_revoked(book: Book, team: Founded) -> None:
    access, now = book.access, datetime.now(UTC)
    await access.add_member(team.team, Member("sam", "Sam", "crew"))
    hashes = [secret_hash(mint()) for _ in range(3)]
    for hash_, expires in zip(hashes, (None, now + timedelta(hours=1), now - timedelta(seconds=1)), strict=True):
        await access.add_token(
            team.team, secret_hash=hash_, member="sam", role="viewer", label="phone", expires=expires
        )
    assert [await access.bearer(hash_) for hash_ in hashes] == [
        Bearer(team.team, "sam", "viewer", "Sam", None),
        Bearer(team.team, "sam", "viewer", "Sam", now + timedelta(hours=1)),
        None,
    ]
    assert await access.revoke_token(team.team, hashes[0])
    assert await access.bearer(hashes[0]) is None
    assert not await access.revoke_token(team.team, hashes[0])
    assert await access.bearer(secret_hash(mint())) is None


async def test_every_change_advances_the_epoch(book: Book, team: Founded) -> None:
    access = book.access
    epochs = [await access.epoch()]
    await access.add_member(team.team, Member("sam", "Sam", "crew"))
    epochs.append(await access.epoch())
    await access.add_token(team.team, secret_hash=secret_hash(mint()), member="sam", role="crew", label="")
    epochs.append(await access.epoch())
    await access.revoke_token(team.team, secret_hash(team.token))
    epochs.append(await access.epoch())
    assert epochs == sorted(set(epochs))
    assert await access.epoch() == epochs[-1]


async def test_members_and_their_tokens_fit_together(book: Book, team: Founded) -> None:
    with pytest.raises(MemberExists):
        await book.access.add_member(team.team, Member("chief", "Again", "crew"))
    with pytest.raises(UnknownMember):
        await book.access.add_token(team.team, secret_hash=secret_hash(mint()), member="nobody", role="crew", label="")
