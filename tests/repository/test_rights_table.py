"""README's table of rights is the one that the operations' rows make."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.row import DECIDING, Operation

ROOT = Path(__file__).parents[2]
ROLES = {"viewer": "viewer", "crew": "crew", "chief": "chief", "node": "node, a laptop", "share": "share, another team"}
Chosen = Callable[[Operation[Any]], bool]

_TRIED = ("try_", "search_", "list_tables", "export_table", "report_", "read_work", "read_jobs")
_OF_TRIED = ("read_check_findings", "read_session_weights")
_RECORDED = ("add_", "change_", "push_", "accept_")
_DECIDED = ("/v1/members", "/v1/shares", "/v1/audit")


def decided(row: Operation[Any]) -> bool:
    """Whether it is about access."""
    return row.path.startswith(_DECIDED) or row.path.endswith("/protection") or row.name == "make_token"


def tried(row: Operation[Any]) -> bool:
    """Whether it computes what the book does not hold, or lays the whole book out."""
    of_records = row.name.startswith("read_work_done")
    return not of_records and (row.name.startswith(_TRIED) or row.name in _OF_TRIED)


def recorded(row: Operation[Any]) -> bool:
    """Whether it adds an entry."""
    return row.name.startswith(_RECORDED) and not decided(row)


def shown(row: Operation[Any]) -> bool:
    """Whether it shows a car or a sheet, or who asks."""
    cars = ("/v1/cars", "/v1/revisions", "/v1/me")
    return row.method == "GET" and (row.path in cars or row.path.startswith(tuple(f"{each}/" for each in cars)))


def syncs(row: Operation[Any]) -> bool:
    """Whether it lets this service exchange with a peer."""
    return row.name == "sync_peer"


WHAT: dict[str, Chosen] = {
    "reads cars, sheets and revisions, and what is computed of them": lambda row: shown(row) and not tried(row),
    "reads records, shelf and peers; lists and ends own tokens": lambda row: (
        row.path != "/v1/exchange" and not any((shown(row), tried(row), recorded(row), decided(row), syncs(row)))
    ),
    "tries changes, searches; work cards, season, tables": tried,
    "records": recorded,
    "asks for a sync": syncs,
    "exchanges entries, as a node": lambda row: row.path == "/v1/exchange",
    "members, tokens, shares, protection, audit": decided,
}


def table() -> str:
    """The table as README has it."""
    guarded = [row for row in OPERATIONS if not row.public]
    lines = [line("who", list(ROLES.values())), line("---", ["---"] * len(ROLES))]
    for what, chosen in WHAT.items():
        rows = [row for row in guarded if chosen(row)]
        assert rows, f"no operation {what}"
        rights = {row.roles for row in rows}
        assert len(rights) == 1, f"of {what}, not all may be done by the same roles"
        [roles] = rights
        lines.append(line(what, [cell(role, role in roles) for role in ROLES]))
        if what == "records":
            on_protected = ["yes" if role in DECIDING else "with `--protected`" * (role == "node") for role in ROLES]
            lines.append(line("records on protected sheets", on_protected))
    return "\n".join(lines)


def cell(role: str, may: bool) -> str:  # noqa: FBT001 - it is what is shown
    """One place of the table."""
    return ("what is shared" if role == "share" else "yes") if may else ""


def line(first: str, cells: list[str]) -> str:
    """One line of the table."""
    return "|" + "|".join(f" {each} " if each else " " for each in (first, *cells)) + "|"


def test_every_operation_stands_in_one_line_of_it() -> None:
    for row in OPERATIONS:
        lines = [what for what, chosen in WHAT.items() if chosen(row)]
        assert row.public or len(lines) == 1, f"{row.name} stands in {lines}"


def test_readme_says_what_the_rows_say() -> None:
    made = table()
    assert made in (ROOT / "README.md").read_text(encoding="utf-8"), f"README's table of rights is to be:\n{made}"
