"""`studbook token new`: members by id or name, laptops, and what is recorded of it."""

import asyncio
import json
from typing import Any

import pytest

from studbook_service.commands.token import new
from studbook_service.store import Bearer, Founded, MemberRow, audit_event, open_book, secret_hash


def read(database: Any, founded: Founded, token: str | None = None) -> tuple[Bearer | None, list[Any], list[Any]]:
    """Give the bearer of a token, the members, and what was recorded."""

    async def reading() -> tuple[Bearer | None, list[Any], list[Any]]:
        book = await open_book(database.serving_dsn)
        try:
            bearer = None if token is None else await book.access.bearer(secret_hash(token))
            rows = await book.access.audit(founded.team, after=0, limit=100)
            return bearer, await book.access.members(founded.team), [json.loads(row.event) for row in rows]
        finally:
            await book.close()

    return asyncio.run(reading())


def test_somebody_new_gets_an_id_that_says_nothing(at_home: Founded, database: Any, capsys: Any) -> None:
    new("Ada Lane")
    out, err = capsys.readouterr()
    bearer, members, told = read(database, at_home, out.strip())
    assert bearer is not None
    assert (bearer.role, bearer.name) == ("crew", "Ada Lane")
    assert bearer.member.startswith("m-")
    assert bearer.member in err
    assert MemberRow(bearer.member, "Ada Lane", "crew") in members
    assert [(each["action"], each["actor"], each["subject"]) for each in told[-2:]] == [
        ("member.add", at_home.member, bearer.member),
        ("token.make", at_home.member, bearer.token),
    ]
    assert out.strip() not in json.dumps(told)
    assert "Ada" not in json.dumps(told)


def test_a_member_known_by_name_or_id_gets_another(at_home: Founded, database: Any, capsys: Any) -> None:
    new("Ada Lane")
    first = capsys.readouterr().out.strip()
    new("Ada Lane", role="viewer")
    second = capsys.readouterr().out.strip()
    one, members, _ = read(database, at_home, first)
    other, _, _ = read(database, at_home, second)
    assert one is not None
    assert other is not None
    assert (one.member, one.role, other.role) == (other.member, "crew", "viewer")
    new(one.member)
    third, after, _ = read(database, at_home, capsys.readouterr().out.strip())
    assert third is not None
    assert (third.member, third.role, after) == (one.member, "crew", members)


def test_somebody_whose_entries_carry_an_id_keeps_it(at_home: Founded, database: Any, capsys: Any) -> None:
    new("Ada", id="ada")
    bearer, _, _ = read(database, at_home, capsys.readouterr().out.strip())
    assert bearer is not None
    assert (bearer.member, bearer.name) == ("ada", "Ada")


def test_a_laptop_is_called_what_it_is_called(at_home: Founded, database: Any, capsys: Any) -> None:
    new("pits", role="node", protected=True, introduces=True)
    out, err = capsys.readouterr()
    bearer, _, told = read(database, at_home, out.strip())
    assert bearer is not None
    assert (bearer.member, bearer.role, bearer.protected, bearer.introduces) == ("pits", "node", True, True)
    assert told[-1]["detail"] == {"member": "pits", "role": "node", "protected": True, "introduces": True}
    assert not err


@pytest.mark.parametrize(
    ("words", "because"),
    [
        ({"member": "Ada", "role": "boss"}, "no role"),
        ({"member": "The Pits", "role": "node"}, "no id"),
        ({"member": "x", "id": "merge"}, "nobody in particular"),
        ({"member": "x", "id": "owner"}, "nobody in particular"),
        ({"member": "Chris", "protected": True}, "laptop"),
        ({"member": "Chris", "role": "node"}, "laptop"),
    ],
)
def test_what_makes_no_token_says_why(at_home: Founded, database: Any, capsys: Any, words: Any, because: str) -> None:
    before = read(database, at_home)
    with pytest.raises(SystemExit):
        new(**words)
    assert because in capsys.readouterr().err
    assert read(database, at_home) == before


def test_only_a_chief_makes_tokens(at_home: Founded, capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    new("Robin")
    monkeypatch.setenv("STUDBOOK_TOKEN", capsys.readouterr().out.strip())
    with pytest.raises(SystemExit):
        new("Sam")
    assert "a chief does" in capsys.readouterr().err
    assert at_home.team


def test_away_from_home_no_laptop_gets_a_token(at_home: Founded, database: Any, capsys: Any) -> None:
    async def leave() -> None:
        book = await open_book(database.serving_dsn)
        await book.access.set_home(
            at_home.team, "shop", audit=audit_event(actor="owner", action="home.set", subject="home")
        )
        await book.close()

    asyncio.run(leave())
    for words in ({"member": "pits", "role": "node"}, {"member": "Robin"}):
        with pytest.raises(SystemExit):
            new(**words)
        assert "decided at shop" in capsys.readouterr().err
    new("Chris")
    bearer, _, _ = read(database, at_home, capsys.readouterr().out.strip())
    assert bearer is not None
    assert bearer.role == "chief"
