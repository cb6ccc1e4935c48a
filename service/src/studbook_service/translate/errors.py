"""Why a document cannot be answered about."""

from collections.abc import Sequence
from typing import Any

from studbook.wire.answers import Missing
from studbook.wire.problem import FieldFault


class FieldsMissing(Exception):
    """The document lacks fields that the whole answer needs.

    Attributes:
        missing: each subject with the fields it lacks.
    """

    def __init__(self, missing: Sequence[Missing]) -> None:
        """Keep what is missing and say it in one line."""
        self.missing = list(missing)
        super().__init__("; ".join(f"{each.subject} needs {', '.join(each.fields)}" for each in missing))

    def __reduce__(self) -> tuple[Any, ...]:
        """Let it travel between processes."""
        return type(self), (self.missing,)


class FieldsUnfit(Exception):
    """The document holds values no answer can be computed from; only an entry from another book can.

    Attributes:
        faults: each field with its value and bound.
    """

    def __init__(self, faults: Sequence[FieldFault]) -> None:
        """Keep the faults and say the first in one line."""
        self.faults = list(faults)
        super().__init__(self.faults[0].detail)

    def __reduce__(self) -> tuple[Any, ...]:
        """Let it travel between processes."""
        return type(self), (self.faults,)


class CannotClose(Exception):
    """The linkage cannot be assembled: the message names the corner, the travel reached and the rod that ran out."""


class TooCostly(Exception):
    """A search or table would have to compute more than it may; nothing was begun.

    Attributes:
        cost, most: what it would come to, and the bound.
        unit: what is counted.
    """

    def __init__(self, cost: int, *, most: int, unit: str, advice: str) -> None:
        """Keep the figures and say them in one line with what to ask for instead."""
        super().__init__(f"{cost:,} {unit} would have to be computed, {most:,} may be: {advice}")
        self.cost, self.most, self.unit, self.advice = cost, most, unit, advice

    def __reduce__(self) -> tuple[Any, ...]:
        """Let it travel between processes."""
        return _too_costly, (self.cost, self.most, self.unit, self.advice)


def _too_costly(cost: int, most: int, unit: str, advice: str) -> TooCostly:
    return TooCostly(cost, most=most, unit=unit, advice=advice)


def refuse_costly(cost: int, *, most: int, unit: str, advice: str) -> None:
    """Refuse what comes to more than may be computed for one request.

    Raises:
        TooCostly: it does.

    Example:
        >>> refuse_costly(9, most=4, unit="poses", advice="take larger steps")
        Traceback (most recent call last):
        studbook_service.translate.errors.TooCostly: 9 poses would have to be computed, 4 may be: take larger steps
    """
    if cost > most:
        raise TooCostly(cost, most=most, unit=unit, advice=advice)
