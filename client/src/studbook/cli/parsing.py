"""Changes and readings as people type them: `rf.upper_stud.length_in+=0.5`, `notes=tacky`, `590,503,718,629`."""

import re
from collections.abc import Iterable, Sequence
from typing import Any, Final

from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import Trial
from studbook.cli.printing import leaf, with_unit
from studbook.core.pulled import Pulled
from studbook.formats.cells import NotThisError, from_cell, kind_of
from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange
from studbook.history.leaves import Path, at, dotted, is_number, leaves, steps
from studbook.wire.fields import ANY, Field, catalog, field, nearest, unit_of
from studbook.wire.setup import Setup

_FORM: Final = re.compile(r"(?P<path>[a-z0-9_.-]*[a-z0-9_])(?P<how>\+=|-=|=)(?P<value>.*)", re.DOTALL)
_NUMBERS: Final = re.compile(r"\s*-?[\d.]+(\s*,\s*-?[\d.]+)*\s*")


def parse_changes(
    words: Iterable[str], *, remove: Sequence[str], document: Tree, allow_unknown: bool, of: type = Setup
) -> list[FieldChange]:
    """Read the changes of a command line.

    A path may be its last few steps where just one field ends so. Fields of the survey are named in full: they say
    how the car sat when its points were measured, and a change of setup never changes them.

    Args:
        words: `path=value`, `path+=amount`, `path-=amount`.
        remove: paths to take away.
        document: what they are made on.
        allow_unknown: take a path that is not known as it stands.
        of: the document's Struct.

    Raises:
        CommandFailedError: with every word that cannot be read.

    Example:
        >>> parse_changes(["cg.height_in=17.5"], remove=[], document={}, allow_unknown=False)[0].path
        ('setup', 'cg', 'height_in')
    """
    found: dict[Path, FieldChange] = {}
    wrong = []
    for word, reading in [*((word, _assigned) for word in words), *((path, _removed) for path in remove)]:
        try:
            change = reading(word, document, allow_unknown, of)
        except NotThisError as error:
            wrong.append(f"{word}: {error}")
            continue
        if change.path in found:
            wrong.append(f"{word}: {dotted(change.path)} is given twice")
        found[change.path] = change
    if wrong:
        raise CommandFailedError("\n".join(wrong))
    return list(found.values())


def as_edits(changes: Iterable[FieldChange]) -> tuple[dict[str, Any], list[str]]:
    """Give changes as a request has them: values by their paths, and the paths that are taken away.

    Example:
        >>> as_edits([FieldChange(("notes",), after="tacky"), FieldChange(("own", "idea"), 3)])
        ({'notes': 'tacky'}, ['own.idea'])
    """
    edits = {dotted(each.path): each.after for each in changes if each.after is not UNSET}
    return edits, [dotted(each.path) for each in changes if each.after is UNSET]


def trial_of(
    book: Studbook, ref: str, words: Iterable[str], trial: Trial
) -> tuple[Pulled, list[FieldChange], dict[str, Any]]:
    """Pull a revision and read the changes to try on it.

    Returns:
        What was pulled, the changes, and the same as the client's methods take them.
    """
    pulled = book.pull(ref)
    document, unknown = pulled.document(), trial.allow_unknown
    changes = parse_changes(words, remove=trial.remove or [], document=document, allow_unknown=unknown)
    edits, removed = as_edits(changes)
    return pulled, changes, {"edits": edits, "remove": removed, "allow_unknown": unknown}


def change_text(change: FieldChange, of: type = Setup) -> str:
    """Describe a change with its full path.

    Example:
        >>> change_text(FieldChange(("setup", "cg", "height_in"), 17, 17.5))
        'setup.cg.height_in: 17 -> 17.5 in'
    """
    after = with_unit(change.after, unit_of(change.path, of))
    return f"{dotted(change.path)}: {leaf(change.before)} -> {after}"


def _assigned(word: str, document: Tree, allow_unknown: bool, of: type) -> FieldChange:  # noqa: FBT001 - one of two readings called alike
    form = _FORM.fullmatch(word)
    if form is None:
        raise NotThisError("write path=value, path+=amount or path-=amount")
    path = full_path(steps(form["path"]), document, allow_unknown=allow_unknown, of=of)
    before = at(document, path)
    known = field(path, of)
    value = from_cell(_bracketed(form["value"], known), known, path)
    if form["how"] != "=":
        value = _moved(before, value if form["how"] == "+=" else -_number(value), path)
    return FieldChange(path, UNSET if before is None else before, canonical(value))


def _bracketed(text: str, known: Field | None) -> str:
    """Make an array of numbers with commas between, as people type laps: `lap_times_s=16.8,16.7`."""
    return f"[{text}]" if kind_of(known) == "array" and _NUMBERS.fullmatch(text) else text


def _removed(word: str, document: Tree, allow_unknown: bool, of: type) -> FieldChange:  # noqa: FBT001, ARG001 - as above
    path = full_path(steps(word), document, allow_unknown=True, of=of)
    before = at(document, path)
    if before is None or isinstance(before, dict):
        raise NotThisError(f"there is no field {dotted(path)} to remove")
    return FieldChange(path, before)


def _moved(before: Any, amount: Any, path: Path) -> float:
    if before is None:
        raise NotThisError(f"{dotted(path)} has no value to add to; give it one with =")
    return _number(before) + _number(amount)


def _number(value: Any) -> float:
    if not is_number(value):
        raise NotThisError("only a number can be added to")
    return value


def full_path(tail: Path, document: Tree, *, allow_unknown: bool, of: type = Setup) -> Path:
    """Find the one path that ends so.

    Raises:
        NotThisError: none does, or several do.

    Example:
        >>> full_path(("cg", "height_in"), {}, allow_unknown=False)
        ('setup', 'cg', 'height_in')
    """
    own = [path for path in leaves(document) if path[0] != "survey"]
    if field(tail, of) or at(document, tail) is not None:
        return tail
    known = (_filled(pattern, tail) for pattern in catalog(of) if pattern[0] != "survey")
    ends = {path for path in [*known, *own] if path and path[-len(tail) :] == tail}
    if len(ends) == 1:
        return ends.pop()
    if ends:
        raise NotThisError(f"could be {', '.join(sorted(dotted(path) for path in ends)[:6])}: give more of the path")
    if allow_unknown:
        return tail
    near = nearest(tail, of)
    raise NotThisError("no such field" + (f"; the nearest known is {near}" if near else ": studbook fields lists all"))


def _filled(pattern: Path, tail: Path) -> Path | None:
    """Put the tail's own names into a pattern; the group that holds the name must be in the tail too."""
    start = len(pattern) - len(tail)
    if ANY not in pattern:
        return pattern
    if start < 0 or ANY in pattern[: start + 1]:
        return None
    filled = (*pattern[:start], *tail)
    return filled if all(wanted in (ANY, got) for wanted, got in zip(pattern, filled, strict=True)) else None


def parse_corner_weights(text: str) -> list[float]:
    """Read LF, RF, LR, RR.

    Raises:
        CommandFailedError: they are not four numbers.

    Example:
        >>> parse_corner_weights("590,503,718,629.5")
        [590.0, 503.0, 718.0, 629.5]
    """
    try:
        pads = [float(pad) for pad in text.split(",")]
    except ValueError:
        pads = []
    if len(pads) != 4:
        raise CommandFailedError(f"{text[:80]!r} is no reading: write LF,RF,LR,RR such as 590,503,718,629")
    return pads
