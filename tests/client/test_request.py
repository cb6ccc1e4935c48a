"""What follows from a row of the table of operations: address, key, precondition, and whether it may be repeated."""

import re
from typing import Any

import pytest

from studbook import BadReferenceError
from studbook.core import flows
from studbook.core.call import Call
from studbook.core.request import call
from studbook.wire.entries import Request
from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.records import RECORD_OPERATIONS
from studbook.wire.operations.row import Operation

NOT_THE_CLIENTS = {"exchange_entries", "live", "measure", "describe", "show_page", "show_file"}
ONCE = {"add_member", "make_token", "make_share", "sync_peer", "ready"}

ROWS = [row for row in OPERATIONS if row.name not in NOT_THE_CLIENTS]


def made(row: Operation[Any], **given: Any) -> Call[Any]:
    steps = ["7"] * len(re.findall(r"\{", row.path))
    return next(call(row, *steps, body=Request() if row.body else None, **given))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_a_call_follows_from_its_row(row: Operation[Any]) -> None:
    seen = "t1" if "If-Match" in row.sends else None
    one, other = made(row, seen=seen), made(row, seen=seen)
    assert one.path == re.sub(r"\{\w+\}", "7", row.path)
    assert one.repeatable == (row.name not in ONCE)
    assert ("Idempotency-Key" in one.headers) == ("Idempotency-Key" in row.sends)
    if "Idempotency-Key" in one.headers:
        assert one.headers["Idempotency-Key"] != other.headers["Idempotency-Key"]
    assert one.headers.get("If-Match") == (f'"{seen}"' if seen else None)
    assert "If-None-Match" not in one.headers
    assert (one.headers.get("Content-Type"), one.body) == (("application/json", b"{}") if row.body else (None, None))


def test_a_line_that_was_not_seen_must_not_exist() -> None:
    [row] = [row for row in ROWS if row.name == "push_revision"]
    assert made(row).headers["If-None-Match"] == "*"
    assert "If-Match" not in made(row).headers


def test_every_operation_has_a_flow() -> None:
    modules = [getattr(flows, name) for name in flows.__all__]
    used = {row.name for module in modules for row in vars(module).values() if isinstance(row, Operation)}
    of_kinds = {
        row.name
        for of in RECORD_OPERATIONS.values()
        for row in (of.listing, of.adding, of.reading, of.changing, of.history)
    }
    assert used | of_kinds == {row.name for row in ROWS}


@pytest.mark.parametrize("step", ["../cars", "", "A", "7/a", "7?", "%2e"])
def test_a_step_is_a_name(step: str) -> None:
    [row] = [row for row in ROWS if row.name == "read_car"]
    with pytest.raises(BadReferenceError, match="is no name"):
        call(row, step)
