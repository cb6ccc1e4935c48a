"""Where a part was and when, by its shop records in the order of their times.

`fitted` and `moved` bring a part to a place, `removed` takes it off a car, `scrapped` ends it. Where a part is and what
it ran is derived whenever somebody asks; nothing of it is stored, so a late record or a correction needs no repair. A
part fitted to a second car with no removal stays on both, flagged, until somebody corrects a record.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from studbook.history.canonical import Tree


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedRecord:
    """One shop record or work card, or one side of a split one.

    Attributes:
        name: `PART/DATE-WHAT-N`, or `CAR/DATE-HHMM` of a card.
        tip: its entry's id, hex; empty of one that is not recorded yet.
        at_ms: when it was done; of a card when it was recorded.
    """

    name: str
    tip: str
    at_ms: int
    body: Tree

    @property
    def what(self) -> Any:
        """What was done."""
        return self.body.get("what")

    @property
    def place(self) -> Tree:
        """Where, as far as it is recorded."""
        place = self.body.get("place")
        return place if isinstance(place, dict) else {}


@dataclass(frozen=True, slots=True)
class Stay:
    """A part at one place for a time.

    Attributes:
        until_ms: None while it is there.
        record: the one that brought it there.
    """

    place: Tree
    since_ms: int
    until_ms: int | None
    record: DatedRecord

    def holds(self, at_ms: int) -> bool:
        """Say whether it was there at a time."""
        return self.since_ms <= at_ms and (self.until_ms is None or at_ms < self.until_ms)


class Clash(NamedTuple):
    """Two records of a part that cannot both be true: `later` is impossible after `earlier`."""

    earlier: DatedRecord
    later: DatedRecord
    why: str


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """A part's way through its places."""

    stays: Sequence[Stay]
    clashes: Sequence[Clash]
    scrapped: bool

    def now(self) -> list[Stay]:
        """Give where it is; several where its records clash."""
        return [stay for stay in self.stays if stay.until_ms is None]

    def at(self, at_ms: int) -> list[Stay]:
        """Give where it was."""
        return [stay for stay in self.stays if stay.holds(at_ms)]


@dataclass(frozen=True, slots=True)
class PartHistory:
    """A part with its shop records in order."""

    part: str
    document: Tree
    records: Sequence[DatedRecord]
    where: Whereabouts


def by_time(records: Iterable[DatedRecord]) -> list[DatedRecord]:
    """Sort records by when they happened."""
    return sorted(records, key=lambda each: (each.at_ms, each.name, each.tip))


def whereabouts(records: Iterable[DatedRecord]) -> Whereabouts:
    """Derive where a part was.

    Example:
        >>> on_7 = DatedRecord(name="s/1", tip="", at_ms=1, body={"what": "fitted", "place": {"car": "7"}})
        >>> on_12 = DatedRecord(name="s/2", tip="", at_ms=2, body={"what": "fitted", "place": {"car": "12"}})
        >>> whereabouts([on_12, on_7]).clashes[0].why
        'it is on car 7 since s/1'
    """
    open_: list[Stay] = []
    closed: list[Stay] = []
    clashes: list[Clash] = []
    scrap: DatedRecord | None = None
    for each in by_time(records):
        if each.what not in ("fitted", "moved", "removed", "scrapped"):
            continue
        if scrap is not None and each.what in ("fitted", "moved"):
            clashes.append(Clash(scrap, each, f"it was scrapped by {scrap.name}"))
        elsewhere = [stay for stay in open_ if each.what == "fitted" and _other_car(stay.place, each.place)]
        clashes += (
            Clash(s.record, each, f"it is on car {s.place.get('car')} since {s.record.name}") for s in elsewhere
        )
        closed += (replace(stay, until_ms=each.at_ms) for stay in open_ if stay not in elsewhere)
        open_ = [*elsewhere]
        if each.what == "scrapped":
            scrap, closed, open_ = each, [*closed, *(replace(s, until_ms=each.at_ms) for s in open_)], []
        else:
            open_.append(Stay(_place(each), each.at_ms, None, each))
    return Whereabouts([*closed, *open_], clashes, scrap is not None)


def part_history(part: str, document: Tree, records: Sequence[DatedRecord]) -> PartHistory:
    """Give a part with its records in order and where it was.

    Example:
        >>> part_history("s-041", {"kind": "stud"}, []).where.now()
        []
    """
    return PartHistory(part, document, by_time(records), whereabouts(records))


def _place(record: DatedRecord) -> Tree:
    if record.place.get("where"):
        return record.place
    return {"where": "car" if record.place.get("car") else "shelf", **record.place}


def _other_car(held: Tree, wanted: Tree) -> bool:
    return bool(held.get("car") and wanted.get("car") and held["car"] != wanted["car"])
