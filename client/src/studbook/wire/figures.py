"""Answers as flat lists of figures with units, so that any two of them can be compared line by line."""

import functools
from typing import Any, get_type_hints

import msgspec
from msgspec import UNSET

from studbook.history.leaves import is_number
from studbook.wire.entries import Answer
from studbook.wire.fields import schema_of
from studbook.wire.units import Opt


class Figure(Answer):
    """One number of an answer, before a change and after it; a side without it is absent.

    Attributes:
        name: where it stands in the subject's answer, dotted.
        unit: its unit; `difference` is after less before.
    """

    name: str
    unit: str
    before: Opt[float] = UNSET
    after: Opt[float] = UNSET
    difference: Opt[float] = UNSET


class SubjectEffect(Answer):
    """What a change does to one subject (rear, loads, joints, …): every figure that it moves.

    Attributes:
        unmoved: how many figures stay as they were.
    """

    subject: str
    figures: list[Figure]
    unmoved: int


def numbers(answer: Any) -> dict[str, tuple[float, str]]:
    """List the single numbers of an answer by dotted name, each with its unit; curves and tables are left out.

    Example:
        >>> from studbook.wire.answers import TurnToe
        >>> numbers(TurnToe(turn_deg=10.0, toe_out_deg=0.5, toe_out_in=0.2))["toe_out_deg"]
        (0.5, 'deg')
    """
    found: dict[str, tuple[float, str]] = {}
    kind: Any = type(answer)
    for name, unit in _units(kind).items():
        value = getattr(answer, name)
        if isinstance(value, msgspec.Struct):
            found |= {f"{name}.{inner}": figure for inner, figure in numbers(value).items()}
        elif isinstance(value, dict):
            for key, item in value.items():
                if isinstance(item, msgspec.Struct):
                    found |= {f"{name}.{key}.{inner}": figure for inner, figure in numbers(item).items()}
        elif unit and is_number(value):
            found[name] = (value, unit)
    return found


def compare(subject: str, before: Any, after: Any, *, noticed: float = 5e-7) -> SubjectEffect:
    """Compare two answers about one subject.

    Args:
        subject: its name.
        before: the answer before the change.
        after: the answer after it.
        noticed: differences below this are none.

    Example:
        >>> from studbook.wire.answers import TurnToe
        >>> one, two = (TurnToe(turn_deg=10.0, toe_out_deg=x, toe_out_in=0.2) for x in (0.5, 0.75))
        >>> [(f.name, f.difference) for f in compare("steer", one, two).figures]
        [('toe_out_deg', 0.25)]
    """
    old, new = numbers(before), numbers(after)
    figures, unmoved = [], 0
    for name in dict.fromkeys([*old, *new]):
        unit = (old.get(name) or new[name])[1]
        if name in old and name in new:
            difference = round(new[name][0] - old[name][0], 6)
            if abs(difference) <= noticed:
                unmoved += 1
                continue
            figures.append(Figure(name=name, unit=unit, before=old[name][0], after=new[name][0], difference=difference))
        elif name in old:
            figures.append(Figure(name=name, unit=unit, before=old[name][0]))
        else:
            figures.append(Figure(name=name, unit=unit, after=new[name][0]))
    return SubjectEffect(subject=subject, figures=figures, unmoved=unmoved)


@functools.cache
def _units(answer: type) -> dict[str, str]:
    """Give every field of an answer's Struct with its unit, an empty one where it has none."""
    hints = get_type_hints(answer, include_extras=True)
    return {name: str(schema_of(hint).get("unit", "")) for name, hint in hints.items()}
