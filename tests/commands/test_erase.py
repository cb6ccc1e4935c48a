"""`studbook erase`: with the owner's address, at home, after the reason was typed; and what is left of it."""

import io
import json
from typing import Any

import pytest

from commands.opened import within
from exchange.making import run
from studbook_service.actions.team_book import TeamBook, entry_in
from studbook_service.commands.erase import erase
from studbook_service.exchange.book import ExchangedEntry
from studbook_service.exchange.checking import verify
from studbook_service.exchange.erasures import KIND
from studbook_service.store import BookStore, Founded, audit_event


@pytest.fixture
def made(at_home: Founded, database: Any) -> list[ExchangedEntry]:
    """Three revisions in the book."""
    entries = list(run(3, author=at_home.member))
    within(database, lambda book: book.append(at_home.team, [entry_in(each) for each in entries]))
    return entries


def types(monkeypatch: pytest.MonkeyPatch, line: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(line))


def test_content_is_gone_and_all_else_stands(
    at_home: Founded, made: list[ExchangedEntry], database: Any, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    types(monkeypatch, "Robin asked for it\n")
    erase(entry=[made[0].id[:8], made[2].id], database=database.owner_dsn)
    out = capsys.readouterr().out
    assert made[0].id[:12] in out
    assert "turn 0" in out
    assert "car/7/sheet/baseline" in out
    assert "cannot be undone" in out
    assert "2 erased" in out

    async def found(book: BookStore) -> Any:
        own = TeamBook(book, at_home.team)
        assert not (await verify(own)).faults
        return await own.since(0, most=10), await book.access.audit(at_home.team, after=0, limit=10)

    placed, rows = within(database, found)
    assert [each.entry.body for each in placed[:3]] == [b"", made[1].body, b""]
    assert [each.entry.id for each in placed[:3]] == [each.id for each in made]
    erasure = placed[3].entry
    assert (erasure.header.kind, erasure.header.author, erasure.note) == (KIND, "owner", "Robin asked for it")
    record = json.loads(rows[-1].event)
    assert (record["action"], record["actor"], record["subject"]) == (
        "entries.erase",
        "owner",
        "entries",
    )
    assert record["detail"] == {"entries": [made[0].id, made[2].id], "erasure": erasure.id}


@pytest.mark.parametrize("line", ["", "\n", "   \n", "x" * 2001 + "\n", "a\x1b[2Jb\n"])
def test_without_a_reason_nothing_is_erased(
    at_home: Founded, made: list[ExchangedEntry], database: Any, capsys: Any, monkeypatch: pytest.MonkeyPatch, line: str
) -> None:
    types(monkeypatch, line)
    with pytest.raises(SystemExit):
        erase(entry=[made[0].id], database=database.owner_dsn)
    assert "nothing was erased" in capsys.readouterr().err
    document = within(database, lambda book: book.document(at_home.team, bytes.fromhex(made[0].id)))
    assert document is not None
    assert document[1] == made[0].body


def test_a_name_is_gone_and_the_id_stays(
    at_home: Founded, made: list[ExchangedEntry], database: Any, capsys: Any
) -> None:
    erase(member=at_home.member, reason="Chris asked for it", database=database.owner_dsn)
    assert "Chris" in capsys.readouterr().out

    async def found(book: BookStore) -> Any:
        entry = await book.get(at_home.team, bytes.fromhex(made[0].id))
        return await book.access.members(at_home.team), entry, await book.access.audit(at_home.team, after=0, limit=9)

    [member], entry, rows = within(database, found)
    assert (member.name, member.erased, member.role) == ("", True, "chief")
    assert (entry.author, entry.author_name or "") == (at_home.member, "")
    record = json.loads(rows[-1].event)
    assert (record["action"], record["subject"]) == ("member.erase", at_home.member)
    assert "Chris " not in json.dumps([json.loads(row.event) for row in rows[:-1]])


@pytest.mark.parametrize(
    ("words", "because"),
    [
        ({}, "say what to erase"),
        ({"entry": ["abcdef"], "member": "chief"}, "say what to erase"),
        ({"entry": ["xyz"]}, "is not 6 to 64"),
        ({"entry": ["0123456789"]}, "no entry begins"),
        ({"member": "nobody"}, "no member is nobody"),
    ],
)
def test_what_cannot_be_erased_says_why(
    made: list[ExchangedEntry], database: Any, capsys: Any, words: Any, because: str
) -> None:
    assert made
    with pytest.raises(SystemExit):
        erase(**words, reason="asked for", database=database.owner_dsn)
    assert because in capsys.readouterr().err


def test_it_takes_the_owners_address(made: list[ExchangedEntry], database: Any, capsys: Any) -> None:
    with pytest.raises(SystemExit):
        erase(entry=[made[0].id], reason="asked for")
    assert "owns the tables" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        erase(entry=[made[0].id], reason="asked for", database=database.serving_dsn)
    assert "permission denied" in capsys.readouterr().err


def test_an_erasure_is_not_erased(made: list[ExchangedEntry], database: Any, capsys: Any) -> None:
    erase(entry=[made[0].id], reason="asked for", database=database.owner_dsn)
    gone = capsys.readouterr().out.split()[-1]
    with pytest.raises(SystemExit):
        erase(entry=[gone], reason="asked for", database=database.owner_dsn)
    assert "is an erasure" in capsys.readouterr().err


def test_it_is_done_at_home_alone(at_home: Founded, made: list[ExchangedEntry], database: Any, capsys: Any) -> None:
    recorded = audit_event(actor="owner", action="home.set", subject="home")
    within(database, lambda book: book.access.set_home(at_home.team, "shop", audit=recorded))
    with pytest.raises(SystemExit):
        erase(entry=[made[0].id], reason="asked for", database=database.owner_dsn)
    assert "do it at shop" in capsys.readouterr().err
