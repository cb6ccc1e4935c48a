"""One record of the season, before it has gone into a book."""

import datetime as dt
from dataclasses import dataclass

from studbook.history.canonical import Tree
from studbook_service.demo.scenario import Step


@dataclass(frozen=True)
class Entered:
    """One record, and who entered it when.

    Attributes:
        name: what follows its kind's root in its line.
        raced: the step whose revision goes into the document as `revision`.
    """

    kind: str
    name: str
    at: dt.datetime
    by: str
    document: Tree
    raced: Step | None = None


def written(at: dt.datetime) -> str:
    """Write a time as records do.

    Example:
        >>> written(dt.datetime(2026, 5, 2, 18, 30, tzinfo=dt.UTC))
        '2026-05-02T18:30:00Z'
    """
    return at.isoformat().replace("+00:00", "Z")
