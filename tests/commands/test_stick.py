"""`studbook stick`: a book written is the book read; what is no book is refused before one begins."""

import asyncio
from pathlib import Path
from typing import Any

import pytest

from exchange.making import BOOK, run
from exchange.test_version import SENTENCE, stream
from studbook.wire.exchange import VERSION, Head
from studbook_service.commands.node import open_node, read_settings
from studbook_service.commands.stick import read, write
from studbook_service.exchange.frames import Writer
from studbook_service.store import Founded


def fill(count: int, author: str) -> None:
    """Record some revisions."""

    async def filling() -> None:
        async with open_node(read_settings(None, None)) as node:
            await node.book.append(run(count, author=author))

    asyncio.run(filling())


def test_a_book_is_written_and_read(at_home: Founded, capsys: Any, tmp_path: Path) -> None:
    fill(3, at_home.member)
    file = tmp_path / "book.file"
    write(file)
    assert capsys.readouterr().out.startswith(f"3 entries in {file}, ")
    assert file.stat().st_mode & 0o777 == 0o600
    assert [each.name for each in tmp_path.iterdir()] == ["book.file"]
    read(file)
    assert capsys.readouterr().out == "0 entries are new here\n"


@pytest.mark.parametrize(
    ("data", "because"),
    [
        (None, "there is no file"),
        (b"", "it ends too soon"),
        (b"no book at all", "is no book that `studbook stick write` wrote"),
        (stream(), SENTENCE),
    ],
    ids=["no file", "empty", "something else", "before 0.2"],
)
def test_what_is_no_book_begins_none(capsys: Any, tmp_path: Path, data: bytes | None, because: str) -> None:
    file, folder = tmp_path / "book.file", tmp_path / "data"
    if data is not None:
        file.write_bytes(data)
    with pytest.raises(SystemExit):
        read(file, data=folder)
    assert because in capsys.readouterr().err
    assert not folder.exists()


def test_another_teams_book_is_refused(at_home: Founded, capsys: Any, tmp_path: Path) -> None:
    fill(1, at_home.member)
    writer = Writer()
    writer.add(Head(v=VERSION, book=BOOK))
    file = tmp_path / "book.file"
    file.write_bytes(writer.finish())
    with pytest.raises(SystemExit):
        read(file)
    assert "another team's book" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["no folder/book.file", "."])
def test_where_nothing_can_be_written_says_so(capsys: Any, tmp_path: Path, name: str) -> None:
    with pytest.raises(SystemExit):
        write(tmp_path / name)
    assert "cannot be written" in capsys.readouterr().err


def test_nothing_is_written_through_a_link(at_home: Founded, capsys: Any, tmp_path: Path) -> None:
    fill(1, at_home.member)
    precious, stick = tmp_path / "precious", tmp_path / "stick"
    precious.write_text("mine")
    stick.mkdir()
    (stick / "book.file.part").symlink_to(precious)
    write(stick / "book.file")
    assert [each.name for each in stick.iterdir()] == ["book.file"]
    (stick / "other.file").symlink_to(precious)
    with pytest.raises(SystemExit):
        write(stick / "other.file")
    assert "name an ordinary file" in capsys.readouterr().err
    assert precious.read_text() == "mine"
