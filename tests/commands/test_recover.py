"""`studbook token recover`: a chief's token made with the owner's address, and what is recorded of it."""

import json
from pathlib import Path
from typing import Any

import pytest

from commands.opened import within
from studbook_service.commands.recover import recover
from studbook_service.store import Bearer, Founded, MemberRow, audit_event, opaque_id, secret_hash


def records(database: Any, founded: Founded) -> list[Any]:
    """Give what was recorded of access."""
    rows = within(database, lambda book: book.access.audit(founded.team, after=0, limit=100))
    return [json.loads(row.event) for row in rows]


def join(database: Any, founded: Founded, name: str, role: str = "chief") -> str:
    """Add a member; gives the id."""
    member = MemberRow(opaque_id("m"), name, role)
    recorded = audit_event(actor=founded.member, action="member.add", subject=member.id, role=role)
    within(database, lambda book: book.access.add_member(founded.team, member, audit=recorded))
    return member.id


def test_the_only_chief_gets_a_token(at_home: Founded, database: Any, capsys: Any) -> None:
    recover(database=database.owner_dsn)
    out, err = capsys.readouterr()
    bearer = within(database, lambda book: book.access.bearer(secret_hash(out.strip())))
    assert bearer is not None
    assert (bearer.member, bearer.role, bearer.name) == (at_home.member, "chief", "Chris")
    assert "opens the book to Chris as chief" in err
    assert out.strip() not in err
    recorded = records(database, at_home)
    assert (recorded[-1]["action"], recorded[-1]["actor"], recorded[-1]["subject"]) == (
        "token.make",
        "owner",
        bearer.token,
    )
    assert recorded[-1]["detail"] == {"member": at_home.member, "role": "chief", "recovered": True}
    assert out.strip() not in json.dumps(recorded)


def test_without_any_token_the_only_team_is_found(
    at_home: Founded, database: Any, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("STUDBOOK_TOKEN")
    recover(database=database.owner_dsn)
    bearer = within(database, lambda book: book.access.bearer(secret_hash(capsys.readouterr().out.strip())))
    assert bearer is not None
    assert bearer.team == at_home.team


def bearer_of(database: Any, token: bytes) -> Bearer | None:
    return within(database, lambda book: book.access.bearer(token))


def test_of_two_chiefs_one_is_named(at_home: Founded, database: Any, capsys: Any) -> None:
    ada = join(database, at_home, "Ada Lane")
    before = records(database, at_home)
    with pytest.raises(SystemExit):
        recover(database=database.owner_dsn)
    err = capsys.readouterr().err
    assert "which chief?" in err
    assert f"{ada} (Ada Lane)" in err
    assert records(database, at_home) == before
    for wanted in (ada, "Ada Lane"):
        recover(wanted, database=database.owner_dsn)
        token = secret_hash(capsys.readouterr().out.strip())
        bearer = bearer_of(database, token)
        assert bearer is not None
        assert bearer.member == ada


def test_nobody_but_a_chief_gets_one(at_home: Founded, database: Any, capsys: Any) -> None:
    robin = join(database, at_home, "Robin", "crew")
    before = records(database, at_home)
    for wanted in (robin, "Robin", "nobody"):
        with pytest.raises(SystemExit):
            recover(wanted, database=database.owner_dsn)
        assert f"no chief is {wanted}" in capsys.readouterr().err
    assert records(database, at_home) == before


def test_it_takes_the_owners_address(at_home: Founded, database: Any, capsys: Any) -> None:
    before = records(database, at_home)
    with pytest.raises(SystemExit):
        recover()
    assert "owns the tables" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        recover(database=database.serving_dsn)
    assert "permission denied" in capsys.readouterr().err
    assert records(database, at_home) == before


def test_a_folder_without_a_book_stays_empty(capsys: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STUDBOOK_DATABASE", "")
    with pytest.raises(SystemExit):
        recover(data=tmp_path)
    assert f"there is no book in {tmp_path}: " in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_away_from_home_it_opens_the_copy_here(at_home: Founded, database: Any, capsys: Any) -> None:
    recorded = audit_event(actor="owner", action="home.set", subject="home")
    within(database, lambda book: book.access.set_home(at_home.team, "shop", audit=recorded))
    recover("Chris", database=database.owner_dsn)
    bearer = within(database, lambda book: book.access.bearer(secret_hash(capsys.readouterr().out.strip())))
    assert bearer is not None
    assert bearer.role == "chief"
