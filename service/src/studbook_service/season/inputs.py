"""What a season's report is made of, read from the book, as plain values."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from studbook.history.canonical import Tree
from studbook.wire.night import Outing
from studbook.wire.shop import Log
from studbook_service.night.times import DAY_MS
from studbook_service.night.whereabouts import DatedRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class RacedRevision:
    """A revision that an outing or a work card names.

    Attributes:
        car: whose; empty where it is of no car's sheet.
        body: its document in canonical JSON; empty where it was erased.
    """

    car: str
    at_ms: int
    note: str
    body: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionHead:
    """A revision of a sheet that was raced, without its document.

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
class RecordedOuting:
    """One outing.

    Attributes:
        at_ms: when it began; without a time when it was entered, or at the end of its event's UTC day.
        timed: it has a time of its own.
        flags: what in its record is impossible.
    """

    name: str
    event: str
    car: str
    run: str
    at_ms: int
    timed: bool
    document: Outing
    flags: Sequence[str] = ()

    @property
    def laps(self) -> int:
        """Laps run, as far as it is recorded."""
        return self.document.laps or len(self.document.lap_times_s or ())


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonLog:
    """A log entry: from its time on the car differs from every revision that does not include it.

    Attributes:
        day: on the clock that it was read from.
        timed: it has a time of its own; without one `at_ms` is the beginning of its day.
    """

    name: str
    car: str
    at_ms: int
    day: dt.date | None = None
    timed: bool = True
    document: Log = field(default_factory=Log)

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
        outings: all of the book, whatever the report covers: tires and parts have run before.
        revisions: those that outings or work cards name.
        heads: all of the sheets that were raced.
        parts: their documents by tag.
        shop_records: of each part, every side of split ones.
        cards: documents of work cards by name.
        card_records: the same, every side of split ones.
        own_times: the team's own times for jobs.
        logs: log entries with changes.
        car: the one that the report is about; None for all.
        since, to: the days that it covers.
    """

    names: Mapping[str, str]
    events: Mapping[str, Tree] = field(default_factory=dict)
    outings: Sequence[RecordedOuting] = ()
    revisions: Mapping[str, RacedRevision] = field(default_factory=dict)
    heads: Mapping[str, RevisionHead] = field(default_factory=dict)
    parts: Mapping[str, Tree] = field(default_factory=dict)
    shop_records: Mapping[str, Sequence[DatedRecord]] = field(default_factory=dict)
    cards: Mapping[str, Tree] = field(default_factory=dict)
    card_records: Sequence[DatedRecord] = ()
    own_times: Tree = field(default_factory=dict)
    logs: Sequence[SeasonLog] = ()
    car: str | None = None
    since: dt.date | None = None
    to: dt.date | None = None

    def holds(self, day: dt.date | None) -> bool:
        """Say whether a day is among those that the report covers."""
        if day is None:
            return self.since is None and self.to is None
        return (self.since is None or self.since <= day) and (self.to is None or day <= self.to)

    def of(self, car: str) -> list[RecordedOuting]:
        """Give all of a car's outings in order; the first of the season is compared with one before it."""
        return in_order(outing for outing in self.outings if outing.car == car)


_KINDS: Final = ("test", "practice", "hot_laps", "qualifying", "heat", "b_main", "feature")
"""As a night goes (common practice, no source)."""


def track(event: str) -> str:
    """Give the track in an event's name, which is its date and its place.

    Example:
        >>> track("2026-05-02-north")
        'north'
    """
    return event[11:]


def in_order(outings: Iterable[RecordedOuting]) -> list[RecordedOuting]:
    """Sort outings by night and time; a night in which one has no time by their kinds, as a night goes.

    Example:
        >>> in_order([])
        []
    """
    nights: dict[str, list[RecordedOuting]] = {}
    for outing in outings:
        nights.setdefault(outing.event, []).append(outing)
    return [outing for event in sorted(nights) for outing in sorted(nights[event], key=_place(nights[event]))]


def _place(night: Sequence[RecordedOuting]) -> Callable[[RecordedOuting], tuple[int, str]]:
    if all(outing.timed for outing in night):
        return lambda outing: (outing.at_ms, outing.name)
    return lambda outing: (
        _KINDS.index(outing.document.kind) if outing.document.kind in _KINDS else len(_KINDS),
        outing.name,
    )
