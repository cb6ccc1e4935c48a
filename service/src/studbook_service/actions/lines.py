"""Names in the book: a car's line, its sheets' lines, and revisions by id or the beginning of one.

Tips that hold one document are one, wherever a line is read: two laptops entered the same. Nothing is recorded for it,
and the exchange knows nothing of it. The first by id stands, as the first parent does in an accepted merge, so it is
the same on every node; in tables the others are not current. A change follows all of them. It is made in the state that
names all or one of them (`If-Match`), since whoever saw one saw what stands.
"""

import re
from collections.abc import Collection, Iterable
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple, TypeVar
from uuid import UUID

from studbook.history.canonical import SLUG
from studbook_service.actions.context import Context
from studbook_service.actions.refusals import Refusal
from studbook_service.store import EntryHead, StoredEntry

E = TypeVar("E", bound=EntryHead)

_REFERENCE = re.compile(r"[0-9a-f]{6,64}")
FULL_ID_DIGITS = 64


class LinePlace(NamedTuple):
    """The car and sheet that a line belongs to; a car's own line has no sheet."""

    car: str
    sheet: str | None


def car_line(car: str) -> str:
    """Name a car's line.

    Raises:
        Refusal: `bad_reference`, that can be no car's name.

    Example:
        >>> car_line("7")
        'car/7'
    """
    return f"car/{_slug('car', car)}"


def sheet_line(car: str, sheet: str) -> str:
    """Name a sheet's line.

    Raises:
        Refusal: `bad_reference`, that can be no car's or sheet's name.

    Example:
        >>> sheet_line("7", "baseline")
        'car/7/sheet/baseline'
    """
    return f"{car_line(car)}/sheet/{_slug('sheet', sheet)}"


def place(line: str) -> LinePlace:
    """Read a line's name; one that is no car's has an empty one.

    Example:
        >>> place("car/7/sheet/baseline")
        LinePlace(car='7', sheet='baseline')
    """
    match line.split("/"):
        case ["car", car, "sheet", sheet]:
            return LinePlace(car, sheet)
        case ["car", car, *_]:
            return LinePlace(car, None)
        case _:
            return LinePlace("", None)


def by_line(tips: Iterable[E]) -> list[list[E]]:
    """Put the tips of each line together; they come in the order of their lines."""
    return [list(of_one) for _, of_one in groupby(tips, key=attrgetter("line"))]


def agreed(tips: Collection[StoredEntry]) -> bool:
    """Say whether a line's tips hold one document, so that nothing is to be settled: it was entered alike twice.

    The first by id stands for all then, on every node. What was erased agrees with nothing.
    """
    bodies = {tip.body for tip in tips}
    return len(tips) == 1 or (len(bodies) == 1 and b"" not in bodies)


async def resolve(context: Context, team: UUID, reference: str) -> bytes:
    """Find the one entry id that a reference stands for; a full id is not looked up.

    Raises:
        Refusal: `bad_reference`, `not_found`, or `ambiguous` with the candidates.
    """
    if not _REFERENCE.fullmatch(reference):
        raise Refusal("bad_reference", f"{reference[:80]!r} is not 6 to 64 of 0-9, a-f")
    if len(reference) == FULL_ID_DIGITS:
        return bytes.fromhex(reference)
    found = await context.book.find(team, reference)
    if len(found) > 1:
        raise Refusal(
            "ambiguous", f"{len(found)} or more begin with {reference}", candidates=[id_.hex() for id_ in found]
        )
    if not found:
        raise Refusal("not_found", f"no revision begins with {reference}")
    return found[0]


def _slug(what: str, name: str) -> str:
    if not SLUG.fullmatch(name):
        raise Refusal("bad_reference", f"{name[:80]!r} is no {what}: 1 to 48 of a-z, 0-9, _ and -")
    return name
