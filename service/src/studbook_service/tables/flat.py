"""A document as cells: the catalog of its fields gives the columns, what they cannot hold goes into one more.

Columns are the same for every team and every export: names that the team chose (rods, ballast) are one column of JSON.
Documents are laid out from their bytes, group by group: equal groups have equal bytes, and those of one page are laid
out once, as most of two setups of a car is equal. Nothing is kept over pages, so no erased group is. A row stays in
these groups until it is written, so memory is bounded by one page.
"""

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple, get_args, get_origin

import msgspec

from studbook.history.canonical import Tree, encode
from studbook.history.encoded import parts
from studbook.history.leaves import Path, at, dotted
from studbook.wire.export import Column, ColumnType, Parts, Row
from studbook.wire.fields import ANY, Field, bare_type, catalog

OTHER: Final = "other"

Spell = Callable[[Any], Any]
_UNFIT: Final = object()
_NOWHERE: Final[tuple[str, Spell]] = ("", lambda _: _UNFIT)


@dataclass(eq=False, slots=True)
class ColumnTree:
    """The columns by the steps of their paths: each with its name and how its cells are spelled, or a group of them."""

    places: dict[str, "ColumnTree | tuple[str, Spell]"] = field(default_factory=dict)


@dataclass(slots=True)
class LayoutCache:
    """Groups of fields that were laid out, of entries that are read at once.

    Attributes:
        groups: by their bytes: the cells, and what no column takes.
        paths: of readings, by kind of record: the cells that name what was read.
    """

    groups: dict[tuple[ColumnTree, bytes], tuple[Parts, Tree]] = field(default_factory=dict)
    paths: dict[tuple[str, Path], Row] = field(default_factory=dict)


class DocumentLayout(NamedTuple):
    """How the documents of one kind are laid out.

    Attributes:
        columns: in the order of the catalog, `other` last.
        tree: the columns but `other`.
    """

    columns: list[Column]
    tree: ColumnTree


@functools.cache
def layout_of(body: type[msgspec.Struct]) -> DocumentLayout:
    """Lay out the documents of a Struct.

    A group whose names the team chose, such as the ballast, is one column of JSON.

    Example:
        >>> from studbook.wire.setup import Setup
        >>> [each.name for each in layout_of(Setup).columns if each.type == "json"][:1]
        ['survey.front.lf.upper_stud.axis_points_in']
    """
    columns: dict[Path, Column] = {}
    for path, each in catalog(body).items():
        if ANY in path:
            group = path[: path.index(ANY)]
            columns.setdefault(group, Column(name=dotted(group), type="json", about="by the team's own names"))
        else:
            columns[path] = _column(path, each)
    tree = ColumnTree()
    for path, column in columns.items():
        here: Any = tree
        for step in path[:-1]:
            here = here.places.setdefault(step, ColumnTree())
        here.places[path[-1]] = (column.name, _SPELL[column.type])
    other = Column(name=OTHER, type="json", about="fields that have no column, or hold what theirs does not take")
    return DocumentLayout([*columns.values(), other], tree)


def flatten(body: bytes, layout: DocumentLayout, cache: LayoutCache) -> Parts:
    """Lay out one document; empty text is left out.

    Args:
        body: canonical JSON.
        layout: how documents of its kind are laid out.
        cache: groups that were laid out before; it gains those of this document.

    Example:
        >>> from studbook.wire.night import Event
        >>> flatten(b'{"length_mi":0.5,"ours":{"a":1},"surface":"dirt"}', layout_of(Event), LayoutCache())
        [{'length_mi': 0.5, 'surface': 'dirt'}, {'other': '{"ours":{"a":1}}'}]
    """
    found, other = _laid_out(body, layout.tree, cache)
    return [*found, {OTHER: json_text(other)}] if other else found


def json_text(value: Any) -> str:
    """Write a value as canonical JSON."""
    return encode(value).decode()


def numbers_at(tree: Tree, path: Path) -> list[float]:
    """Give the array of numbers at a path; an empty one where there is none."""
    found = at(tree, path)
    return found if _fits_numbers(found) else []


def fits_number(value: Any) -> bool:
    """Say whether a value is one number: true and false are none.

    Example:
        >>> fits_number(1), fits_number(True)
        (True, False)
    """
    return type(value) in (int, float)


def _laid_out(group: bytes, tree: ColumnTree, cache: LayoutCache) -> tuple[Parts, Tree]:
    """Lay out a group of fields, and give the rest of it."""
    row: Row = {}
    found: list[Row] = []
    other: Tree = {}
    for key, part in parts(group).items():
        place = tree.places.get(key)
        if isinstance(place, ColumnTree) and part.startswith(b"{"):
            if (place, part) not in cache.groups:
                cache.groups[place, part] = _laid_out(part, place, cache)
            inner, rest = cache.groups[place, part]
            found += inner
            if rest:
                other[key] = rest
            continue
        value = _value.decode(part)
        name, spell = place if isinstance(place, tuple) else _NOWHERE
        cell = spell(value)
        if cell is _UNFIT:
            other[key] = value
        elif cell != "":
            row[name] = cell
    return [row, *found] if row else found, other


def _column(path: Path, field: Field) -> Column:
    unit: Mapping[str, str] = {"unit": field.unit} if field.unit else {}
    return Column(name=dotted(path), type=_type(field.form), about=field.about, **unit)


def _type(form: Any) -> ColumnType:
    bare = bare_type(form)
    if bare is bool:
        return "flag"
    if bare is int:
        return "integer"
    if bare is float:
        return "number"
    if get_origin(bare) in (list, tuple):
        return "numbers" if {bare_type(each) for each in get_args(bare)} <= {int, float} else "json"
    return "text"


def _fits_numbers(value: Any) -> bool:
    return type(value) is list and all(map(fits_number, value))


_value: Final = msgspec.json.Decoder()
_SPELL: Final[Mapping[ColumnType, Spell]] = {
    "text": lambda value: value if type(value) is str else _UNFIT,
    "number": lambda value: value if fits_number(value) else _UNFIT,
    "integer": lambda value: value if type(value) is int else _UNFIT,
    "flag": lambda value: value if type(value) is bool else _UNFIT,
    "numbers": lambda value: value if _fits_numbers(value) else _UNFIT,
    "json": json_text,
}
