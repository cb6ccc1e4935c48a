"""Why a document cannot be answered about."""

from collections.abc import Sequence
from typing import Any

from studbook.wire.answers import Missing
from studbook.wire.problem import FieldFault


class FieldsMissingError(Exception):
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


class FieldsUnfitError(Exception):
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


class CannotCloseError(Exception):
    """The linkage cannot be assembled: the message names the corner, the travel reached and the rod that ran out."""


class TooManyError(Exception):
    """A search would have to try more than it may: the message says how many, and of what."""
