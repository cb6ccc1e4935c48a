"""Requests refuse members they do not know, readers of answers pass over them."""

import msgspec
import pytest

from studbook.wire.entries import Cars, NewRevision
from studbook.wire.problem import TITLES, Problem


def test_a_request_with_an_unknown_member_is_refused() -> None:
    with pytest.raises(msgspec.ValidationError, match="unknown field `notes`"):
        msgspec.json.decode(b'{"notes": "slip"}', type=NewRevision)


def test_an_answer_with_an_unknown_member_is_read() -> None:
    assert msgspec.json.decode(b'{"items": [], "later": 1}', type=Cars).items == []


def test_what_is_absent_is_not_sent() -> None:
    assert msgspec.json.encode(NewRevision(note="n")) == b'{"note":"n"}'


def test_every_problem_has_a_title() -> None:
    assert all(title and not title.endswith(".") for title in TITLES.values())
    assert (
        msgspec.json.decode(
            b'{"type":"urn:studbook:problem:stale","title":"t","status":412,"code":"stale","request_id":"r"}',
            type=Problem,
        ).code
        == "stale"
    )
