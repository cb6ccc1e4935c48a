"""Ids: recomputed here from their definition with another canonicalizer, and held to golden hashes."""

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from studbook.history.canonical import UnrecordableError, canonical, encode
from studbook.history.ids import Header, check_line, entry_id, hash_content, tips_tag
from studbook.history.leaves import leaves
from studbook.wire.fields import check, unknown

# Frozen from 0.2.0 on: another id means another rule, which needs another version. All content is invented.
GOLDEN = json.loads((Path(__file__).parents[1] / "golden" / "ids.json").read_text())


def sha256(value: Any) -> str:
    return hashlib.sha256(rfc8785.dumps(value)).hexdigest()


@pytest.mark.parametrize("case", GOLDEN["contents"], ids=lambda case: case["name"])
def test_content_ids_are_golden(case: dict[str, Any]) -> None:
    body = canonical(case["body"])
    assert hash_content(note=case["note"], body=encode(body)) == case["id"]
    assert case["id"] == sha256({"note": case["note"], "body": body})


@pytest.mark.parametrize("case", GOLDEN["entries"], ids=lambda case: case["name"])
def test_entry_ids_are_golden(case: dict[str, Any]) -> None:
    assert entry_id(Header(**case["header"] | {"parents": tuple(case["header"]["parents"])})) == case["id"]


def test_the_whole_golden_setup_is_known_field_by_field() -> None:
    [whole] = (case["body"] for case in GOLDEN["contents"] if case["name"] == "whole setup")
    assert len(leaves(whole)) > 600
    assert not check(whole)
    assert not unknown(whole)


def test_a_content_id_is_the_hash_of_note_and_body() -> None:
    assert hash_content(note="é", body=encode({"a": 1.5})) == sha256({"note": "é", "body": {"a": 1.5}})


def test_an_entry_id_is_the_hash_of_its_header() -> None:
    header = Header(
        kind="sheet",
        line="car/7/sheet/baseline",
        parents=("b" * 64, "a" * 64),
        author="m1",
        at=1_770_000_000_000,
        content="c" * 64,
        carried_from="d" * 64,
    )
    said = {
        "v": 1,
        "kind": "sheet",
        "line": "car/7/sheet/baseline",
        "parents": ["a" * 64, "b" * 64],
        "author": "m1",
        "at": 1_770_000_000_000,
        "content": "c" * 64,
        "from": "d" * 64,
    }
    # The time in ms is beyond the document's bound on numbers, but a whole number that JSON holds exactly.
    assert entry_id(header) == sha256(said)


@pytest.mark.parametrize("line", ["car", "car/", "car/A", "car/7/", "/car/7", "car//7", "car/7 ", "a/" * 9 + "a"])
def test_a_line_is_slugs(line: str) -> None:
    with pytest.raises(UnrecordableError, match=r"^line: .* is not slugs") as caught:
        check_line(line)
    assert caught.value.path == ("line",)


def test_a_tag_is_of_the_tips_alone() -> None:
    assert tips_tag(["a", "b"]) == tips_tag(["b", "a"]) == hashlib.sha256(b"a,b").hexdigest()[:32]
