"""A document's fields by path, read off its Struct, and the check that every door makes.

One walk over the types gives the catalog (units, bounds, descriptions); `check` holds a whole tree against it and
reports every fault at once, each with path, value, bound and unit. The document is a setup unless `of` says otherwise.
"""

import datetime as dt
import difflib
import functools
import types
from collections.abc import Iterator
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

import msgspec
from msgspec import UNSET, Meta, UnsetType

from studbook.history.canonical import Tree
from studbook.history.changes import FieldChange
from studbook.history.leaves import Path, dotted, is_number, leaves
from studbook.wire.entries import LeafChange, Unusual
from studbook.wire.problem import FieldFault
from studbook.wire.setup import Setup

ANY = "*"
"""Stands in a path for a name the team chose, such as a rod's or a ballast item's."""

HINTS_MOST = 50
"""So many unknown names get the nearest known one, which takes some milliseconds each to find."""


class Field(msgspec.Struct, frozen=True, kw_only=True):
    """One known leaf of a document.

    Attributes:
        path: steps; `*` stands for a name of the team's choosing.
        form: the annotated type a value must fit.
        unit: unit symbol, or empty for text, choices and flags.
        about: one sentence.
    """

    path: Path
    form: Any
    unit: str
    about: str


@functools.cache
def catalog(of: type = Setup) -> dict[Path, Field]:
    """Give every known leaf by its path, in the document's order.

    Example:
        >>> catalog()[("setup", "front", "rf", "spring", "rate_lb_per_in")].unit
        'lb_per_in'
    """
    return {field.path: field for field in _fields(of, ())}


@functools.lru_cache(maxsize=8192)
def field(path: Path, of: type = Setup) -> Field | None:
    """Find the known leaf at a path, with the team's own names in it, or None.

    Example:
        >>> field(("setup", "ballast", "left_rail", "weight_lb")).path[2]
        '*'
    """
    known = catalog(of)
    if len(path) > _deepest(of):
        return None
    return known.get(path) or next((known[tried] for tried in _generic(path) if tried in known), None)


_OTHER_WORDS = {"upright": "spindle", "bump": "compression", "jounce": "compression"}
"""What else people call a step of a path: spelling alone would take bump for rebound."""


def nearest(path: Path, of: type = Setup) -> str | None:
    """Suggest the known path that an unknown one resembles.

    Example:
        >>> nearest(("setup", "front", "rf", "spring", "rate"))
        'setup.front.rf.spring.rate_lb_per_in'
        >>> nearest(("setup", "front", "rf", "shock", "bump", "clicks"))
        'setup.front.rf.shock.compression.clicks'
    """
    path = tuple(_OTHER_WORDS.get(step, step) for step in path)
    wanted = dotted(path)
    if field(path, of) is not None:
        return wanted
    siblings = [dotted(p) for p in catalog(of) if p[: len(path) - 1] == path[:-1]]
    everything = siblings or [dotted(p) for p in catalog(of)]
    close = [name for name in everything if name.startswith(wanted)] or difflib.get_close_matches(
        wanted, everything, n=1, cutoff=0.6
    )
    return close[0] if close else None


def unit_of(path: Path, of: type = Setup) -> str:
    """Give the unit of a path, or an empty string where it has none or is not known."""
    known = field(path, of)
    return known.unit if known else ""


def fits(path: Path, value: Any, of: type = Setup) -> list[FieldFault]:
    """Check one leaf against the field at its path; an unknown path fits (see `unknown`).

    Example:
        >>> fits(("measured", "scales", "lf_lb"), 5900)[0].detail
        'measured.scales.lf_lb: 5900 lb is above the most accepted, 1500 lb'
    """
    known = field(path, of)
    if known is not None:
        return _faults(known.form, value, path, known.unit)
    if path in _groups(of):
        return [FieldFault(path=dotted(path), detail=f"{dotted(path)}: is a group of fields, not a value")]
    return []


def misfit(form: Any, path: Path, value: Any) -> FieldFault | None:
    """Explain why a member of a request does not fit its Struct, with value, bound and unit.

    Args:
        form: the request's Struct.
        path: steps to the member, array places among them.
        value: what was sent there.

    Returns:
        The fault, or None where the decoder's message is as good.

    Example:
        >>> from studbook.wire.answers import Travels
        >>> misfit(Travels, ("low_in",), -99.0).detail
        'low_in: -99 in is below the least accepted, -8 in'
    """
    here = form
    for step in path:
        bare = bare_type(_present(here))
        if isinstance(bare, type) and issubclass(bare, msgspec.Struct):
            here = get_type_hints(bare, include_extras=True).get(step)
        elif get_origin(bare) is list and step.isdecimal():
            here = get_args(bare)[0]
        else:
            return None
        if here is None:
            return None
    form = _present(here)
    if isinstance(bare_type(form), type) and issubclass(bare_type(form), msgspec.Struct):
        return None
    return next(iter(_faults(form, value, path, "")), None)


def check(tree: Tree, of: type = Setup) -> list[FieldFault]:
    """Check a whole document: types, bounds, lengths.

    Args:
        tree: a canonical document.
        of: its Struct.

    Returns:
        Every fault; an empty list when all is well.

    Example:
        >>> check({"setup": {"cg": {"height_in": 3}}})[0].least
        10
    """
    try:
        msgspec.convert(tree, of, strict=True)
    except msgspec.ValidationError:
        return [fault for path, value in leaves(tree).items() for fault in fits(path, value, of)]
    return []


def unknown(tree: Tree, *, known: Tree | None = None, of: type = Setup) -> list[FieldFault]:
    """List leaves at paths that neither the schema nor the document `known` has, the first with the nearest name.

    Example:
        >>> unknown({"setup": {"cg": {"hieght_in": 18}}})[0].nearest
        'setup.cg.height_in'
    """
    kept = leaves(known or {})
    found: list[FieldFault] = []
    for path, value in leaves(tree).items():
        if field(path, of) is None and path not in kept and path not in _groups(of):
            near = nearest(path, of) if len(found) < HINTS_MOST else None
            hint = f"; the nearest known is {near}" if near else ""
            detail = f"{dotted(path)}: no such field{hint}"
            found.append(FieldFault(path=dotted(path), detail=detail, value=_short(value), nearest=near or UNSET))
    return found


def unusual(tree: Tree, of: type = Setup) -> list[Unusual]:
    """List numbers that are within bounds but outside their usual range (common practice, no source).

    Example:
        >>> unusual({"measured": {"front": {"rf": {"lower_joint": {"running_in_lb": 90}}}}})[0].usual
        [0, 60]
    """
    found = []
    for path, value in leaves(tree).items():
        known = field(path, of)
        usual = _schema(_metas(known.form)).get("usual") if known else None
        if known and usual and isinstance(value, int | float) and not usual[0] <= value <= usual[1]:
            found.append(Unusual(path=dotted(path), value=value, usual=usual, unit=known.unit))
    return found


def schema_of(hint: Any) -> dict[str, Any]:
    """Give what an annotated type adds to the schema (unit, usual range), whether the field is optional or not.

    Example:
        >>> from studbook.wire.answers import Inches
        >>> schema_of(Inches)["unit"]
        'in'
    """
    return _schema(_metas(_present(hint)))


def bare_type(form: Any) -> Any:
    """Give a field's type without its unit and bounds.

    Example:
        >>> bare_type(catalog()[("setup", "front", "rf", "spring", "rate_lb_per_in")].form)
        <class 'float'>
    """
    return get_args(form)[0] if get_origin(form) is Annotated else form


def bounds(form: Any) -> tuple[float | None, float | None]:
    """Give the least and the most that a number, or each of an array, may be; None where nothing bounds it.

    Example:
        >>> bounds(catalog()[("measured", "scales", "lf_lb")].form)
        (150, 1500)
    """
    bare = bare_type(form)
    metas = _metas(get_args(bare)[0] if get_origin(bare) in (list, tuple) else form)
    least = next((meta.ge for meta in metas if meta.ge is not None), None)
    return least, next((meta.le for meta in metas if meta.le is not None), None)


def leaf_change(change: FieldChange) -> LeafChange:
    """Give a differing leaf of a setup with its unit.

    Example:
        >>> leaf_change(FieldChange(("setup", "front", "rf", "spring", "rate_lb_per_in"), 350, 375)).unit
        'lb_per_in'
    """
    unit = unit_of(change.path) or UNSET
    return LeafChange(path=dotted(change.path), before=change.before, after=change.after, unit=unit)


@functools.cache
def _groups(of: type) -> frozenset[Path]:
    return frozenset(path[:length] for path in catalog(of) for length in range(len(path) + 1))


@functools.cache
def _deepest(of: type) -> int:
    return max(map(len, catalog(of)))


def _fields(struct: type, path: Path) -> Iterator[Field]:
    for name, hint in get_type_hints(struct, include_extras=True).items():
        form = _present(hint)
        here = (*path, name)
        if isinstance(form, type) and issubclass(form, msgspec.Struct):
            yield from _fields(form, here)
        elif get_origin(form) is dict:
            yield from _fields(get_args(form)[1], (*here, ANY))
        else:
            metas = _metas(form)
            about = next((meta.description for meta in metas if meta.description), "")
            yield Field(path=here, form=form, unit=_schema(metas).get("unit", ""), about=about)


def _present(hint: Any) -> Any:
    """Take the absent case off an optional field's type."""
    if get_origin(hint) in (Union, types.UnionType):
        kept = [each for each in get_args(hint) if each is not UnsetType]
        return kept[0]
    return hint


def _metas(form: Any) -> list[Meta]:
    return [meta for meta in get_args(form)[1:] if isinstance(meta, Meta)] if get_origin(form) is Annotated else []


def _schema(metas: list[Meta]) -> dict[str, Any]:
    merged: dict[str, Any] = {}
    for meta in metas:
        merged |= meta.extra_json_schema or {}
    return merged


def _generic(path: Path) -> Iterator[Path]:
    for place in range(len(path)):
        yield (*path[:place], ANY, *path[place + 1 :])


def _faults(form: Any, value: Any, path: Path, unit: str) -> list[FieldFault]:
    """Check a value against an annotated type, element by element in arrays, so that each fault has its own bound."""
    bare, metas = bare_type(form), _metas(form)
    unit = _schema(metas).get("unit", unit)
    name = dotted(path)
    if get_origin(bare) in (list, tuple):
        return _array_faults(bare, metas, value, path, unit)
    if isinstance(value, dict):
        return [FieldFault(path=name, detail=f"{name}: is a value, not a group of fields")]
    try:
        msgspec.convert(value, form, strict=True)
    except msgspec.ValidationError as error:
        return [_fault(form, value, name, unit, str(error))]
    return []


def _array_faults(bare: Any, metas: list[Meta], value: Any, path: Path, unit: str) -> list[FieldFault]:
    name = dotted(path)
    if not isinstance(value, list):
        return [FieldFault(path=name, detail=f"{name}: {_short(value)!r} is not an array", value=_short(value))]
    parts = get_args(bare)
    fixed = get_origin(bare) is tuple
    least = len(parts) if fixed else max((meta.min_length or 0 for meta in metas), default=0)
    most = len(parts) if fixed else min((meta.max_length for meta in metas if meta.max_length), default=None)
    if len(value) < least or (most is not None and len(value) > most):
        wanted = f"exactly {least}" if least == most else f"at most {most}" if most else f"at least {least}"
        detail = f"{name}: has {len(value)} elements, {wanted} are wanted"
        return [FieldFault(path=name, detail=detail, value=_short(value))]
    forms = parts if fixed else parts * len(value)
    return [
        fault
        for place, (form, item) in enumerate(zip(forms, value, strict=True))
        for fault in _faults(form, item, (*path, str(place)), unit)
    ]


def _fault(form: Any, value: Any, name: str, unit: str, otherwise: str) -> FieldFault:
    bare, (least, most) = bare_type(form), bounds(form)
    suffix = f" {unit}" if unit and unit not in {"count", "ratio"} else ""
    number = is_number(value)
    if number and least is not None and value < least:
        reason = f"{value:g}{suffix} is below the least accepted, {least:g}{suffix}"
    elif number and most is not None and value > most:
        reason = f"{value:g}{suffix} is above the most accepted, {most:g}{suffix}"
    elif bare is int:
        reason = f"{_short(value)!r} is not a whole number{f' ({unit})' if suffix else ''}"
    elif bare is float:
        reason = f"{_short(value)!r} is not a number{f' ({unit})' if unit else ''}"
    elif get_origin(bare) is Literal:
        reason = f"{_short(value)!r} is none of {', '.join(map(str, get_args(bare)))}"
    elif bare is bool:
        reason = f"{_short(value)!r} is neither true nor false"
    elif bare is dt.datetime:
        reason = f"{_short(value)!r} is no timestamp with its offset, such as 2026-11-25T18:30:00Z"
    elif isinstance(value, str) and (unfit := _unfit_text(value, _metas(form))):
        reason = unfit
    else:
        reason = f"{_short(value)!r}: {otherwise}"
    return FieldFault(
        path=name,
        detail=f"{name}: {reason}",
        value=_short(value),
        least=UNSET if least is None else least,
        most=UNSET if most is None else most,
        unit=unit or UNSET,
    )


def _unfit_text(value: str, metas: list[Meta]) -> str | None:
    """Describe what a text of the wrong length or form should have been."""
    longest = next((meta.max_length for meta in metas if meta.max_length is not None), None)
    if longest is not None and len(value) > longest:
        return f"has {len(value)} characters, at most {longest} are read"
    form = next((meta.description for meta in metas if meta.pattern and meta.description), None)
    return f"{_short(value)!r} is not {form}" if form else None


def _short(value: Any) -> Any:
    """Keep an error message short whatever was sent."""
    if isinstance(value, str):
        return value if len(value) <= 60 else value[:57] + "..."
    if isinstance(value, list | dict):
        text = str(value)
        return text if len(text) <= 60 else text[:57] + "..."
    return value
