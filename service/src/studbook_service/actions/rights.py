"""Who may do what: one table. What is not in it nobody may.

An operation bears the name of its handler. `viewer`, `crew` and `chief` are people, each of whom may what the one
before may; `node` is a laptop that exchanges; `share` is another team that was shown a car or a sheet.
"""

from collections.abc import Iterable, Mapping
from typing import Final

from studbook.wire.records import KINDS
from studbook_service.actions.refusals import Refusal
from studbook_service.store import Bearer

_PEOPLE: Final = frozenset({"viewer", "crew", "chief"})
_MEMBERS: Final = _PEOPLE | {"node"}
ROLES: Final = _MEMBERS | {"share"}
"""All there are."""

_RECORDING: Final = frozenset({"crew", "chief"})
_EXCHANGING: Final = frozenset({"node", "chief"})
_DECIDING: Final = frozenset({"chief"})

RIGHTS: Final[Mapping[str, frozenset[str]]] = {
    "read_me": ROLES,
    "list_cars": ROLES,
    "read_car": ROLES,
    "list_sheets": ROLES,
    "read_sheet": ROLES,
    "read_history": ROLES,
    "read_revision": ROLES,
    "read_document": ROLES,
    "read_changes": ROLES,
    "read_front": ROLES,
    "read_rear": ROLES,
    "read_joints": ROLES,
    "read_damping": ROLES,
    "read_loads": ROLES,
    "read_sensitivity": ROLES,
    "read_work": _PEOPLE,
    "read_jobs": _PEOPLE,
    "read_effects": ROLES,
    "try_edits": _PEOPLE,
    "try_attitude": _PEOPLE,
    "try_cornering": _PEOPLE,
    "try_race": _PEOPLE,
    "try_check": _PEOPLE,
    "read_check_findings": _PEOPLE,
    "read_session_weights": _PEOPLE,
    "search_studs": _PEOPLE,
    "search_carry_over": _PEOPLE,
    "search_perches": _PEOPLE,
    "add_car": _RECORDING,
    "change_car": _RECORDING,
    "push_revision": _RECORDING,
    "accept_merge": _RECORDING,
    "exchange_entries": _EXCHANGING,
    "list_peers": _MEMBERS,
    "sync_peer": _RECORDING,
    "list_tokens": _MEMBERS,
    "end_token": _MEMBERS,
    "make_token": _DECIDING,
    "list_members": _DECIDING,
    "add_member": _DECIDING,
    "change_member": _DECIDING,
    "list_shares": _DECIDING,
    "make_share": _DECIDING,
    "end_share": _DECIDING,
    "protect_sheet": _DECIDING,
    "unprotect_sheet": _DECIDING,
    "read_audit": _DECIDING,
    "read_shelf": _MEMBERS,
    "list_tables": _PEOPLE,
    "export_table": _PEOPLE,
    "report_season": _PEOPLE,
    **{operation: _MEMBERS for kind in KINDS.values() for operation in kind.reading},
    **{operation: _RECORDING for kind in KINDS.values() for operation in kind.writing},
}
"""Roles by operation. Of tokens, who is no chief sees and ends their own."""

PUBLIC: Final = frozenset({"live", "ready", "measure", "describe", "show_page", "show_file"})
"""What asks for no token."""

ANY_SHEET: Final = _DECIDING
"""Who records on protected sheets too."""


def check_complete(operations: Iterable[str]) -> None:
    """Make sure that it was decided for each operation who may.

    Args:
        operations: names of all that are served.

    Raises:
        RuntimeError: some have no row, or some rows no operation.
    """
    served, decided = set(operations), RIGHTS.keys() | PUBLIC
    if served != decided:
        undecided, unserved = sorted(served - decided), sorted(decided - served)
        raise RuntimeError(f"nobody decided who may {undecided}; rows for nothing served: {unserved}")


def refuse_unless_allowed(bearer: Bearer, operation: str) -> None:
    """Refuse a bearer who may not do this.

    Raises:
        Refusal: `not_allowed`.
    """
    if bearer.role in RIGHTS.get(operation, ()):
        return
    held = (
        "a share shows a car or a sheet, and no more" if bearer.role == "share" else f"a {bearer.role} may not do that"
    )
    raise Refusal("not_allowed", held)
