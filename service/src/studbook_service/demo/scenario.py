"""The scenario as data: base documents and dated edits, read from the TOML files beside this module.

Dates are kept as days before the demo runs: the text `day-12`, or `day-12T18:30`, stands for a date or a time.
"""

import datetime as dt
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import leaves, steps

_DAY = re.compile(r"day-(\d+)(T\d{2}:\d{2})?")


@dataclass(frozen=True)
class DemoCar:
    """A car of the team and the sheets kept of it, the main one first."""

    slug: str
    name: str
    number: str
    sheets: tuple[str, ...]


@dataclass(frozen=True)
class DemoTeam:
    """The team: members by id with the chief among them, and its cars."""

    name: str
    chief: str
    members: Mapping[str, str]
    cars: tuple[DemoCar, ...]


@dataclass(frozen=True)
class DemoStep:
    """An entry that the crew recorded.

    Attributes:
        document: the whole document after this step.
        changes: what this step changed; empty for a sheet's first.
        carried_from: the sheet that this was carried from, in its state then: of this car by its name, `CAR/SHEET` of
            another.
        fields: what was carried; the whole document if none are named.
    """

    car: str
    sheet: str
    at: dt.datetime
    by: str
    note: str
    document: Tree
    changes: tuple[FieldChange, ...] = ()
    carried_from: str | None = None
    fields: tuple[str, ...] = ()


def team() -> DemoTeam:
    """Read who they are and what they race.

    Example:
        >>> [car.slug for car in team().cars]
        ['7', '21', '12']
    """
    read = toml("team.toml")
    cars = (DemoCar(slug, each["name"], each["number"], tuple(each["sheets"])) for slug, each in read["cars"].items())
    return DemoTeam(read["name"], read["chief"], read["members"], tuple(cars))


def base(car: str, *, today: dt.date) -> Tree:
    """Give a car's first document: its survey, what was fitted, and what was read that day.

    Args:
        car: slug of one of the team's cars.
        today: the day that `day-0` stands for.

    Example:
        >>> base("7", today=dt.date(2026, 5, 2))["survey"]["date"]
        '2026-03-22'
    """
    parts: Tree = {}
    for part in ("survey", "setup", "measured"):
        parts |= toml(f"cars/{car}/{part}.toml")
    document: Tree = _dated(canonical(parts), today)
    return document


def story(car: DemoCar, *, today: dt.date) -> list[DemoStep]:
    """Give everything recorded about a car, in order of time, each step with the document it led to.

    Times are UTC; the last lies before `today` begins.

    Example:
        >>> [step.by for step in story(team().cars[0], today=dt.date(2026, 5, 2))][:3]
        ['ada', 'jules', 'robin']
    """
    rows = [(sheet, each) for sheet in car.sheets for each in toml(f"cars/{car.slug}/{sheet}.toml")["revision"]]
    rows.sort(key=lambda pair: (-pair[1]["day"], pair[1]["time"]))
    documents: dict[str, Tree] = {}
    found = []
    for sheet, each in rows:
        at, carried, fields = moment(each, today), each.get("carried_from"), tuple(each.get("fields", ()))
        changes = tuple(_carried(carried, fields, at, today) if fields else _changes(each, today))
        begun = documents.get(sheet) or documents.get(carried) or base(car.slug, today=today)
        documents[sheet] = apply(changes, begun)
        found.append(
            DemoStep(car.slug, sheet, at, each["by"], each["note"], documents[sheet], changes, carried, fields)
        )
    return found


def moment(row: Tree, today: dt.date) -> dt.datetime:
    """Give when something was done of a row with `day` and `time`.

    Example:
        >>> moment({"day": 2, "time": dt.time(18, 30)}, dt.date(2026, 5, 2)).isoformat()
        '2026-04-30T18:30:00+00:00'
    """
    return dt.datetime.combine(today - dt.timedelta(days=row["day"]), row["time"], dt.UTC)


def _carried(source: str, fields: tuple[str, ...], at: dt.datetime, today: dt.date) -> Iterator[FieldChange]:
    """Take fields from another car's sheet in its state at a time."""
    slug, _, sheet = source.partition("/")
    other = next(car for car in team().cars if car.slug == slug)
    page = [step.document for step in story(other, today=today) if step.sheet == sheet and step.at < at][-1]
    for path, value in leaves(page).items():
        if any(path[: len(root)] == root for root in map(steps, fields)):
            yield FieldChange(path, after=value)


def _changes(row: Tree, today: dt.date) -> Iterator[FieldChange]:
    for path, value in row.get("set", {}).items():
        yield FieldChange(steps(path), after=_dated(canonical(value), today))
    for path in row.get("remove", ()):
        yield FieldChange(steps(path))


def _dated(value: Any, today: dt.date) -> Any:
    """Put dates where the text says how many days before the demo."""
    if isinstance(value, dict):
        return {key: _dated(item, today) for key, item in value.items()}
    if isinstance(value, str) and (match := _DAY.fullmatch(value)):
        return f"{today - dt.timedelta(days=int(match[1]))}{match[2] or ''}"
    return value


def toml(name: str) -> Tree:
    """Read one of the files beside this module."""
    return tomllib.loads(files(__package__).joinpath(name).read_text(encoding="utf-8"))
