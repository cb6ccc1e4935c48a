"""The chain of the audit record, set against hashes made here with hashlib and json alone."""

import datetime as dt
import hashlib
import json
from typing import Any

import msgspec
import pytest

from studbook.cli.audit_chain import check_chain
from studbook.wire.access import AuditLine

LINES: list[dict[str, Any]] = [
    {"action": "team.found", "actor": "owner", "at": 1_780_000_000_000, "subject": "m-aaaaaaaaaa"},
    {
        "action": "member.add",
        "actor": "m-aaaaaaaaaa",
        "at": 1_780_000_000_001,
        "detail": {"name": "Zoë", "role": "crew"},
        "subject": "m-bbbbbbbbbb",
    },
    {"action": "token.end", "actor": "m-aaaaaaaaaa", "at": 1_780_000_060_999, "subject": "0123456789ab"},
]
"""Invented."""


@pytest.fixture
def record() -> list[AuditLine]:
    chain, made = bytes(32), []
    for seq, line in enumerate(LINES, start=1):
        said = json.dumps(line, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        chain = hashlib.sha256(chain + said).digest()
        at = dt.datetime.fromtimestamp(0, dt.UTC) + dt.timedelta(milliseconds=line["at"])
        made.append(AuditLine(seq=seq, chain=chain.hex(), **{**line, "at": at}))
    return made


def test_a_record_as_it_was_written_fits(record: list[AuditLine]) -> None:
    walked = check_chain(record, head=record[1].chain[:12])
    assert (walked.lines, walked.head, walked.broken, walked.noted) == (3, record[-1].chain, None, 2)


@pytest.mark.parametrize(
    ("place", "change"),
    [
        (0, {"subject": "m-cccccccccc"}),
        (1, {"detail": {"name": "Zoë", "role": "chief"}}),
        (1, {"detail": {}}),
        (1, {"at": dt.datetime(2026, 1, 1, tzinfo=dt.UTC)}),
        (2, {"actor": "owner"}),
        (2, {"chain": "0" * 64}),
        (2, {"seq": 4}),
    ],
)
def test_a_line_that_was_changed_is_named(record: list[AuditLine], place: int, change: dict[str, Any]) -> None:
    record[place] = msgspec.structs.replace(record[place], **change)
    walked = check_chain(record)
    assert (walked.lines, walked.broken) == (place, record[place])


def test_a_line_that_is_gone_or_put_in_is_noticed_where_it_was(record: list[AuditLine]) -> None:
    assert check_chain([record[0], record[2]]).broken == record[2]
    assert check_chain(record[1:]).broken == record[1]
    assert check_chain([record[0], record[0], *record[1:]]).lines == 1


def test_a_record_that_was_cut_short_fits_but_has_lost_its_head(record: list[AuditLine]) -> None:
    walked = check_chain(record[:2], head=record[2].chain)
    assert (walked.broken, walked.noted) == (None, None)


def test_a_service_that_tells_another_record_is_found_out(run: Any, small_book: Any, record: list[AuditLine]) -> None:
    def told(lines: list[AuditLine]) -> tuple[int, str, str]:
        small_book.answers["/v1/audit"] = {"items": msgspec.to_builtins(lines)}
        done: tuple[int, str, str] = run("audit", "verify")
        return done

    assert told(record)[:2] == (
        0,
        f"3 lines, each fits the one before\nHead, to note down elsewhere: {record[-1].chain}\n",
    )
    code, out, err = told([record[0], msgspec.structs.replace(record[1], subject="m-cccccccccc"), record[2]])
    assert (code, out) == (1, "")
    assert err.startswith("studbook: line 2 does not fit (")
    assert "member.add m-cccccccccc" in err
    assert "lines before it that fit: 1" in err
