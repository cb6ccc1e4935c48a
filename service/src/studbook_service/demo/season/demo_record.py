"""One record of the season, before it is in a book."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from studbook.history.canonical import Tree
from studbook_service.demo.scenario import DemoStep


@dataclass(frozen=True)
class DemoRecord:
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
    raced: DemoStep | None = None


@dataclass(frozen=True, kw_only=True)
class DemoCard(DemoRecord):
    """A work card: started, ticked off job by job, and signed.

    Attributes:
        since: the step that the car comes from; `raced` is the one that the card leads to.
        ticks: what each job is ticked off with, when, by whom.
        signed: when, by whom.
    """

    since: DemoStep
    ticks: Sequence[tuple[str, dt.datetime, str, Tree]]
    signed: tuple[dt.datetime, str]


def written(at: dt.datetime) -> str:
    """Write a time as records do.

    Example:
        >>> written(dt.datetime(2026, 5, 2, 18, 30, tzinfo=dt.UTC))
        '2026-05-02T18:30:00Z'
    """
    return at.isoformat().replace("+00:00", "Z")
