"""Who may do what: one table. What is not in it nobody may.

An operation bears the name of its handler. `viewer`, `crew` and `chief` are people, each of whom may what the one
before may; `node` is a laptop that exchanges; `share` is another team that was shown a car or a sheet.
"""

from collections.abc import Iterable, Mapping
from typing import Final

from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.row import DECIDING
from studbook_service.actions.refusals import Refusal
from studbook_service.store import Bearer

RIGHTS: Final[Mapping[str, frozenset[str]]] = {row.name: row.roles for row in OPERATIONS}

ANY_SHEET: Final = DECIDING
"""Who records on protected sheets too."""


def check_complete(operations: Iterable[str]) -> None:
    """Make sure that it was decided for each operation who may.

    Args:
        operations: names of all that are served.

    Raises:
        RuntimeError: some have no row, or some rows no operation.
    """
    served, decided = set(operations), RIGHTS.keys()
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
