"""What the book tells of a season, as plain values."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from studbook.history.canonical import Tree
from studbook.wire.night import Outing
from studbook.wire.shop import Log
from studbook_service.night.moments import DAY_MS
from studbook_service.night.stays import Told


@dataclass(frozen=True, slots=True, kw_only=True)
class Raced:
    """A revision.

    Attributes:
        car: whose; empty where it is of no car's sheet.
        body: its document in canonical JSON; empty where it was erased.
    """

    car: str
    at_ms: int
    note: str
    body: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A revision without its document.

    Attributes:
        sheet: such as `7/baseline`.
        generation: 0 for a sheet's first, else one more than the highest parent's.
        author_name: empty where nobody knows the name.
    """

    sheet: str
    parents: Sequence[str] = ()
    generation: int = 0
    at_ms: int = 0
    note: str = ""
    author: str = ""
    author_name: str = ""
    carried_from: str = ""
    erased: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Out:
    """One outing.

    Attributes:
        at_ms: when it began; without a time when it was entered, or at the end of its event's UTC day.
        timed: it has a time of its own.
        flags: what about it cannot be.
    """

    name: str
    event: str
    car: str
    run: str
    at_ms: int
    timed: bool
    record: Outing
    flags: Sequence[str] = ()

    @property
    def laps(self) -> int:
        """Laps run, as far as it says."""
        return self.record.laps or len(self.record.lap_times_s or ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """A log entry: from then on the car was not as a revision says that does not come of it.

    Attributes:
        day: on the clock that it was read from.
        timed: it has a time of its own; without one `at_ms` is the beginning of its day.
        record: as it was logged.
    """

    name: str
    car: str
    at_ms: int
    day: dt.date | None = None
    timed: bool = True
    record: Log = field(default_factory=Log)

    @property
    def latest_ms(self) -> int:
        """The last moment that it may be of."""
        return self.at_ms if self.timed else self.at_ms + DAY_MS - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """All that the report is made of.

    Attributes:
        names: of the cars.
        events: their documents.
        outs: all outings of the book, whatever was asked for: tires and parts have run before.
        revisions: those that outings or work cards name.
        heads: all of the sheets that were raced.
        parts: their documents by tag.
        shop: their records, every side of split ones.
        work: work cards by name.
        cards: the same, every side of split ones.
        own: the team's times.
        logged: log entries with changes.
        car: the one asked for.
        since, to: days asked for.
    """

    names: Mapping[str, str]
    events: Mapping[str, Tree] = field(default_factory=dict)
    outs: Sequence[Out] = ()
    revisions: Mapping[str, Raced] = field(default_factory=dict)
    heads: Mapping[str, Head] = field(default_factory=dict)
    parts: Mapping[str, Tree] = field(default_factory=dict)
    shop: Mapping[str, Sequence[Told]] = field(default_factory=dict)
    work: Mapping[str, Tree] = field(default_factory=dict)
    cards: Sequence[Told] = ()
    own: Tree = field(default_factory=dict)
    logged: Sequence[Logged] = ()
    car: str | None = None
    since: dt.date | None = None
    to: dt.date | None = None

    def holds(self, day: dt.date | None) -> bool:
        """Say whether a day is in the season asked for."""
        if day is None:
            return self.since is None and self.to is None
        return (self.since is None or self.since <= day) and (self.to is None or day <= self.to)

    def of(self, car: str) -> list[Out]:
        """Give all of a car's outings in order: one in the season is told against what ran before it."""
        return in_order(out for out in self.outs if out.car == car)


_KINDS: Final = ("test", "practice", "hot_laps", "qualifying", "heat", "b_main", "feature")
"""As a night goes (common practice, no source)."""


def track(event: str) -> str:
    """Give the track in an event's name, which is its date and its place.

    Example:
        >>> track("2026-05-02-north")
        'north'
    """
    return event[11:]


def in_order(outs: Iterable[Out]) -> list[Out]:
    """Sort outings by night and time; a night in which one has no time by their kinds, as a night goes.

    Example:
        >>> in_order([])
        []
    """
    nights: dict[str, list[Out]] = {}
    for out in outs:
        nights.setdefault(out.event, []).append(out)
    return [out for event in sorted(nights) for out in sorted(nights[event], key=_place(nights[event]))]


def _place(night: Sequence[Out]) -> Callable[[Out], tuple[int, str]]:
    if all(out.timed for out in night):
        return lambda out: (out.at_ms, out.name)
    return lambda out: (_KINDS.index(out.record.kind) if out.record.kind in _KINDS else len(_KINDS), out.name)
