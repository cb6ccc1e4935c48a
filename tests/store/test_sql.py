"""The loader of named statements, and the file it loads."""

import re
from pathlib import Path

import pytest

import studbook_service.store
from studbook_service.store.migrating import known_schema
from studbook_service.store.sql import QUERIES, parse

STORE = Path(studbook_service.store.__file__).parent


def test_blocks_are_split_at_their_names() -> None:
    text = "-- about\n\n-- name: one\n-- kept\nSELECT 1\n\n-- name: two_2\nSELECT\n    2\n"
    assert parse(text) == {"one": "-- kept\nSELECT 1", "two_2": "SELECT\n    2"}


@pytest.mark.parametrize("text", ["-- name: a\nSELECT 1\n-- name: a\nSELECT 2\n", "-- name: a\n-- name: b\nSELECT 1\n"])
def test_a_name_stands_for_one_statement(text: str) -> None:
    with pytest.raises(ValueError, match="statement"):
        parse(text)


def test_every_statement_is_used() -> None:
    code = "".join(file.read_text(encoding="utf-8") for file in STORE.glob("*.py"))
    assert {name for name in QUERIES if not re.search(rf"[\"']{name}[\"']", code)} == set()


def test_the_parts_replace_what_they_make() -> None:
    """A plain CREATE runs once, and fails at the upgrade after."""
    for name, text in known_schema().parts.items():
        plain = re.findall(r"^CREATE (?!OR REPLACE )(.+)$", text, re.MULTILINE | re.IGNORECASE)
        assert plain == [], f"{name}: write CREATE OR REPLACE"


def test_the_codes_of_our_errors_are_listed_once() -> None:
    parts = "\n".join(known_schema().parts.values())
    raised = set(re.findall(r"ERRCODE = '(SB\d{3})'", parts))
    listed = [code for line in re.findall(r"^--   .*$", parts, re.MULTILINE) for code in re.findall(r"SB\d{3}", line)]
    assert listed
    assert sorted(listed) == sorted(raised), "the list is at the head of schema/writing.sql"
    named = set(re.findall(r"SB\d{3}", (STORE / "errors.py").read_text(encoding="utf-8")))
    assert named == raised - {"SB003"}  # a fault of ours, which no caller can act on
