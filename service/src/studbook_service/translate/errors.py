"""Why a document cannot be answered about."""

from collections.abc import Sequence

from studbook.wire.answers import Missing
from studbook.wire.problem import FieldFault


class Unanswerable(Exception):
    """There is no answer about a document, or about one subject of it."""

    def missing_for(self, subject: str) -> list[Missing]:
        """Say why a subject is missing from a longer answer."""
        return [Missing(subject=subject, fields=[], why=str(self))]


class FieldsMissing(Unanswerable):
    """The document lacks fields that the whole answer needs.

    Attributes:
        missing: each subject with the fields it lacks.
    """

    def __init__(self, missing: Sequence[Missing]) -> None:
        super().__init__(missing)
        self.missing = list(missing)

    def __str__(self) -> str:
        """Say what is missing in one line."""
        return "; ".join(f"{each.subject} needs {', '.join(each.fields)}" for each in self.missing)

    def missing_for(self, subject: str) -> list[Missing]:
        """Give what is missing under the subjects that lack it."""
        del subject
        return self.missing


class FieldsUnfit(Unanswerable):
    """The document holds values that nothing can be computed from; only an entry from another book can.

    Attributes:
        faults: each field with its value and bound.
    """

    def __init__(self, faults: Sequence[FieldFault]) -> None:
        super().__init__(faults)
        self.faults = list(faults)

    def __str__(self) -> str:
        """Give the first fault."""
        return self.faults[0].detail


class CannotClose(Unanswerable):
    """The linkage cannot be assembled: the message names the corner, the travel reached and the rod that ran out."""


class TooCostly(Exception):
    """A search or table would have to compute more than it may; nothing was begun.

    Attributes:
        cost, most: what it would come to, and the bound.
        unit: what is counted.
        advice: what to request instead.

    Example:
        >>> str(TooCostly(9, 4, "poses", "take larger steps"))
        '9 poses would have to be computed, 4 may be: take larger steps'
    """

    def __init__(self, cost: int, most: int, unit: str, advice: str) -> None:
        super().__init__(cost, most, unit, advice)
        self.cost, self.most, self.unit, self.advice = cost, most, unit, advice

    def __str__(self) -> str:
        """Say the figures in one line, with what to request instead."""
        return f"{self.cost:,} {self.unit} would have to be computed, {self.most:,} may be: {self.advice}"


def refuse_costly(cost: int, *, most: int, unit: str, advice: str) -> None:
    """Refuse what comes to more than may be computed for one request.

    Raises:
        TooCostly: it does.
    """
    if cost > most:
        raise TooCostly(cost, most, unit, advice)
