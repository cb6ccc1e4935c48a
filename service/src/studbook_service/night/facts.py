"""What the book holds about what records name."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from studbook.history.canonical import Tree
from studbook.history.leaves import at, is_number
from studbook_service.night.whereabouts import DatedRecord


class RevisionOrigin(NamedTuple):
    """A revision: whose car it is of, and when it was recorded by its author's clock."""

    car: str
    at_ms: int


class StudSeat(NamedTuple):
    """Where a stud goes on a car."""

    car: str
    corner: str
    slot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known; a name that is not in here is of nothing in the book.

    Attributes:
        events: their documents.
        outings: names of those that the records name.
        parts: their documents.
        tapers_deg: what is in each seat by the sheets of the cars, included angles.
        shop_records: of each part.
        jobs: kinds of jobs that there are.
        cards: the work cards of the cars, every side of split ones.
    """

    cars: frozenset[str] = frozenset()
    events: Mapping[str, Tree] = field(default_factory=dict)
    outings: frozenset[str] = frozenset()
    revisions: Mapping[str, RevisionOrigin] = field(default_factory=dict)
    parts: Mapping[str, Tree] = field(default_factory=dict)
    tapers_deg: Mapping[StudSeat, frozenset[float]] = field(default_factory=dict)
    shop_records: Mapping[str, Sequence[DatedRecord]] = field(default_factory=dict)
    jobs: frozenset[str] = frozenset()
    cards: Sequence[DatedRecord] = ()


def number(tree: Tree, *path: str) -> float | None:
    """Read a number from a document of whatever form; None where there is none.

    Example:
        >>> number({"a": {"b": 2}}, "a", "b"), number({"a": "x"}, "a")
        (2, None)
    """
    value = at(tree, path)
    return value if is_number(value) else None


def text(tree: Tree, *path: str) -> str:
    """Read text from a document of whatever form; empty where there is none.

    Example:
        >>> text({"a": 5}, "a")
        ''
    """
    value: Any = at(tree, path)
    return value if isinstance(value, str) else ""


def group(tree: Tree, *path: str) -> Tree:
    """Read a group of fields from a document of whatever form; empty where there is none.

    Example:
        >>> group({"a": {"b": 2}}, "a"), group({"a": 5}, "a")
        ({'b': 2}, {})
    """
    value: Any = at(tree, path)
    return value if isinstance(value, dict) else {}


def taper_deg(part: Tree) -> float | None:
    """Give a stud's taper as its included angle, 2 atan(t / 24) of t in per ft; None where it is not known.

    Example:
        >>> round(taper_deg({"stud": {"taper": {"in_per_ft": 1.5}}}), 2)
        7.15
    """
    given = number(part, "stud", "taper", "included_deg")
    slope = number(part, "stud", "taper", "in_per_ft")
    return given if given is not None or slope is None else 2 * math.degrees(math.atan(slope / 24))
