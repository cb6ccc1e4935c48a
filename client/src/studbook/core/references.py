"""How people name a revision: `7/baseline`, `7/baseline~2`, `3f9a1c`, `3f9a1c~1`."""

import re
from dataclasses import dataclass
from typing import Final

from studbook.core.errors import local
from studbook.history.canonical import SLUG

ID: Final = re.compile(r"[0-9a-f]{6,64}")
"""A revision's id, or the beginning of it."""


@dataclass(frozen=True, slots=True)
class SheetName:
    """A car's sheet.

    Example:
        >>> str(sheet_name("7/baseline"))
        '7/baseline'
    """

    car: str
    sheet: str

    def __str__(self) -> str:
        """Write it as it is addressed."""
        return f"{self.car}/{self.sheet}"


@dataclass(frozen=True, slots=True)
class Reference:
    """A revision, by the sheet whose tip it is or by its id, and so many first parents back."""

    named: SheetName | str
    back: int = 0


def reference(text: str) -> Reference:
    """Read a reference.

    Raises:
        BadReferenceError: it has none of the four forms.

    Example:
        >>> reference("3f9a1c~1")
        Reference(named='3f9a1c', back=1)
    """
    name, step, back = text.partition("~")
    if (step and not back.isdecimal()) or len(back) > 4:
        raise local("bad_reference", f"{text[:80]!r}: after ~ stands how many revisions back, such as ~1")
    if "/" in name:
        return Reference(sheet_name(name), int(back or 0))
    if not ID.fullmatch(name):
        raise local("bad_reference", f"{text[:80]!r} names no revision: write CAR/SHEET, or 6 or more digits of an id")
    return Reference(name, int(back or 0))


def sheet_name(text: str) -> SheetName:
    """Read `CAR/SHEET`.

    Raises:
        BadReferenceError: it is not two slugs joined by `/`.

    Example:
        >>> sheet_name("7/baseline").sheet
        'baseline'
    """
    car, _, sheet = text.partition("/")
    if not (SLUG.fullmatch(car) and SLUG.fullmatch(sheet)):
        raise local("bad_reference", f"{text[:80]!r} names no sheet: write CAR/SHEET, such as 7/baseline")
    return SheetName(car, sheet)
