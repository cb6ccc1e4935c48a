"""Who may do what: the roles on an operation's row say it. What has no row is not served, so nobody may."""

from typing import Any

from studbook.wire.operations.row import Operation
from studbook_service.actions.refusals import Refusal
from studbook_service.store import Bearer


def refuse_unless_allowed(bearer: Bearer, operation: Operation[Any]) -> None:
    """Refuse a bearer who may not do this.

    Raises:
        Refusal: `not_allowed`.
    """
    if bearer.role not in operation.roles:
        of_share = "a share shows a car or a sheet, and no more"
        raise Refusal("not_allowed", of_share if bearer.role == "share" else f"a {bearer.role} may not do that")
