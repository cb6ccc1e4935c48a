"""A season's report as tidy tables, one for each subject: for `as_arrow`, for CSV, for lines of JSON.

Columns and units are read off the report's Structs. The team's own rows have no `car`; of parts and money they are
only those that no car has, so that nothing is counted twice.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, Literal, NamedTuple, get_origin

from msgspec import UNSET, Struct

from studbook.history.canonical import encode
from studbook.history.leaves import Path, dotted, is_number
from studbook.wire.entries import LeafChange
from studbook.wire.export import Column, ColumnType, Row, Table
from studbook.wire.fields import bare_type, catalog
from studbook.wire.season import (
    CarSeason,
    Comparison,
    LogNote,
    OutingReport,
    PartLife,
    RevisionNote,
    SeasonReport,
    Spent,
    TeamSeason,
    TrackRecord,
    WorkTime,
)
from studbook.wire.shelf import PreloadRead

RowSource = Iterable[tuple[Row, Struct]]
"""Cells that say whose a row is, and the Struct that it is made of."""


class Laid(NamedTuple):
    """A table and its rows."""

    table: Table
    rows: list[Row]


def season_tables(report: SeasonReport) -> dict[str, Laid]:
    """Lay a report out as tables, by name.

    Example::
        tables = season_tables(book.season())
        outings = to_polars(*tables["season_outings"])
    """
    return {each.table.name: Laid(each.table, [each.row(*found) for found in each.find(report)]) for each in _SUBJECTS}


@dataclass(frozen=True)
class _Subject:
    """How a table is made of a report.

    Attributes:
        of: the Struct that a row is made of.
        find: gives these, each with its cells of the columns before.
        before: columns that say whose a row is.
        key: columns whose cells differ in every row.
        without: members of the Struct that have a table of their own.
    """

    name: str
    about: str
    of: type[Struct]
    find: Callable[[SeasonReport], RowSource]
    before: tuple[Column, ...]
    key: tuple[str, ...]
    without: tuple[str, ...] = ()

    @cached_property
    def table(self) -> Table:
        columns = [*self.before, *(column for _, column in self.cells)]
        return Table(name=f"season_{self.name}", about=self.about, key=[*self.key], columns=columns)

    @cached_property
    def cells(self) -> list[tuple[Path, Column]]:
        fields = (field for path, field in catalog(self.of).items() if path[0] not in self.without)
        return [cell for field in fields for cell in _columns(field.path, field.form, field.unit, field.about)]

    def row(self, whose: Row, of: Struct) -> Row:
        cells = {column.name: _spelled(_at(of, path), column.type) for path, column in self.cells}
        return {name: value for name, value in (whose | cells).items() if value not in (UNSET, None, "")}


def _columns(path: Path, form: Any, unit: str, about: str) -> Iterator[tuple[Path, Column]]:
    """Give a member's column; where it may be anything, one of JSON, and one of the number where it is one."""
    bare = bare_type(form)
    yield path, Column(name=dotted(path), type=_type(bare), about=about, unit=unit or UNSET)
    if bare is Any:
        yield path, Column(name=f"{dotted(path)}_number", type="number", about="in `unit`, where it is a number")


def _type(bare: Any) -> ColumnType:
    return "text" if get_origin(bare) is Literal else _TYPES.get(bare, "json")


def _at(of: Any, path: Path) -> Any:
    for step in path:
        if of is UNSET:
            break
        of = getattr(of, step)
    return of


def _spelled(value: Any, type_: ColumnType) -> Any:
    """Give a cell; UNSET for an empty one."""
    if value is UNSET or (type_ == "json" and value in ([], {})):
        return UNSET
    if type_ == "json":
        return encode(value).decode()
    if type_ == "number":
        return float(value) if is_number(value) else UNSET
    return value


_TYPES: Final[dict[Any, ColumnType]] = {
    str: "text",
    bool: "flag",
    int: "integer",
    float: "number",
    dt.datetime: "time",
}


def _whose(report: SeasonReport) -> Iterator[tuple[str, CarSeason | TeamSeason]]:
    """Give each car's season, and the team's under no name."""
    yield from ((car.car, car) for car in report.cars)
    if report.team is not UNSET:
        yield "", report.team


def _outings(report: SeasonReport) -> Iterator[tuple[Row, OutingReport]]:
    for car in report.cars:
        for night in car.nights:
            of: Row = {"car": car.car, "event": night.event, "track": night.track}
            of |= {"place": night.place, "surface": night.surface}
            for ran in night.outings:
                tires = {f"tire_laps.{corner}": ran.tire_laps.get(corner, UNSET) for corner in _CORNERS}
                yield of | tires, ran


def _of_outings(member: str) -> Callable[[SeasonReport], RowSource]:
    """Find what a member of the outings lists."""

    def find(report: SeasonReport) -> RowSource:
        for of, ran in _outings(report):
            whose = {"car": of["car"], "outing": ran.outing, "since": ran.since}
            yield from ((whose, each) for each in getattr(ran, member))

    return find


def _of_seasons(member: str) -> Callable[[SeasonReport], RowSource]:
    """Find what a member of the cars' seasons lists, and the team's."""

    def find(report: SeasonReport) -> RowSource:
        for car, of in _whose(report):
            yield from (({"car": car}, each) for each in getattr(of, member))

    return find


def _parts(report: SeasonReport) -> Iterator[tuple[Row, PartLife]]:
    seen: set[str] = set()
    for car, of in _whose(report):
        yield from (({"car": car}, life) for life in of.parts if car or life.part not in seen)
        seen.update(life.part for life in of.parts)


def _preloads(report: SeasonReport) -> RowSource:
    """Give each reading once, though a part ran on two cars."""
    reads = {(life.part, read.record): read for _, of in _whose(report) for life in of.parts for read in life.preloads}
    return (({"part": part}, read) for (part, _), read in reads.items())


def _money(report: SeasonReport) -> RowSource:
    seen: set[tuple[str, str, str]] = set()
    for car, of in _whose(report):
        for spent in of.money.items:
            once = (spent.part, spent.what, spent.record)
            if once not in seen:
                seen.add(once)
                yield {"car": car}, spent


def _tracks(report: SeasonReport) -> RowSource:
    return (({"car": car.car}, each) for car in report.cars for each in car.tracks)


def _work(report: SeasonReport) -> RowSource:
    return (({"car": car.car}, car.work) for car in report.cars)


_CORNERS: Final = ("lf", "rf", "lr", "rr")
_CAR: Final = (Column(name="car", type="text"),)
_OUTING: Final = (
    *_CAR,
    Column(name="outing", type="text"),
    Column(name="since", type="text", about="the outing that it is compared with"),
)
_NIGHT: Final = (
    *(Column(name=name, type="text") for name in ("car", "event", "track", "place", "surface")),
    *(Column(name=f"tire_laps.{corner}", type="integer", unit="count", about="run before") for corner in _CORNERS),
)
_PART: Final = (Column(name="part", type="text"),)
_LISTED: Final = ("changes", "revisions", "logs", "tire_laps")
_PATH, _REVISION, _LOG = ("outing", "path"), ("outing", "revision"), ("outing", "log")
_TRACK, _COMPARISON = ("car", "track", "track_state"), ("car", "path", "track_state")

_SUBJECTS: Final = (
    _Subject("outings", "each outing and its pace", OutingReport, _outings, _NIGHT, ("outing",), _LISTED),
    _Subject("changes", "each field changed for an outing", LeafChange, _of_outings("changes"), _OUTING, _PATH),
    _Subject("revisions", "recorded up to the one raced", RevisionNote, _of_outings("revisions"), _OUTING, _REVISION),
    _Subject("logs", "in no revision that led to the one raced", LogNote, _of_outings("logs"), _OUTING, _LOG),
    _Subject("tracks", "best and worst by track and state: what was", TrackRecord, _tracks, _CAR, _TRACK),
    _Subject("comparisons", "what one change alone did", Comparison, _of_seasons("comparisons"), _CAR, _COMPARISON),
    _Subject("parts", "what each part ran", PartLife, _parts, _CAR, ("car", "part"), ("preloads",)),
    _Subject("preloads", "each preload reading as a torque", PreloadRead, _preloads, _PART, ("part", "record")),
    _Subject("money", "each part paid for", Spent, _money, _CAR, ("part", "what", "record")),
    _Subject("work", "work done, by what each job takes", WorkTime, _work, _CAR, ("car",)),
)
