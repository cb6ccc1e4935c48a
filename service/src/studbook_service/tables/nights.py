"""Tables of the records besides setups: one for each kind of record, and their arrays in long form."""

from collections.abc import Iterable, Iterator
from functools import partial
from typing import Any, Final

from studbook.history.canonical import Tree
from studbook.history.leaves import Path, dotted, leaves
from studbook.wire.export import Column, Parts, Row
from studbook.wire.fields import unit_of
from studbook.wire.records import KINDS, RecordKind, record_name
from studbook_service.night.facts import group, number, text
from studbook_service.tables.definition import TableDefinition, TableEntry, filled, texts
from studbook_service.tables.flat import fits_number, flatten, json_text, layout_of, numbers_at

_CORNERS: Final = ("lf", "rf", "lr", "rr")
_ACROSS: Final = ("inside", "middle", "outside")
_READ: Final = {
    "outing": ("tires", "stagger", "shock_travel", "weather", "fuel_burned_lb"),
    "scale_session": ("readings_lb",),
    "check": ("measured",),
}
"""The kinds of record that hold readings, and under which of their fields."""


def steps_of(kind: RecordKind, line: str) -> Row:
    """Read what a record's line names; nothing where it is no name of the kind."""
    name = record_name(line)
    return dict(kind.parts(name)) if kind.form.fullmatch(name) else {}


def _records(kind: RecordKind, each: TableEntry) -> Iterable[Parts]:
    row = steps_of(kind, each.entry.line)
    if kind.name == "outing" and (times := numbers_at(each.tree, ("lap_times_s",))):
        row["best_lap_s"] = min(times)
    yield row, *flatten(each.entry.body, layout_of(kind.body), each.cache)


def _laps(each: TableEntry) -> Iterator[Parts]:
    head = steps_of(KINDS["outing"], each.entry.line) | _named(each.tree, "revision")
    for lap, time in enumerate(numbers_at(each.tree, ("lap_times_s",)), start=1):
        yield head, {"lap": lap, "time_s": time}


def _readings(each: TableEntry) -> Iterator[Parts]:
    kind = KINDS[each.entry.kind]
    at = next(iter(_named(each.tree, "started_at", "at").values()), "")
    head = filled(kind=kind.name, **steps_of(kind, each.entry.line), **_named(each.tree, "revision"), at=at)
    held = {name: each.tree[name] for name in _READ[kind.name] if name in each.tree}
    for path, value in leaves(held).items():
        if (kind.name, path) not in each.cache.paths:
            each.cache.paths[kind.name, path] = _reading_cells(kind, path)
        what = each.cache.paths[kind.name, path]
        if path == ("readings_lb",):
            yield from ((head, what, row) for row in _weighings(value))
            continue
        values = [value] if fits_number(value) else value if isinstance(value, list) else []
        for place, read in enumerate(values):
            if fits_number(read):
                row = {"number": place + 1, "value": read}
                if what["quantity"] == "tires.temps_deg_f" and place < len(_ACROSS):
                    row["across"] = _ACROSS[place]
                yield head, what, row


def _reading_cells(kind: RecordKind, path: Path) -> Row:
    """Name what is read at a path."""
    corner, quantity = _corner(path)
    return filled(path=dotted(path), quantity=quantity, unit=unit_of(path, kind.body), corner=corner)


def _weighings(sessions: Any) -> Iterator[Row]:
    for place, pads in enumerate(sessions if isinstance(sessions, list) else [], start=1):
        for corner, value in zip(_CORNERS, pads if isinstance(pads, list) else [], strict=False):
            if fits_number(value):
                yield {"corner": corner, "number": place, "value": value}


def _jobs(each: TableEntry) -> Iterator[Parts]:
    head = steps_of(KINDS["work"], each.entry.line) | _named(each.tree, "since", "revision")
    for job, tick in group(each.tree, "done").items():
        if isinstance(tick, dict):
            row: Row = {"job": job} | _named(tick, "at", "by", "notes") | _inspected(group(tick, "inspected"))
            yield head, row | ({"measured": json_text(tick["measured"])} if "measured" in tick else {})


def _inspected(found: Tree) -> Row:
    """Give what the inspection of a corner found as cells."""
    straight = found.get("straight")
    cells = filled(straight=straight if isinstance(straight, bool) else None, bent_by_in=number(found, "bent_by_in"))
    return cells | _named(found, "method", "signed_by")


def _named(tree: Tree, *fields: str) -> Row:
    """Give fields of text as cells, where there are any."""
    return {field: value for field in fields if (value := text(tree, field))}


def _corner(path: Path) -> tuple[str | None, str]:
    """Give the corner in a path, as a step or as the beginning of the last one, and the path without it.

    Example:
        >>> _corner(("tires", "lf", "temps_deg_f")), _corner(("shock_travel", "lf_in"))
        (('lf', 'tires.temps_deg_f'), ('lf', 'shock_travel.in'))
    """
    corner = next((step for step in path if step in _CORNERS), None)
    if corner is not None:
        return corner, dotted(tuple(step for step in path if step != corner))
    begun, _, rest = path[-1].partition("_")
    return (begun, dotted((*path[:-1], rest))) if begun in _CORNERS else (None, dotted(path))


def _shape(kind: RecordKind) -> TableDefinition:
    """Lay out one kind of record."""
    own = [*(Column(name=step, type="text", about="of its name") for step in kind.steps), *layout_of(kind.body).columns]
    if kind.name == "outing":
        own.append(Column(name="best_lap_s", type="number", unit="s", about="the least of `lap_times_s`"))
    about, rows = f"{kind.many.replace('_', ' ')}: each entry about one", partial(_records, kind)
    return TableDefinition(name=kind.many, about=about, kinds=(kind.name,), own=tuple(own), rows=rows)


_OUTING: Final = (
    *texts("event", "car", "run"),
    Column(name="revision", type="text", about="the setup as raced"),
)

NIGHTS: Final = (
    *map(_shape, KINDS.values()),
    TableDefinition(
        name="laps",
        about="each lap of each outing",
        kinds=("outing",),
        own=(
            *_OUTING,
            Column(name="lap", type="integer", about="from 1"),
            Column(name="time_s", type="number", unit="s"),
        ),
        rows=_laps,
        key=("lap",),
    ),
    TableDefinition(
        name="readings",
        about="every number that was read: tires, stagger, travels and weather of outings, scales, as-returned checks",
        kinds=tuple(_READ),
        own=(
            Column(name="kind", type="text", about="of the record"),
            *_OUTING,
            Column(name="session", type="text", about="of a scale session's name"),
            Column(name="check", type="text", about="of a check's name"),
            Column(name="at", type="text", about="when, as the record says"),
            Column(name="path", type="text", about="in the record"),
            Column(name="quantity", type="text", about="the path without the corner"),
            Column(name="unit", type="text"),
            Column(name="corner", type="text", about="lf, rf, lr or rr"),
            Column(name="across", type="text", about="inside, middle or outside of a tire's tread"),
            Column(name="number", type="integer", about="which of several, from 1"),
            Column(name="value", type="number", about="in `unit`"),
        ),
        rows=_readings,
        key=("path", "corner", "number"),
    ),
    TableDefinition(
        name="jobs_done",
        about="jobs of work cards that were ticked off",
        kinds=("work",),
        own=(
            *texts("car", "card"),
            Column(name="since", type="text", about="the revision the card leads from"),
            Column(name="revision", type="text", about="the one it leads to"),
            *texts("job", "at", "by"),
            Column(name="measured", type="json", about="assignments of what was really read and set"),
            Column(name="straight", type="flag", about="what the inspection of a corner found"),
            Column(name="bent_by_in", type="number", unit="in"),
            *texts("method", "signed_by", "notes"),
        ),
        rows=_jobs,
        key=("job",),
    ),
)
